"""From returned minutes to a proposed labour table, which nobody puts in force but the city."""

import re

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from forestcycle.cycle import assess_city, calibrate_city, open_city, record_returns
from forestcycle.errors import StoreError
from tests.cli.commands import run
from tests.cli.small_city import EAST, NORTH, SETTINGS, trees, write_trees
from tests.fieldwork.field_season import TODAY

FACTOR = 1.4
"""By how much longer the crews of this town take than planned."""


def town(folder, count):
    """Write a town of so many trees, all of which a crew came back from."""
    few = trees()
    layer = few.iloc[np.arange(count) % len(few)].reset_index(drop=True)
    layer = layer.assign(id=[f"t{k}" for k in range(count)])
    layer.geometry = gpd.points_from_xy(EAST + 40 * np.arange(count), np.full(count, NORTH))
    write_trees(folder, layer.set_crs("EPSG:32632", allow_override=True))
    (folder / "cycle.toml").write_text(SETTINGS)
    city = open_city(folder / "cycle.toml")
    planned = assess_city(city).trees
    pd.DataFrame(
        {
            "tree_id": planned["tree_id"],
            "visited_on": "2026-03-01",
            "crew": "One",
            "outcome": "done",
            "minutes": planned["minutes"] * FACTOR,
            "dose": planned["dose"],
            "planned_minutes": planned["minutes"],
            "planned_dose": planned["dose"],
        }
    ).to_csv(folder / "returns.csv", index=False)
    record_returns(city, folder / "returns.csv", today=TODAY)
    return open_city(folder / "cycle.toml")


def files(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def test_the_factor_is_found_proposed_and_not_put_in_force(tmp_path):
    city = town(tmp_path, 60)
    before, assessed = files(tmp_path), assess_city(city).trees
    done = calibrate_city(city, tmp_path / "calibration")
    overall = done.table.query("measure == 'minutes' and crew == 'all' and age_class == 'all'")
    assert overall["factor"].iloc[0] == pytest.approx(FACTOR, rel=1e-3)
    assert overall["returns"].iloc[0] == 60
    assert overall["actual"].iloc[0] == pytest.approx(FACTOR * overall["planned"].iloc[0], rel=1e-3)
    doses = done.table.query("measure == 'dose' and crew == 'One' and age_class == 'all'")
    assert doses["factor"].iloc[0] == pytest.approx(1.0, abs=1e-3)
    assert files(tmp_path) == before
    again = open_city(tmp_path / "cycle.toml")
    pd.testing.assert_frame_equal(assess_city(again).trees, assessed)


def test_the_proposed_table_once_in_force_gives_the_minutes_that_were_taken(tmp_path):
    city = town(tmp_path, 60)
    calibrate_city(city, tmp_path / "calibration")
    planned = assess_city(city).trees
    settings = tmp_path / "cycle.toml"
    settings.write_text(f'{settings.read_text()}\n[practice]\ntables = "calibration"\n')
    refitted = assess_city(open_city(settings)).trees
    ratio = refitted["minutes"] / planned["minutes"]
    assert ratio.to_numpy() == pytest.approx(FACTOR, rel=0.01)
    assert refitted["brush_kg"].to_numpy() == pytest.approx(planned["brush_kg"], rel=0.01)
    table = pd.read_csv(tmp_path / "calibration" / "labour.csv")
    changed = table[table["source"].str.contains("from 60 returns")]
    assert set(changed["mark"]) == {"modelling choice"}


def test_with_too_little_data_nothing_is_proposed(tmp_path):
    done = calibrate_city(town(tmp_path, 29), tmp_path / "calibration")
    assert done.proposed is None
    assert (done.table["data"] == "too few (under 30)").all()
    assert [path.name for path in (tmp_path / "calibration").iterdir()] == ["calibration.csv"]


def test_visits_before_the_day_given_do_not_count(tmp_path):
    city = town(tmp_path, 40)
    with pytest.raises(StoreError, match="no returns on record from 2026-03-02 on"):
        calibrate_city(city, tmp_path / "calibration", since=pd.Timestamp("2026-03-02").date())


def test_the_line_that_is_printed_puts_the_table_in_force(tmp_path):
    """From whichever folder the command was given."""
    town(tmp_path, 60)
    said = run("calibrate", tmp_path / "cycle.toml", "--quiet", cwd=tmp_path.parent).out
    line = re.search(r"tables = .*", said)
    assert line is not None
    settings = tmp_path / "cycle.toml"
    settings.write_text(f"{settings.read_text()}\n[practice]\n{line[0]}\n")
    assert open_city(settings).settings.practice.tables == "calibration"
    assess_city(open_city(settings))
    again = run("calibrate", "cycle.toml", "--out", "again", "--quiet", cwd=tmp_path).out
    assert "copy it into calibration" in again


def test_a_table_that_is_in_force_is_never_written_over(tmp_path):
    """Or the second proposal would be applied, and on top of the first."""
    town(tmp_path, 60)
    assert run("calibrate", "cycle.toml", "--quiet", cwd=tmp_path).code == 0
    settings = tmp_path / "cycle.toml"
    settings.write_text(f"{settings.read_text()}\n[practice]\ntables = 'calibration'\n")
    before = files(tmp_path / "calibration")
    ended = run("calibrate", "cycle.toml", "--quiet", cwd=tmp_path)
    assert ended.code == 2
    assert "tables in force" in ended.err
    assert files(tmp_path / "calibration") == before


def test_visits_of_trees_that_are_gone_count_as_what_they_are(tmp_path):
    town(tmp_path, 60)
    layer = gpd.read_file(tmp_path / "trees.gpkg")
    write_trees(tmp_path, layer[layer["id"] != "t0"])
    table = calibrate_city(open_city(tmp_path / "cycle.toml"), tmp_path / "calibration").table
    one = table.query("measure == 'minutes' and crew == 'One'").set_index("age_class")
    assert one.loc["no longer in the inventory", "returns"] == 1
    assert one.drop(index="all")["returns"].sum() == one.loc["all", "returns"] == 60
