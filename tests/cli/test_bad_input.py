"""Bad input ends in one clear line and exit code 2, and nothing is half-written."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import Point

import sample_city
from tests.cli.commands import run
from tests.cli.small_city import EAST, NORTH, add_settings, trees, write_city, write_trees


@pytest.fixture
def city(tmp_path: Path) -> Path:
    return write_city(tmp_path)


@pytest.fixture
def plan_fails(city):
    """Planning ends with exit code 2, says every needle, and leaves the old plan alone."""

    def check(*needles: str) -> None:
        plan = city / "plan"
        plan.mkdir(exist_ok=True)
        (plan / "summary.json").write_text("old")
        before = sorted(path.name for path in city.iterdir())
        ended = run("plan", "cycle.toml", "--out", "plan", "--time-limit", 2, "--quiet", cwd=city)
        assert ended.code == 2, ended.said
        assert "Traceback" not in ended.said
        assert ended.out == ""
        for needle in needles:
            assert needle in ended.err
        assert (plan / "summary.json").read_text() == "old"
        assert [path.name for path in plan.iterdir()] == ["summary.json"]
        assert sorted(path.name for path in city.iterdir()) == before

    return check


def lines(text: str) -> int:
    return len(text.strip().splitlines())


def test_the_city_is_fine_as_it_stands(city):
    ended = run("plan", "cycle.toml", "--out", "plan", "--time-limit", 2, "--quiet", cwd=city)
    assert ended.code == 0, ended.said
    assert (city / "plan" / "summary.json").is_file()


def test_missing_file(city, plan_fails):
    (city / "trees.gpkg").unlink()
    plan_fails("trees.gpkg: no such file")


def test_missing_settings(tmp_path):
    ended = run("assess", "nowhere.toml", cwd=tmp_path)
    assert ended.code == 2
    assert "nowhere.toml: no such file" in ended.err
    assert lines(ended.err) == 1


def test_wrong_layer(city, plan_fails):
    add_settings(city, '\n[layers]\ntrees = "shrubs"\n')
    plan_fails("shrubs", "trees")


def test_no_crs(city, plan_fails):
    table = trees().drop(columns="geometry")
    table.assign(x=EAST + np.arange(3), y=NORTH).to_csv(city / "trees.csv", index=False)
    text = (city / "cycle.toml").read_text().replace("trees.gpkg", "trees.csv")
    text = text.replace('dbh = "dbh"', 'dbh = "dbh"\nlongitude = "x"\nlatitude = "y"')
    (city / "cycle.toml").write_text(text)
    plan_fails("source_crs")


def test_a_layer_without_a_crs(city, plan_fails):
    with pytest.warns(UserWarning, match="'crs' was not provided"):
        write_trees(city, trees().set_crs(None, allow_override=True))
    plan_fails("source_crs")


def test_coordinates_outside_the_crs(city, plan_fails):
    write_trees(city, trees(geometry=[Point(10_000 * i + 9e7, 9e7) for i in range(3)]))
    plan_fails("coordinates")


def test_text_in_a_numeric_column(city, plan_fails):
    write_trees(city, trees(dbh=["big", "small", "middling"]))
    plan_fails("field dbh: 3 of 3 values are no numbers", "'big'")


def test_duplicate_ids(city, plan_fails):
    write_trees(city, trees(id=["a", "a", "a"]))
    plan_fails("repeat a tree id")


def test_unknown_key_and_negative_budget_are_reported_together(city, plan_fails):
    add_settings(city, "\n[budget]\nyear_cents = -5\n\n[travel]\nspeed = 3\n")
    plan_fails("budget.year_cents = -5", "unknown key 'travel.speed'", "speed_kmh")


def test_negative_fund_budget(city, plan_fails):
    add_settings(city, "\n[budget]\nfund_cents = { parks = -100 }\n")
    plan_fails("budget.fund_cents", "-100")


def test_impossible_shift(city, plan_fails):
    add_settings(city, "shift_minutes = 40\nbreak_minutes = 30\nsetup_minutes = 20\n")
    plan_fails("leaves no working time")


def test_settings_that_are_not_toml(city, plan_fails):
    add_settings(city, "\nthis is not TOML\n")
    plan_fails("not valid TOML")


def test_crew_with_no_working_day(city, plan_fails):
    add_settings(city, "first_day = 2029-01-01\n")
    plan_fails("no working day", "One")


def test_no_crew(city, plan_fails):
    text = (city / "cycle.toml").read_text()
    (city / "cycle.toml").write_text(text[: text.index("[[crews]]")])
    plan_fails("crew")


def test_no_eligible_tree(city, plan_fails):
    add_settings(city, "\n[plan]\nleast_worth = 1e9\n")
    plan_fails("no tree can be planned")


def test_empty_layer(city, plan_fails):
    write_trees(city, trees().iloc[:0])
    plan_fails("trees.gpkg", "holds no rows")


def test_output_folder_is_a_file(city):
    (city / "out").write_text("x")
    ended = run("plan", "cycle.toml", "--out", "out", "--time-limit", 2, cwd=city)
    assert ended.code == 2
    assert "is a file" in ended.err
    assert (city / "out").read_text() == "x"


def test_output_folder_inside_a_file(city):
    (city / "file").write_text("x")
    ended = run("plan", "cycle.toml", "--out", "file/plan", "--time-limit", 2, cwd=city)
    assert ended.code == 2
    assert "file/plan" in ended.err


def test_output_folder_is_not_writable(city):
    """The kernel's own folders refuse even the superuser."""
    ended = run("plan", "cycle.toml", "--out", "/proc/plan", "--time-limit", 2, cwd=city)
    assert ended.code == 2
    assert "/proc/plan: cannot be written: " in ended.err
    ended = run("assess", "cycle.toml", "--out", "/proc/trees.gpkg", cwd=city)
    assert ended.code == 2
    assert "/proc/trees.gpkg" in ended.err


