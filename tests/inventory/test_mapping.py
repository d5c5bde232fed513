"""Fields, units and words are proposed from names and values."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forestcycle.inventory.layer import Layer, LayerInfo
from forestcycle.inventory.mapping import Proposal, plain_name, propose_mapping
from forestcycle.inventory.meanings import propose_meanings
from forestcycle.inventory.source import Source
from forestcycle.inventory.units import propose_units

US, EUROPE = (-122.6, 45.5), (9.0, 48.0)


def propose(table: pd.DataFrame, place: tuple[float, float] = EUROPE) -> Proposal:
    source = Source(Path("city.gpkg"), "trees")
    info = LayerInfo(source, tuple(table.columns), "fid", "Point", len(table))
    layer = Layer(source, table, np.array([], dtype=object), None)
    return propose_mapping(info, layer, longitude=place[0], latitude=place[1])


def found(table: pd.DataFrame) -> dict[str, str]:
    return {key: guess.value for key, guess in propose(table).fields.items()}


@pytest.mark.parametrize(
    ("name", "plain"),
    [("TreeID", "tree_id"), ("Crown Width (ft)", "crown_width_ft"), ("DBH", "dbh")],
)
def test_field_names_are_made_plain(name: str, plain: str) -> None:
    assert plain_name(name) == plain


def test_names_that_a_shapefile_cut() -> None:
    """Names of fields have ten letters at most (Esri, *ESRI Shapefile Technical Description*)."""
    long = {
        "botanical_name": ["Acer rubrum", "Quercus robur"],
        "common_name": ["red maple", "oak"],
        "trunk_diameter": [12, 40],
        "crown_spread": [3.0, 9.0],
        "overhead_wires": ["no", "yes"],
        "planting_date": ["2001", "1999"],
        "street_name": ["A", "B"],
    }
    cut = {name.upper()[:10]: values for name, values in long.items()}
    assert found(pd.DataFrame(cut)) == {
        key: name.upper()[:10] for key, name in found(pd.DataFrame(long)).items()
    }
    assert len(found(pd.DataFrame(cut))) == len(long)


def test_names_of_other_habits() -> None:
    table = pd.DataFrame(
        {
            "OBJECTID": [1, 2],
            "TreeID": ["a", "b"],
            "SPP": ["ACRU", "QURO"],
            "Botanical Name": ["Acer rubrum", "Quercus robur"],
            "CommonName": ["red maple", "oak"],
            "Trunk_Diam_cm": [12, 40],
            "HEIGHT_FT": [20, 30],
            "CrownSpread": [3.0, 9.0],
            "Health": ["Good", "Poor"],
            "PlantDate": ["2001", "1999"],
            "OnStreet": ["A", "B"],
        }
    )
    proposal = propose(table)
    assert {key: guess.value for key, guess in proposal.fields.items()} == {
        "tree_id": "TreeID",
        "species": "Botanical Name",
        "common_name": "CommonName",
        "dbh": "Trunk_Diam_cm",
        "height": "HEIGHT_FT",
        "crown_diameter": "CrownSpread",
        "condition": "Health",
        "planted_on": "PlantDate",
        "street": "OnStreet",
    }
    assert {key: (guess.value, guess.certainty) for key, guess in proposal.units.items()} == {
        "dbh": ("cm", "sure"),
        "height": ("ft", "sure"),
        "crown_diameter": ("m", "likely"),
    }


def test_a_name_whose_values_do_not_fit_is_not_taken() -> None:
    table = pd.DataFrame(
        {"id": ["x"] * 9, "dbh": ["stout"] * 9, "species": ["ACRU"] * 9, "height": [3.0] * 9}
    )
    assert set(found(table)) == {"height"}


def test_species_are_recognised_by_their_values() -> None:
    table = pd.DataFrame({"what": ["Acer rubrum", "Quercus robur 'Fastigiata'"], "dbh": [9, 9]})
    assert found(table) == {"dbh": "dbh", "species": "what"}


@pytest.mark.parametrize(
    ("typical", "place", "unit"),
    [
        (7.0, US, "in"),
        (7.0, EUROPE, "in"),
        (22.0, EUROPE, "cm"),
        (22.0, US, "cm"),
        (220.0, US, "mm"),
    ],
)
def test_diameter_units_follow_the_distribution(
    typical: float, place: tuple[float, float], unit: str
) -> None:
    values = pd.Series(np.random.default_rng(0).lognormal(np.log(typical), 0.8, 5_000))
    assert propose_units({"dbh": values}, {}, *place)["dbh"][0] == unit


def test_other_lengths_follow_the_diameters_system() -> None:
    width, tall = pd.Series([4.0, 9.0]), pd.Series([40.0, 70.0])
    columns = {"dbh": pd.Series([5.0, 9.0]), "site_width": width}
    assert propose_units(columns, {"dbh": "in"}, None, None)["site_width"][0] == "ft"
    assert propose_units(columns, {"dbh": "cm"}, None, None)["site_width"][0] == "m"
    assert propose_units({"height": tall}, {}, *EUROPE)["height"][0] == "ft"


def test_words_are_proposed_and_the_open_ones_named() -> None:
    words = pd.Series(["Very Good", "FAIR", "dead", "stressed", None, ""])
    meanings, still_open = propose_meanings("condition", words)
    assert meanings == {"Very Good": "good", "FAIR": "fair", "dead": "dead"}
    assert still_open == ["stressed"]


def test_conductors_that_are_not_denied_are_unknown() -> None:
    """Common practice: treat a line as live and dangerous until its owner says otherwise."""
    words = pd.Series(["Yes", "No HV", "None", "Primary", "Phone"])
    meanings, still_open = propose_meanings("conductors", words)
    assert meanings == {
        "Yes": "unknown", "No HV": "unknown", "None": "none", "Primary": "high_voltage",
        "Phone": "unknown",
    }  # fmt: skip
    assert still_open == []
