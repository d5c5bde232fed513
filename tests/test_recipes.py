"""The recipes of DEVELOPERS.md touch one place: a row of a table, or a file, is enough."""

import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest

import forestcycle
import sample_city
from forestcycle.publish import publish
from forestcycle.publish.outputs import OUTPUTS
from forestcycle.publish.unchanged import Unchanged
from tests.conftest import ROOT
from tests.publish.example_plan import write_example_plan

TABLES = ROOT / "forestcycle" / "practice" / "tables"


@pytest.fixture
def city(tmp_path: Path) -> Path:
    """A small city with a folder of its own tables."""
    settings = sample_city.make(tmp_path, trees=300, seed=2)
    (tmp_path / "tables").mkdir()
    with settings.open("a", encoding="utf-8") as file:
        file.write('\n[practice]\ntables = "tables"\n')
    return tmp_path


def add_row(city: Path, name: str, like: str, **changes: str) -> None:
    """Append a row that is like the first with this key, but for some cells."""
    table = pd.read_csv(TABLES / f"{name}.csv", dtype=str, keep_default_na=False)
    row = table[table.iloc[:, 0] == like].iloc[0].to_dict() | changes
    table = pd.concat([table, pd.DataFrame([row])], ignore_index=True)
    table.to_csv(city / "tables" / f"{name}.csv", index=False)


def test_a_new_defect_is_one_row(city):
    add_row(city, "defects", "crossing limbs", defect="bird box wire", source="invented")
    trees = gpd.read_file(city / "city.gpkg", layer="trees")
    known = forestcycle.open_city(city / "cycle.toml").inventory.trees
    tree_id = known.loc[known["condition"] == "good", "tree_id"].iloc[0]
    assert tree_id in set(trees["tree_id"])
    seen = pyogrio.read_dataframe(city / "city.gpkg", layer="defects")
    seen = seen[seen["tree_id"] != tree_id]
    new = {"tree_id": tree_id, "observed_on": pd.Timestamp("2026-06-01"), "measure": "severe"}
    seen = pd.concat([seen, pd.DataFrame([new | {"defect": "bird box wire"}])], ignore_index=True)
    pyogrio.write_dataframe(seen, city / "city.gpkg", layer="defects")

    assessed = forestcycle.assess_city(forestcycle.open_city(city / "cycle.toml"))
    tree = assessed.trees.set_index("tree_id").loc[tree_id]
    assert tree["worst_defect"] == "bird box wire"
    assert tree["dose"] > 0
    assert tree["work"] != ""


def test_a_dose_limit_table_is_rows_and_a_name(city):
    limits = pd.read_csv(TABLES / "dose_limits.csv", dtype=str, keep_default_na=False)
    ours = limits[limits["table"] == "cautious"].assign(table="ours", limit="0.02")
    both = pd.concat([limits, ours], ignore_index=True)
    both.to_csv(city / "tables" / "dose_limits.csv", index=False)
    settings = city / "cycle.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("[practice]", '[practice]\ndose_limits = "ours"'))
    trees = forestcycle.assess_city(forestcycle.open_city(settings)).trees
    assert trees["dose_limit"].max() == pytest.approx(0.02)
    assert (trees["dose"] <= trees["dose_limit"] + 1e-9).all()


def test_a_season_is_one_row_and_a_name(city):
    season = {"rule": "nesting", "closed_from": "03-01", "closed_until": "07-31"}
    add_row(city, "seasons", "spring flush", **season, source="invented")
    settings = city / "cycle.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("[practice]", '[practice]\nseasons = ["nesting"]'))
    assessed = forestcycle.assess_city(forestcycle.open_city(settings))
    closed = {window[2] for group in assessed.season_closed for window in group}
    assert closed == {"nesting"}


AN_OUTPUT = '''
"""What a crew loads in the morning."""

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.publish.names import safe_name
from forestcycle.publish.output import Link, Output, Paper

ALL = "loads/all.txt"


def load_path(crew, day):
    return f"loads/{safe_name(crew)} {day}.txt"


def write_loads(edition):
    written = [edition.folder / ALL]
    write_text_atomically(written[0], f"{len(edition.plan.crew_days)} crew-days")
    for day in edition.days_to_draw():
        written.append(edition.folder / load_path(day.crew, day.date))
        write_text_atomically(written[-1], f"{day.brush_kg} kg")
    return written


OUTPUT = Output(
    "loads",
    "loads",
    write_loads,
    "what crews load",
    links=(Link(ALL, "Loads of the year", "What crews load, day by day.", rank=55),),
    papers=(Paper(load_path, carried=True, label="load", rank=25),),
)
'''


def test_an_output_is_one_file(tmp_path, monkeypatch):
    (tmp_path / "loads_of_ours.py").write_text(AN_OUTPUT)
    monkeypatch.syspath_prepend(tmp_path)
    outputs = (*OUTPUTS, import_module("loads_of_ours").OUTPUT)
    older, newer = (write_example_plan(tmp_path / name) for name in ("older", "newer"))
    steps = []
    publish(older, outputs=outputs, progress=lambda step: steps.append(step.stage))
    assert "what crews load" in steps
    loads = {path.name for path in (older / "loads").iterdir()}
    assert len(loads) > 1

    page = (older / "index.html").read_text(encoding="utf-8")
    linked = page.index("Loads of the year")
    assert page.index("All stops") < linked < page.index(">Notices<")
    assert page.count(">load</a>") == page.count(">sheet</a>") > 0

    crew_days = pyogrio.read_dataframe(older / "plan.gpkg", layer="crew_days")["crew_day_id"]
    for path in (older / "loads").iterdir():
        path.write_text("as printed")
    publish(newer, outputs=outputs, unchanged=Unchanged(older, frozenset(crew_days)))
    carried = {path.name: path.read_text() == "as printed" for path in (newer / "loads").iterdir()}
    assert carried == {name: name != "all.txt" for name in loads}


def test_the_output_in_the_docs_is_published_and_linked(tmp_path, monkeypatch):
    page = (ROOT / "docs" / "plug-ins.md").read_text(encoding="utf-8")
    (code,) = [
        block for block in re.findall(r"```python\n(.*?)```", page, re.DOTALL) if "OUTPUTS" in block
    ]
    plan = write_example_plan(tmp_path / "plan")
    monkeypatch.chdir(tmp_path)
    exec(code, {})  # noqa: S102 - as a reader would run it
    assert len((plan / "brush" / "brush.csv").read_text().splitlines()) > 1
    assert 'href="brush/brush.csv"' in (plan / "index.html").read_text(encoding="utf-8")


A_COMMAND = '''
"""``forestcycle greet``."""

import click


@click.command()
def greet():
    """Greet the city."""
    click.echo("good morning")
'''


def test_a_command_is_one_file(tmp_path):
    (tmp_path / "greet.py").write_text(A_COMMAND)
    code = (
        f"import forestcycle.cli; forestcycle.cli.__path__.append({str(tmp_path)!r})\n"
        "from forestcycle.cli.main import main; main(['greet'])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "good morning\n"
