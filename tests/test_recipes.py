"""The recipes of DEVELOPERS.md touch one place: a row of a table is enough."""

from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest

import forestcycle
import sample_city
from tests.conftest import ROOT

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