def test_a_foreign_folder_is_not_replaced(city):
    ended = run("plan", "cycle.toml", "--out", ".", "--time-limit", 2, cwd=city)
    assert ended.code == 2
    assert "holds files but no plan" in ended.err
    assert (city / "trees.gpkg").is_file()


def test_not_a_geopackage(city, plan_fails):
    (city / "trees.gpkg").write_bytes(b"SQLite format 3\x00" + b"\xff" * 4000)
    plan_fails("trees.gpkg")


def test_unknown_command_and_option(tmp_path):
    assert run("prune", cwd=tmp_path).code == 2
    assert run("plan", cwd=tmp_path).code == 2
    assert run("plan", "cycle.toml", "--out", "plan", "--time-limit", "-4", cwd=tmp_path).code == 2


def test_publishing_what_is_no_plan(tmp_path):
    (tmp_path / "holiday.jpg").write_text("x")
    ended = run("publish", ".", cwd=tmp_path)
    assert ended.code == 2
    assert "Traceback" not in ended.said
    assert [path.name for path in tmp_path.iterdir()] == ["holiday.jpg"]


def test_inspect_never_overwrites_settings_unasked(city):
    before = (city / "cycle.toml").read_text()
    ended = run("inspect", "trees.gpkg", cwd=city)
    assert ended.code == 2
    assert "is there already" in ended.err
    assert (city / "cycle.toml").read_text() == before
    assert not (city / "set_aside.csv").exists()


def test_explain_suggests_the_nearest_id(tmp_path):
    sample_city.make(tmp_path, trees=300, seed=3)
    ended = run("explain", "cycle.toml", "no-such-tree", cwd=tmp_path)
    assert ended.code == 2
    assert "no tree 'no-such-tree'" in ended.err


@pytest.mark.parametrize(
    "points",
    [
        [Point(EAST + 40 * i, NORTH, 12.5) for i in range(3)],
        [shapely.MultiPoint([(EAST + 40 * i, NORTH)]) for i in range(3)],
    ],
    ids=["3-D", "multi-point"],
)
def test_unusual_points_are_planned_like_any(city, points):
    write_trees(city, trees(geometry=points))
    ended = run("assess", "cycle.toml", "--out", "assessed.gpkg", "--quiet", cwd=city)
    assert ended.code == 0, ended.said
    assert "3 trees assessed" in ended.out


@pytest.mark.parametrize("size", ["64k", "300k", "500k"])
def test_full_disk_leaves_the_old_plan(city, tmp_path_factory, size):
    """Full at the first byte, in the middle of ``plan.gpkg``, and on publishing."""
    folder = tmp_path_factory.mktemp("small-disk")
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode:
        pytest.skip("mounting a small disk needs root")
    try:
        (folder / "plan").mkdir()
        (folder / "plan" / "summary.json").write_text("old")
        out = folder / "plan"
        ended = run("plan", "cycle.toml", "--out", out, "--time-limit", 2, "--quiet", cwd=city)
        assert ended.code == 2, ended.said
        assert "Traceback" not in ended.said
        assert (folder / "plan" / "summary.json").read_text() == "old"
        assert [entry.name for entry in folder.iterdir()] == ["plan"]
    finally:
        subprocess.run(["umount", str(folder)], check=True)
        shutil.rmtree(folder)


def test_a_share_for_a_ward_without_trees(city, plan_fails):
    add_settings(city, '\n[plan]\nward_least_share = { "Nowhere" = 0.1 }\n')
    plan_fails("plan.ward_least_share.Nowhere", "no tree stands in ward 'Nowhere'")


def test_a_crew_at_an_unknown_depot(city, plan_fails):
    add_settings(city, 'depot = "Old Yard"\n')
    plan_fails("Old Yard")


def test_what_inspection_leaves_open_is_said_at_once(tmp_path):
    """No CRS and no field that is known for a diameter: two lines, not one and then another."""
    table = trees().drop(columns="geometry").rename(columns={"dbh": "thickness"})
    table.assign(x=EAST + np.arange(3), y=NORTH).to_csv(tmp_path / "trees.csv", index=False)
    ended = run("inspect", "trees.csv", "--quiet", cwd=tmp_path)
    assert ended.code == 0, ended.said
    assert "set city.source_crs" in ended.out
    assert "trees.fields.dbh is not set" in ended.out
    written = (tmp_path / "cycle.toml").read_text(encoding="utf-8")
    assert "\n# dbh = \n" in written.split("[trees.units]")[1]
