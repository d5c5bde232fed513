"""A hundred spoilt files; ``python -m tests.fuzz`` spoils as many as asked for."""

from pathlib import Path

import pytest

from tests.fuzz.case import KINDS
from tests.fuzz.ground import Ground, make_ground
from tests.fuzz.guard import running_cells
from tests.fuzz.worker import run_cases

CASES, SEED = 120, 20_270_119


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Ground:
    return make_ground(tmp_path_factory.mktemp("sound"))


@pytest.mark.slow
def test_spoilt_files_end_in_a_line_and_harm_nothing(ground, tmp_path):
    results = list(run_cases(ground, tmp_path, SEED, range(CASES)))
    assert [result for result in results if result.faults] == []
    assert {result.kind for result in results} == set(KINDS)
    codes = [result.code for result in results]
    assert codes.count(0) > CASES / 5, "the files are not all beyond use"
    assert codes.count(2) > CASES / 5, "nor all as good as sound"


def test_the_guard_sees_a_cell_that_runs(tmp_path):
    path = tmp_path / "list.csv"
    for cell, runs in (("=1+1", True), ("-4.5", False), ("'=1+1", False), ("\t1", True)):
        path.write_text(f'a,"{cell}"\n')
        assert bool(running_cells(Path(path))) is runs
