"""A package of one's own brings practice tables and a candidate generator, without a fork."""

import json
from pathlib import Path

import pyogrio
import pytest

import sample_city
from forestcycle.errors import SettingsError
from forestcycle.practice.installed import tables_folder
from forestcycle.schedule.verify import verify
from tests.cli.commands import run
from tests.conftest import ROOT

ENTRY_POINTS = """
[forestcycle.practice_tables]
northern = northern_rules.tables
gone = northern_rules.nowhere

[forestcycle.candidates]
street_by_street = northern_rules.packing:street_by_street
broken = northern_rules.packing:no_such_name
"""
METADATA = "Metadata-Version: 2.1\nName: northern-rules\nVersion: 1.0\n"
PACKING = '''
"""Crew-days that walk one place after the other."""

from forestcycle.schedule import Column

asked = []


def street_by_street(problem, *, seed):
    asked.append(seed)
    for crew_day in range(problem.crew_days):
        for first in range(0, problem.trees, 7):
            yield Column(crew_day, tuple(range(first, min(first + 5, problem.trees))))
'''


@pytest.fixture
def northern(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small package as pip would lay it down."""
    site = tmp_path / "site"
    tables = site / "northern_rules" / "tables"
    tables.mkdir(parents=True)
    (site / "northern_rules" / "__init__.py").write_text("")
    (site / "northern_rules" / "packing.py").write_text(PACKING)
    (tables / "__init__.py").write_text("")
    shipped = ROOT / "forestcycle" / "practice" / "tables" / "usual_doses.csv"
    header, *rows = shipped.read_text(encoding="utf-8").splitlines()
    place = header.split(",").index("dose")
    lighter = [row.split(",", place + 1) for row in rows]
    lines = [header, *(",".join([*cells[:place], "0.01", cells[-1]]) for cells in lighter)]
    (tables / "usual_doses.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    info = site / "northern_rules-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(METADATA)
    (info / "entry_points.txt").write_text(ENTRY_POINTS)
    monkeypatch.syspath_prepend(site)
    return tables


@pytest.fixture
def city(tmp_path: Path) -> Path:
    sample_city.make(tmp_path / "city", trees=400, seed=4)
    return tmp_path / "city"


def set_key(city: Path, table: str, line: str) -> None:
    settings = city / "cycle.toml"
    text = settings.read_text(encoding="utf-8")
    header = f"[{table}]\n"
    if header in text:
        text = text.replace(header, f"{header}{line}\n")
    else:
        text += f"\n{header}{line}\n"
    settings.write_text(text, encoding="utf-8")


def usual_doses(city: Path) -> float:
    ended = run("assess", "cycle.toml", "--quiet", cwd=city)
    assert ended.code == 0, ended.said
    trees = pyogrio.read_dataframe(city / "assessment.gpkg", layer="trees", columns=["dose"])
    return float(trees["dose"].max())


def test_an_installed_set_of_tables_is_in_force_by_its_name(northern, city):
    before = usual_doses(city)
    set_key(city, "practice", 'tables = "northern"')
    assert usual_doses(city) < before / 2
    assert tables_folder("northern", city) == northern


def test_a_folder_beside_the_settings_goes_first(northern, city):
    (city / "northern").mkdir()
    assert tables_folder("northern", city) == city / "northern" != northern
    assert tables_folder(None, city) is None


@pytest.mark.usefixtures("northern")
def test_tables_that_are_nowhere(city):
    with pytest.raises(SettingsError, match="no such folder; installed sets: gone, northern"):
        tables_folder("southern", city)
    with pytest.raises(SettingsError, match="is not there"):
        tables_folder("gone", city)


@pytest.mark.usefixtures("northern")
def test_an_installed_generator_proposes_crew_days(city):
    set_key(city, "plan", 'candidates = ["street_by_street"]')
    words = ("plan", "cycle.toml", "--out", "plan", "--time-limit", 2, "--seed", 7, "--quiet")
    ended = run(*words, cwd=city)
    assert ended.code == 0, ended.said
    import northern_rules.packing

    assert northern_rules.packing.asked == [7]
    assert verify(city / "plan").ok
    run_table = pyogrio.read_dataframe(city / "plan" / "plan.gpkg", layer="run")
    settings = json.loads(run_table.set_index("key").loc["settings", "value"])
    assert settings["plan"]["candidates"] == ["street_by_street"]


@pytest.mark.usefixtures("northern")
def test_generators_that_are_not_there_or_do_not_load(city):
    set_key(city, "plan", 'candidates = ["broken", "unknown"]')
    ended = run("plan", "cycle.toml", "--out", "plan", "--time-limit", 2, "--quiet", cwd=city)
    assert ended.code == 2
    assert "'broken' does not load" in ended.err
    assert "no candidate generator 'unknown'" in ended.err
    assert "installed: broken, street_by_street" in ended.err
    assert not (city / "plan").exists()
