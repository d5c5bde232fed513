"""The sample city: the same from the same seed, and shaped like a town."""

from importlib.resources import files
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
from geopandas.testing import assert_geodataframe_equal
from pandas.testing import assert_frame_equal
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

import sample_city
from forestcycle.settings import load_settings
from sample_city.city import City, make_city, write_city

COMMITTED = Path(str(files("sample_city")))


@pytest.fixture(scope="module")
def city() -> City:
    return make_city(trees=6_000, seed=1)


def test_the_committed_sample_is_what_the_generator_makes(tmp_path):
    sample_city.make(tmp_path)
    made, kept = tmp_path / "city.gpkg", COMMITTED / "city.gpkg"
    names = pyogrio.list_layers(kept)[:, 0].tolist()
    assert pyogrio.list_layers(made)[:, 0].tolist() == names
    for name in names:
        new, old = gpd.read_file(made, layer=name), gpd.read_file(kept, layer=name)
        if isinstance(old, gpd.GeoDataFrame):
            assert_geodataframe_equal(new, old, check_less_precise=True)
        else:
            assert_frame_equal(new, old)
    for name in ("cycle.toml",):
        assert (tmp_path / name).read_text() == (COMMITTED / name).read_text()


def test_the_committed_sample_is_small():
    assert sum((COMMITTED / name).stat().st_size for name in ("city.gpkg", "cycle.toml")) < 5e6


def test_size_and_parts(city):
    assert len(city.layers["trees"]) == 6_000
    assert len(city.layers["wards"]) == 4
    assert len(city.layers["depots"]) == 2
    settings = load_settings(COMMITTED / "cycle.toml")
    assert len(settings.crews) == 3
    assert {crew.depot for crew in settings.crews} <= set(city.layers["depots"]["depot"])
    share = city.tables["defects"]["tree_id"].nunique() / 6_000
    assert 0.3 < share < 0.37
    years = city.tables["visits"]["visited_on"].dt.year
    assert sorted(years.unique()) == [2022, 2023, 2024, 2025, 2026]
    assert city.tables["visits"]["dose"].between(0, 0.25).all()
    mandatory = city.tables["requests"]["mandatory"]
    assert mandatory.any()
    assert (city.tables["requests"]["deadline"].notna() == mandatory).all()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_street_can_be_reached_from_every_other(seed):
    streets = make_city(trees=1_500, seed=seed).layers["streets"]
    ends = streets.geometry.get_coordinates().groupby(level=0)
    start, end = ends.first().to_numpy(), ends.last().to_numpy()
    # Closes leave half-way along a block: their free-standing starts are joined to nothing here.
    key, node = np.unique(np.vstack([start, end]).round(2), axis=0, return_inverse=True)
    tail, head = node.reshape(2, -1)
    closes = streets["street"].str.endswith("Close").to_numpy()
    tail, head, both = tail[~closes], head[~closes], ~streets["one_way"].to_numpy()[~closes]
    rows, columns = np.concatenate([tail, head[both]]), np.concatenate([head, tail[both]])
    arcs = coo_array((np.ones(len(rows)), (rows, columns)), shape=(len(key), len(key)))
    _, piece = connected_components(arcs, directed=True, connection="strong")
    assert len(np.unique(piece[rows])) == 1
    assert streets["one_way"].any()
    assert streets["speed_kmh"].isna().any()


def test_wards_cover_the_trees_and_do_not_overlap(city):
    wards = city.layers["wards"]
    standing = city.layers["trees"]
    standing = standing[~standing.geometry.is_empty & (standing.geometry.x > 1)]
    joined = standing.sjoin(wards, predicate="within")
    assert len(joined) == len(standing)
    assert joined["ward"].value_counts(normalize=True).min() > 0.1


def test_trees_stand_along_the_streets_or_in_parks(city):
    trees = city.layers["trees"]
    standing = trees[~trees.geometry.is_empty & (trees.geometry.x > 1)]
    in_park = (standing["fund"] == "parks").to_numpy()
    _, away = city.layers["streets"].sindex.nearest(
        standing.geometry, return_all=False, return_distance=True
    )
    assert np.quantile(away[~in_park], 0.99) < 9
    inside = standing[in_park].sjoin(city.layers["parks"], predicate="within")
    # Rows written twice take another tree's place, which may lie outside.
    assert len(inside) > 0.99 * in_park.sum()
    assert 0.02 < in_park.mean() < 0.2


def test_every_kind_of_mistake_is_there(city):
    trees = city.layers["trees"]
    assert trees["dbh_cm"].isna().any()
    assert (trees["dbh_cm"] == 0).any()
    assert (trees["dbh_cm"] < 0).any()
    assert (trees["dbh_cm"] > 300).any()
    assert trees["tree_id"].duplicated().any()
    assert trees.geometry.is_empty.any()
    assert (trees["status"] != "standing").any()
    wrong = trees["dbh_cm"].between(2, 200).mean()
    assert wrong > 0.98


def test_seed_and_size_change_the_city():
    first, again, other = (make_city(trees=400, seed=seed) for seed in (1, 1, 2))
    assert_geodataframe_equal(first.layers["trees"], again.layers["trees"])
    assert not first.layers["trees"].geometry.equals(other.layers["trees"].geometry)
    assert len(make_city(trees=900).layers["streets"]) > len(first.layers["streets"])


def test_sizes_are_plausible():
    """Diameter, height and crown against the span that trees of the street can have.

    Common practice: planted at about 5 cm; height over diameter of open-grown
    trees lies well under 100 (metres over metres).
    """
    trees = make_city(trees=3_000).layers["trees"]
    sound = trees[trees["dbh_cm"].between(1, 200)]
    young = sound[sound["planted_on"] > "2024-01-01"]
    assert young["dbh_cm"].median() < 10
    slender = sound["height_m"] / (sound["dbh_cm"] / 100)
    assert (slender.dropna()[sound["dbh_cm"] > 10] < 100).mean() > 0.95
    assert (sound["crown_diameter_m"] < 2 * sound["height_m"]).sum() == sound["height_m"].count()


def test_too_small_a_town_is_refused():
    with pytest.raises(ValueError, match="too small"):
        make_city(trees=10)


def test_writing_replaces_the_file(tmp_path):
    path = tmp_path / "city.gpkg"
    write_city(make_city(trees=300), path)
    write_city(make_city(trees=250), path)
    assert pyogrio.read_info(path, layer="trees")["features"] == 250
    assert isinstance(gpd.read_file(path, layer="visits"), pd.DataFrame)
