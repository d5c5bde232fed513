"""Bad input ends in one clear line and exit code 2, and nothing is half-written."""

import shutil
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from shapely import Point

import sample_city

SETTINGS = """
[city]
name = "Testford"
inventory = "trees.gpkg"
year_start = 2027-01-01
year_end = 2027-12-31

[trees.fields]
tree_id = "id"
species = "species"
dbh = "dbh"

[[crews]]
name = "One"
"""


def run(*words: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "forestcycle", *map(str, words)],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )


def trees(**changes) -> gpd.GeoDataFrame:
    columns = {
        "id": ["a", "b", "c"],
        "species": ["Acer rubrum", "Tilia cordata", "Quercus robur"],
        "dbh": [8.0, 12.0, 15.0],
        "geometry": [Point(500000 + 40 * i, 5500000) for i in range(3)],
    }
    return gpd.GeoDataFrame(columns | changes, geometry="geometry", crs="EPSG:32632")


@pytest.fixture
def city(tmp_path: Path) -> Path:
    trees().to_file(tmp_path / "trees.gpkg", layer="trees", engine="pyogrio")
    (tmp_path / "cycle.toml").write_text(SETTINGS)
    return tmp_path


def plan_fails(city: Path, *needles: str) -> None:
    """Planning ends with exit code 2, says every needle, and leaves the old plan alone."""
    plan = city / "plan"
    plan.mkdir(exist_ok=True)
    (plan / "summary.json").write_text("old")
    before = sorted(path.name for path in city.iterdir())
    result = run("plan", "cycle.toml", "--out", "plan", "--time-limit", 2, "--quiet", cwd=city)
    assert result.returncode == 2, result.stderr
    assert "Traceback" not in result.stderr + result.stdout
    for needle in needles:
        assert needle in result.stderr
    assert (plan / "summary.json").read_text() == "old"
    assert sorted(path.name for path in city.iterdir()) == before


def rewrite(city: Path, layer: gpd.GeoDataFrame | pd.DataFrame) -> None:
    (city / "trees.gpkg").unlink()
    gpd.GeoDataFrame(layer).to_file(city / "trees.gpkg", layer="trees", engine="pyogrio")


def add_settings(city: Path, text: str) -> None:
    (city / "cycle.toml").write_text((city / "cycle.toml").read_text() + text)


def test_missing_file(city):
    (city / "trees.gpkg").unlink()
    plan_fails(city, "trees.gpkg")


def test_missing_settings(tmp_path):
    result = run("assess", "nowhere.toml", cwd=tmp_path)
    assert result.returncode == 2
    assert "no such file" in result.stderr


def test_wrong_layer(city):
    add_settings(city, '\n[layers]\ntrees = "shrubs"\n')
    plan_fails(city, "shrubs", "trees")


def test_no_crs(city):
    frame = trees().set_crs(None, allow_override=True)
    (city / "trees.gpkg").unlink()
    frame.drop(columns="geometry").assign(x=1.0, y=2.0).to_csv(city / "trees.csv", index=False)
    text = (city / "cycle.toml").read_text().replace("trees.gpkg", "trees.csv")
    text = text.replace('dbh = "dbh"', 'dbh = "dbh"\nlongitude = "x"\nlatitude = "y"')
    (city / "cycle.toml").write_text(text)
    result = run("assess", "cycle.toml", cwd=city)
    # Degrees without a CRS are read as WGS 84; only metres without one are refused.
    assert result.returncode in {0, 2}
    frame.assign(geometry=[Point(500000 + i, 5500000) for i in range(3)]).drop(
        columns="geometry"
    ).assign(x=500000.0, y=5500000.0).to_csv(city / "trees.csv", index=False)
    plan_fails(city, "source_crs")


def test_coordinates_outside_the_crs(city):
    far = [Point(10_000 * i + 9e7, 9e7) for i in range(3)]
    rewrite(city, trees(geometry=far))
    plan_fails(city, "coordinates")


def test_text_in_a_numeric_column(city):
    rewrite(city, trees(dbh=["big", "small", "middling"]))
    plan_fails(city, "dbh")


def test_duplicate_ids(city):
    rewrite(city, trees(id=["a", "a", "a"]))
    result = run("inspect", "cycle.toml", "--out", "report", cwd=city)
    assert "duplicate" in result.stdout + result.stderr


def test_unknown_key_and_negative_budget_are_reported_together(city):
    add_settings(city, "\n[budget]\nyear_cents = -5\n\n[travel]\nspeed = 3\n")
    plan_fails(city, "budget.year_cents = -5", "unknown key 'travel.speed'", "speed_kmh")


def test_impossible_shift(city):
    add_settings(city, "shift_minutes = 40\nbreak_minutes = 30\nsetup_minutes = 20\n")
    plan_fails(city, "leaves no working time")


def test_crew_with_no_working_day(city):
    add_settings(city, "first_day = 2029-01-01\n")
    plan_fails(city, "no working day", "One")


def test_no_eligible_tree(city):
    add_settings(city, "\n[plan]\nleast_worth = 1e9\n")
    plan_fails(city, "no tree can be planned")


def test_empty_layer(city):
    rewrite(city, trees().iloc[:0])
    plan_fails(city, "trees.gpkg")


def test_output_folder_is_a_file(city):
    (city / "out").write_text("x")
    result = run("plan", "cycle.toml", "--out", "out", "--time-limit", 2, cwd=city)
    assert result.returncode == 2
    assert "is a file" in result.stderr


def test_not_a_geopackage(city):
    (city / "trees.gpkg").write_bytes(b"SQLite format 3\x00" + b"\xff" * 4000)
    plan_fails(city, "trees.gpkg")


def test_unknown_command_and_option(tmp_path):
    assert run("prune", cwd=tmp_path).returncode == 2
    assert run("plan", cwd=tmp_path).returncode == 2


def test_explain_suggests_the_nearest_id(tmp_path):
    sample_city.make(tmp_path, trees=300, seed=3)
    result = run("explain", "cycle.toml", "no-such-tree", cwd=tmp_path)
    assert result.returncode == 2
    assert "no tree 'no-such-tree'" in result.stderr


def test_full_disk_leaves_the_old_plan(city, tmp_path_factory):
    folder = tmp_path_factory.mktemp("small-disk")
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode:
        pytest.skip("mounting a small disk needs root")
    try:
        (folder / "plan").mkdir()
        (folder / "plan" / "summary.json").write_text("old")
        result = run(
            "plan", "cycle.toml", "--out", folder / "plan", "--time-limit", 2, "--quiet", cwd=city
        )
        assert result.returncode == 2, result.stderr
        assert (folder / "plan" / "summary.json").read_text() == "old"
        assert [entry.name for entry in folder.iterdir()] == ["plan"]
    finally:
        subprocess.run(["umount", str(folder)], check=True)
        shutil.rmtree(folder)
