"""A real inventory opens without a question, and its figures are counted twice."""

import csv
import gzip
from collections import Counter
from datetime import date
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from forestcycle.errors import InventoryError
from forestcycle.inventory import Findings, inspect_city, inspect_file
from tests.inventory.cities import CRS, settings, trees, write


@pytest.fixture(scope="module")
def portland(shared_data: Path) -> Path:
    """City of Portland street-tree inventory 2010-2016, four neighbourhoods."""
    return shared_data / "trees" / "portland_street_trees_4nbhd.csv.gz"


@pytest.fixture(scope="module")
def rows(portland: Path) -> list[dict[str, str]]:
    with gzip.open(portland, "rt", encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def findings(portland: Path) -> Findings:
    return inspect_file(portland, today=date(2026, 11, 25))


def test_the_mapping_is_found(findings: Findings) -> None:
    """The publisher's description of the columns: inches, feet, WGS 84."""
    assert findings.proposal is not None
    assert {key: guess.value for key, guess in findings.proposal.fields.items()} == {
        "tree_id": "objectid",
        "species": "scientific",
        "common_name": "common",
        "dbh": "dbh",
        "condition": "condition",
        "conductors": "wires",
        "site_width": "site_width",
        "address": "address",
        "ward": "neighborhood",
        "longitude": "longitude",
        "latitude": "latitude",
    }
    assert {key: guess.value for key, guess in findings.proposal.units.items()} == {
        "dbh": "in",
        "site_width": "ft",
    }
    assert findings.settings is not None
    assert findings.settings.city.source_crs == "EPSG:4326"
    assert findings.settings.city.year_start == date(2027, 1, 1)


def test_no_high_voltage_is_not_no_conductors(findings: Findings) -> None:
    assert findings.proposal is not None
    assert findings.proposal.values["conductors"] == {
        "High voltage": "high_voltage",
        "None": "none",
        "No HV": "unknown",
        "Other": "unknown",
    }


def test_rows_are_counted_as_the_file_has_them(
    findings: Findings, rows: list[dict[str, str]]
) -> None:
    zero = {i for i, row in enumerate(rows) if float(row["dbh"]) == 0}
    dead = {i for i, row in enumerate(rows) if row["condition"] == "Dead"}
    unnamed = sum(row["scientific"] == "unknown" for row in rows)
    places = Counter(
        (row["longitude"], row["latitude"], row["scientific"], row["dbh"])
        for i, row in enumerate(rows)
        if i not in zero | dead
    )
    twins = sum(count - 1 for count in places.values())
    counted = findings.reasons().set_index("fault")["rows"]
    assert (len(zero), len(dead)) == (90, 78)
    assert counted["diameter zero"] == 90
    assert counted["tree dead"] == 78
    assert counted["species unknown"] == unnamed
    assert counted["same place, species and diameter as another tree"] == twins
    assert findings.rows == len(rows) == 11_962
    assert findings.usable == len(rows) - len(zero | dead) - twins


def test_inches_feet_and_places_come_out_right(
    findings: Findings, rows: list[dict[str, str]]
) -> None:
    """1 in = 2.54 cm, 1 ft = 0.3048 m (NIST Special Publication 811, B.8); places against
    geopandas' own projection."""
    assert findings.inventory is not None
    found = findings.inventory.trees
    source = pd.DataFrame(rows).iloc[found["source_row"]].reset_index(drop=True)
    np.testing.assert_allclose(found["dbh_cm"], source["dbh"].astype(float) * 2.54, rtol=1e-15)
    width = pd.to_numeric(source["site_width"], errors="coerce") * 0.3048
    np.testing.assert_allclose(found["site_width_m"], width, rtol=1e-12)
    points = gpd.GeoSeries(
        gpd.points_from_xy(source["longitude"].astype(float), source["latitude"].astype(float)),
        crs=4326,
    )
    expected = points.to_crs(points.estimate_utm_crs())
    assert found.crs == expected.crs
    assert found.geometry.distance(expected).max() < 1e-6
    assert findings.extent is not None
    np.testing.assert_allclose(findings.extent, points.total_bounds, atol=1e-7)


def test_species_are_as_the_file_names_them(findings: Findings, rows: list[dict[str, str]]) -> None:
    assert findings.inventory is not None
    found = findings.inventory.trees
    raw = pd.Series([rows[i]["scientific"] for i in found["source_row"]])
    genus_only = raw.str.fullmatch(r"[A-Z][a-z]+ spp\.")
    assert (found["species"][genus_only] == raw[genus_only].str.removesuffix(" spp.")).all()
    binomial = raw.str.fullmatch(r"[A-Z][a-z]+ [a-z]{3,}")
    assert (found["species"][binomial] == raw[binomial]).all()
    assert (found["species"][raw == "unknown"] == "unknown").all()


def test_a_geopackage_names_its_layers(tmp_path: Path) -> None:
    roads = gpd.GeoDataFrame(
        {"name": ["A"]}, geometry=[shapely.LineString([(0, 0), (1, 1)])], crs=CRS
    )
    path = write(
        tmp_path,
        {
            "Street_Centerlines": roads,
            "street_trees": trees(),
            "pruning_visits": pd.DataFrame({"tree_id": ["T1"], "visited_on": ["2020-01-01"]}),
        },
    )
    findings = inspect_file(path)
    assert findings.faults == ()
    assert findings.settings is not None
    named = findings.settings.layers.model_dump(exclude_none=True)
    assert named == {
        "trees": "street_trees",
        "streets": "Street_Centerlines",
        "visits": "pruning_visits",
    }
    assert findings.crs == "ETRS89 / UTM zone 32N"


def test_what_must_be_decided_is_a_fault_not_a_crash(tmp_path: Path) -> None:
    path = tmp_path / "city.csv"
    path.write_text("id,species,dbh,x,y\n1,Acer rubrum,12,500000,5000000\n")
    findings = inspect_file(path)
    assert findings.inventory is None
    assert findings.usable == 0
    assert findings.reasons().empty
    assert ["set city.source_crs" in fault.remedy for fault in findings.faults] == [True]


def test_an_empty_layer_is_a_fault(tmp_path: Path) -> None:
    path = write(tmp_path, {"trees": trees().iloc[:0]})
    with pytest.raises(InventoryError, match="holds no rows"):
        inspect_file(path)


def test_a_described_city_is_looked_at_as_described(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees(dbh=[0.0] + [9.0] * 19)})
    findings = inspect_city(settings(), tmp_path)
    assert (findings.rows, findings.usable, findings.proposal) == (20, 19, None)
    assert findings.reasons()["rows"].tolist() == [1]
