"""Facts have no order: records and revisions in any order end in the same recall."""

import shutil
from itertools import permutations
from pathlib import Path

import pandas as pd
import pytest

from forestcycle.cycle import assess_city, open_city
from forestcycle.fieldwork.books import read_books
from tests.cli.commands import run
from tests.cli.small_city import SETTINGS, write_city
from tests.season.season import rows_of

TODAY, FROM = "2027-06-30", "2027-03-01"
HEADER = "tree_id,visited_on,crew,outcome,minutes,dose,defects_seen\n"
FACTS = {
    "first file": ("record", "a,2027-02-01,One,done,12,0.1,severe included bark\n"),
    "second file": (
        "record",
        "b,2027-02-02,One,partly done,9,0.05,\nc,2027-02-02,One,skipped,,,\n",
    ),
    "storm": ("revise", "--storm 2027-03-03 2027-03-05"),
}


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write_city(tmp_path_factory.mktemp("planned"))
    later = SETTINGS.replace("year_end = ", f"assessed_on = {FROM}\nyear_end = ")
    ended = run("plan", "cycle.toml", "--out", "plan", "--rounds", 1, "--quiet", cwd=folder)
    assert ended.code == 0, ended.said
    (folder / "cycle.toml").write_text(later)
    return folder


def tell(folder: Path, name: str) -> None:
    """Record a file or revise, as the fact is told."""
    command, what = FACTS[name]
    if command == "record":
        (folder / f"{name}.csv").write_text(HEADER + what)
        words = ("record", "cycle.toml", f"{name}.csv", "--plan", "plan", "--today", TODAY)
    else:
        words = ("revise", "cycle.toml", "--from", FROM, *what.split(), "--rounds", "1")
    ended = run(*words, "--quiet", cwd=folder)
    assert ended.code == 0, ended.said


@pytest.mark.slow
def test_any_order_of_the_same_facts_ends_in_the_same_recall(planned, tmp_path):
    seen = []
    for number, order in enumerate(permutations(FACTS)):
        folder = tmp_path / str(number)
        shutil.copytree(planned, folder)
        for name in order:
            tell(folder, name)
        books = read_books(folder / "trees_books.gpkg")
        visits = books.visits.drop(columns="change").sort_values("tree_id", ignore_index=True)
        defects = books.defects.drop(columns="change")
        trees = assess_city(open_city(folder / "cycle.toml")).trees
        lost = sorted(rows_of(folder / "plan" / "plan.gpkg", "lost_days", "crew, date, use"))
        seen.append((visits, defects, trees, pd.DataFrame(lost)))
    for told in seen[1:]:
        for one, first in zip(told, seen[0], strict=True):
            pd.testing.assert_frame_equal(one, first)
    visits, defects, trees, lost = seen[0]
    assert (len(visits), len(defects), len(lost)) == (3, 1, 3)
    assert trees["recall_state"].notna().all()
