"""Cities that can be read but hardly planned: a plan comes of each, or a line says why none can."""

import json

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from shapely import LineString, Point

from tests.cli.commands import run
from tests.cli.small_city import EAST, NORTH, add_settings, trees, write_city, write_trees

FAR = 9_000


def write_layer(city, name, table):
    pyogrio.write_dataframe(table, city / "trees.gpkg", layer=name, driver="GPKG", append=False)


def name_layers(city, *names):
    """Name layers in the settings, under one heading however often this is called."""
    text = (city / "cycle.toml").read_text()
    if "[layers]" not in text:
        text += "\n[layers]\n"
    (city / "cycle.toml").write_text(text + "".join(f'{name} = "{name}"\n' for name in names))


def write_streets(city, *, crs="EPSG:32632", depot=0):
    """A street past the trees, and an island far from it; the depot stands so far to the east."""
    lines = [
        LineString([(EAST - 50 + x, NORTH + 5), (EAST + 200 + x, NORTH + 5)]) for x in (0, FAR)
    ]
    streets = gpd.GeoDataFrame({"street": ["Main", "Island"]}, geometry=lines, crs="EPSG:32632")
    write_layer(city, "streets", streets.to_crs(crs))
    home = gpd.GeoDataFrame(
        {"depot": ["Yard"]}, geometry=[Point(EAST + depot, NORTH)], crs="EPSG:32632"
    )
    write_layer(city, "depots", home)
    name_layers(city, "streets", "depots")


def promise(city, *ids):
    write_layer(city, "requests", pd.DataFrame({"tree_id": list(ids), "mandatory": True}))
    name_layers(city, "requests")


def with_day_cost(city):
    """The settings' text with a crew that costs money."""
    return (city / "cycle.toml").read_text().replace('"One"', '"One"\nday_cost_cents = 90000')


@pytest.fixture
def city(tmp_path):
    """Three trees; the third stands on the island."""
    write_city(tmp_path)
    points = [Point(EAST, NORTH), Point(EAST + 40, NORTH), Point(EAST + FAR, NORTH)]
    write_trees(tmp_path, trees(geometry=points))
    return tmp_path


def plan(city):
    return run("plan", "cycle.toml", "--out", "plan", "--rounds", 1, "--quiet", cwd=city)


def summary(city):
    ended = plan(city)
    assert ended.code == 0, ended.said
    return json.loads((city / "plan" / "summary.json").read_text())


def test_a_tree_beyond_the_streets_is_left_out_by_its_id(city):
    write_streets(city)
    made = summary(city)
    assert made["trees_planned"] == 2
    assert "no way from any depot: 1 tree left out, c" in made["notes"]
    assert made["verified"]


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857"])
def test_streets_in_another_crs_are_followed_alike(city, crs):
    write_streets(city, crs=crs)
    made = summary(city)
    assert made["travel"] == "streets"
    assert made["trees_planned"] == 2


def test_a_tree_longer_than_any_shift_is_left_out_by_its_id(city):
    """An oak of 90 cm, and a shift that leaves 20 minutes."""
    write_trees(city, trees(dbh=[8.0, 12.0, 90.0]))
    add_settings(
        city,
        'skills = ["ground", "climb", "lift"]\n'
        "shift_minutes = 40\nbreak_minutes = 0\nsetup_minutes = 20\n",
    )
    made = summary(city)
    assert made["trees_planned"] == 2
    assert "longer than any shift: 1 tree left out, c" in made["notes"]


def test_a_promised_tree_beyond_the_streets_is_named_with_them(city):
    write_streets(city)
    promise(city, "c")
    ended = plan(city)
    assert ended.code == 2
    assert "1 streets (0.2 km) cannot be driven to" in ended.err
    assert (
        "mandatory tree c cannot be visited: no way from any depot -> join its street" in ended.err
    )


def test_a_depot_on_an_island_is_told_with_the_streets(city):
    write_trees(city, trees())
    write_streets(city, depot=FAR)
    ended = plan(city)
    assert ended.code == 2
    assert "cannot be driven to and back" in ended.err
    assert "no way from any depot: 3: no tree can be planned" in ended.err


def test_promises_beyond_the_budget_name_the_least_that_does(city):
    """The sum that is named does, and a cent less does not."""
    write_trees(city, trees())
    promise(city, "a", "b", "c")
    add_settings(city, "\n[budget]\nyear_cents = 1\n")
    text = (
        (city / "cycle.toml")
        .read_text()
        .replace('name = "One"', 'name = "One"\nday_cost_cents = 90000')
    )
    (city / "cycle.toml").write_text(text)
    ended = plan(city)
    assert ended.code == 2
    assert "found no room for 3 of 3 mandatory trees -> a budget of " in ended.err
    least = ended.err.split("a budget of ")[1].split(" would do and is the least")[0]
    cents = round(float(least.replace(",", "")) * 100)
    for given, code in ((cents - 1, 2), (cents, 0)):
        (city / "cycle.toml").write_text(text.replace("year_cents = 1", f"year_cents = {given}"))
        assert plan(city).code == code


def test_without_money_the_plan_is_empty_and_says_so(city):
    write_trees(city, trees())
    text = (
        (city / "cycle.toml")
        .read_text()
        .replace('name = "One"', 'name = "One"\nday_cost_cents = 90000')
    )
    for cents in (0, 89_999):
        (city / "cycle.toml").write_text(f"{text}\n[budget]\nyear_cents = {cents}\n")
        made = summary(city)
        assert made["trees_planned"] == 0
        assert sum(made["unplanned_reasons"].values()) == 3


def test_every_tree_promised_is_every_tree_planned(city):
    write_trees(city, trees())
    promise(city, "a", "b", "c")
    assert summary(city)["trees_planned"] == 3
