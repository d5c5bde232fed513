"""``forestcycle send`` on the sample city: plan and recorded visits, whole."""

import json
import re
import shutil
from pathlib import Path

import pyogrio

from forestcycle.cycle import open_city, plan_city
from tests.cli.commands import run
from tests.database.city import FOLDER, LAYERS, Town
from tests.database.server import PASSWORD

TREES = 60


def few_trees(town: Town) -> Path:
    """Settings for the first trees and one crew, in PostGIS and as a GeoPackage of the same."""
    files = town.folder / "files"
    shutil.copytree(FOLDER, files, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    trees = pyogrio.read_dataframe(FOLDER / "city.gpkg", layer="trees").head(TREES)
    (files / "city.gpkg").unlink()
    for layer in LAYERS:
        kept = trees if layer == "trees" else pyogrio.read_dataframe(FOLDER / "city.gpkg", layer)
        pyogrio.write_dataframe(kept, files / "city.gpkg", layer=layer)
    town.sql(f"DELETE FROM trees WHERE fid > {TREES}")
    for settings in (files / "cycle.toml", town.settings):
        text = settings.read_text().split("[plan]")[0]
        settings.write_text(re.sub("most_days = .*", "most_days = 1", text))
    return files / "cycle.toml"


def test_a_plan_from_postgis_is_the_plan_from_the_geopackage_and_goes_back(sample_town: Town):
    folder, files = sample_town.folder, few_trees(sample_town)
    summary = plan_city(open_city(sample_town.settings), folder / "plan", rounds=1)
    expected = plan_city(open_city(files), folder / "expected", rounds=1)
    assert summary.worth == expected.worth
    stops, same = (
        pyogrio.read_dataframe(folder / name / "plan.gpkg", layer="stops")
        for name in ("plan", "expected")
    )
    assert stops.equals(same)
    (folder / "returns.csv").write_text(
        "tree_id,visited_on,crew,outcome,minutes,dose\n"
        + "".join(f"{tree},2026-06-01,One,done,30,0.1\n" for tree in stops["tree_id"].iloc[:5])
    )
    for words in (
        ("record", "cycle.toml", "returns.csv", "--today", "2026-12-31", "--quiet"),
        ("send", "cycle.toml", "plan", "--quiet"),
        ("send", "cycle.toml", "plan"),
    ):
        done = run(*words, cwd=folder)
        assert done.code == 0, done.err
        assert PASSWORD not in done.out + done.err
    sent = sample_town.sql("SELECT count(*), count(DISTINCT tree_id) FROM forestcycle.plan_stops")
    assert sent == f"{len(stops)}|{stops['tree_id'].nunique()}"
    assert sample_town.sql("SELECT count(*) FROM forestcycle.recorded_visits") == "5"
    assert sample_town.sql("SELECT count(*), min(city) FROM forestcycle.sent") == "1|Quellhaven"
    assert sample_town.sql("SELECT count(*) FROM trees") == str(TREES)
    told = (folder / "plan" / "plan.gpkg").read_bytes()
    for secret in (PASSWORD, json.dumps(PASSWORD)[1:-1]):
        assert secret.encode() not in told


def test_visits_alone_go_without_a_plan(sample_town: Town):
    done = run("send", "cycle.toml", "--quiet", cwd=sample_town.folder)
    assert done.code == 0, done.err
    assert sample_town.sql("SELECT count(*) FROM forestcycle.recorded_visits") == "0"
    assert sample_town.sql("SELECT to_regclass('forestcycle.plan_stops') IS NULL") == "t"


def test_settings_without_a_database_and_a_folder_without_a_plan_are_one_line(sample_town: Town):
    done = run("send", FOLDER / "cycle.toml", "--quiet", cwd=sample_town.folder)
    assert (done.code, len(done.err.splitlines())) == (2, 1)
    assert "set address under [database]" in done.err
    done = run("send", "cycle.toml", "nowhere", "--quiet", cwd=sample_town.folder)
    assert (done.code, len(done.err.splitlines())) == (2, 1)
    assert "name a plan's folder" in done.err
