"""The data dictionary describes every column that a real run writes, and no other."""

import codecs
import dataclasses
import json
from pathlib import Path

import pandas as pd
import pyogrio
import pytest

import sample_city
from forestcycle.cycle.scenario_plan import ScenarioFigures
from forestcycle.publish.outputs import OUTPUTS
from tests.cli.commands import run
from tests.conftest import ROOT
from tests.tools.write_data_docs import SECTIONS, described, page

NOT_OURS = {"layer_styles"}
"""A table whose layout desktop GIS prescribe."""


@pytest.fixture(scope="module")
def year(tmp_path_factory) -> Path:
    """A small city's year: assessed, planned, recorded, calibrated."""
    folder = tmp_path_factory.mktemp("year")
    sample_city.make(folder, trees=600, seed=5)

    def step(*words: object) -> None:
        ended = run(*words, "--quiet", cwd=folder)
        assert ended.code == 0, ended.said

    step("inspect", "cycle.toml")
    step("assess", "cycle.toml")
    step("plan", "cycle.toml", "--out", "plan", "--time-limit", 2)
    returned = pd.read_csv(folder / "plan/crew_lists/all.csv", dtype=str, keep_default_na=False)
    returned["done"], returned["actual_minutes"] = "yes", returned["minutes"]
    returned.loc[0, "done"] = "perhaps"
    returned.to_csv(folder / "returned.csv", index=False)
    step("record", "cycle.toml", "returned.csv", "--plan", "plan", "--today", "2028-01-01")
    step("calibrate", "cycle.toml")
    years = ("--years", 1, "--budgets", "100%", "--draws", 1, "--cycles", "--workers", 1)
    step("outlook", "cycle.toml", *years, "--out", "outlook")
    step("publish", "plan", "--outlook", "outlook")
    return folder


@pytest.fixture(scope="module")
def revised(year) -> Path:
    """The same city after a day lost in the middle of its year."""
    words = ("revise", "cycle.toml", "--from", "2027-06-01", "--time-limit", 2, "--quiet")
    ended = run(*words, "--lost-day", "2027-12-01", "Ground crew", cwd=year)
    assert ended.code == 0, ended.said
    return year


def test_the_page_is_in_step():
    text = (ROOT / "docs" / "data.md").read_text(encoding="utf-8")
    assert text == page(), "run: python -m tests.tools.write_data_docs"


def test_every_described_table_is_on_the_page():
    on_the_page = {table for section in SECTIONS for table in section.tables}
    assert set(described()["table"]) == on_the_page


def columns_of(table: str) -> dict[str, str]:
    rows = described()
    rows = rows[rows["table"] == table]
    return dict(zip(rows["column"], rows["kind"], strict=True))


def kind_of(dtype: str, ogr_type: str) -> str:
    if dtype == "bool":
        return "yes/no"
    return {
        "OFTString": "text",
        "OFTReal": "number",
        "OFTInteger": "whole",
        "OFTInteger64": "whole",
        "OFTDateTime": "date",
    }[ogr_type]


@pytest.mark.parametrize(
    ("name", "file"),
    [("assessment", "assessment.gpkg"), ("plan", "plan/plan.gpkg"), ("books", "city_books.gpkg")],
)
def test_geopackages(year, name, file):
    """Columns and their kinds, in every layer."""
    written = {}
    for layer in pyogrio.list_layers(year / file)[:, 0]:
        info = pyogrio.read_info(year / file, layer=layer)
        kinds = map(kind_of, info["dtypes"], info["ogr_types"])
        if layer not in NOT_OURS:
            written[f"{name} {layer}"] = dict(zip(info["fields"], kinds, strict=True))
    assert written == {table: columns_of(table) for table in written}
    described_here = {table for table in described()["table"] if table.startswith(f"{name} ")}
    assert described_here == set(written)


def test_tables_for_spreadsheets(year):
    files = {
        "set aside": year / "set_aside.csv",
        "calibration": year / "calibration/calibration.csv",
        **{f"outlook {path.stem}": path for path in (year / "outlook").glob("*.csv")},
        **{
            table: year / "plan" / path
            for output in OUTPUTS
            if output.tables is not None
            for table, path in output.tables.files.items()
        },
    }
    for table, path in files.items():
        assert path.read_bytes().startswith(codecs.BOM_UTF8), table
        written = pd.read_csv(path, nrows=0, encoding="utf-8-sig")
        assert set(written.columns) == set(columns_of(table)), table


def test_a_revised_plan(revised):
    assert (revised / "plan/revision.csv").read_bytes().startswith(codecs.BOM_UTF8)
    written = pd.read_csv(revised / "plan/revision.csv", nrows=0)
    assert set(written.columns) == set(columns_of("revision"))
    for layer in ("done", "lost_days", "changes"):
        info = pyogrio.read_info(revised / "plan/plan.gpkg", layer=layer)
        kinds = map(kind_of, info["dtypes"], info["ogr_types"])
        assert dict(zip(info["fields"], kinds, strict=True)) == columns_of(f"revised {layer}")


def test_scenarios():
    figures = [field.name for field in dataclasses.fields(ScenarioFigures)]
    assert ["scenario", *figures] == list(columns_of("scenarios"))


def test_summary(year):
    written = json.loads((year / "plan/summary.json").read_text(encoding="utf-8"))
    assert list(written) == list(columns_of("summary"))


def test_practice_tables():
    shipped = {path.name for path in (ROOT / "forestcycle/practice/tables").glob("*.csv")}
    assert set(columns_of("practice")) == shipped
