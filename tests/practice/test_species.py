"""Finding species by name."""

import numpy as np
import pandas as pd
import pytest

from forestcycle.errors import SettingsError
from forestcycle.practice.species import known_species, match_species


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("Acer rubrum", "Acer rubrum"),
        ("  acer RUBRUM 'Red Sunset'", "Acer rubrum"),
        ("Acer rubrum var. trilobum", "Acer rubrum"),
        ("Acer spp.", "Acer"),
        ("Acer sp.", "Acer"),
        ("Acer tataricum", "Acer"),
        ("Platanus × acerifolia", "Platanus x acerifolia"),
        ("Platanus x hispanica", "Platanus x acerifolia"),
        ("Sophora japonica", "Styphnolobium japonicum"),
        ("", "unknown"),
        ("Qwertya asdf", "unknown"),
    ],
)
def test_names_are_found_as_foresters_write_them(name, found):
    match = match_species([name])
    assert match.column("scientific")[0] == found


def test_how_a_name_was_found_is_kept():
    match = match_species(pd.Series(["Acer rubrum", "Acer tataricum", "unknown", None]))
    assert list(match.column("rank")) == ["species", "genus", "size class", "size class"]


def test_no_names_no_rows():
    assert len(match_species([]).row) == 0


def test_a_citys_own_table_without_the_unknown_kind_is_refused(tmp_path):
    table = known_species()
    table[table["scientific"] != "unknown"].to_csv(tmp_path / "species.csv", index=False)
    with pytest.raises(SettingsError) as caught:
        match_species(["Acer rubrum"], folder=tmp_path)
    (fault,) = caught.value.faults
    assert fault.what == "no row for 'unknown'"
    assert fault.where == str(tmp_path / "species.csv")


def test_every_name_of_the_table_finds_its_own_row():
    table = known_species()
    assert table["scientific"].is_unique
    assert np.array_equal(match_species(table["scientific"]).row, np.arange(len(table)))


def in_group(match, group):
    return match.rows_in_group(group)[match.row]


def test_sap_bleeders_are_those_of_csu_gardennotes_613():
    """CSU Extension, GardenNotes 613, names these twelve kinds."""
    bleeders = [
        "Betula nigra", "Robinia pseudoacacia", "Ulmus americana", "Laburnum anagyroides",
        "Celtis occidentalis", "Styphnolobium japonicum", "Gymnocladus dioica", "Acer saccharum",
        "Morus alba", "Populus deltoides", "Juglans nigra", "Salix babylonica",
    ]  # fmt: skip
    assert in_group(match_species(bleeders), "sap bleeders").all()
    others = match_species(["Quercus rubra", "Tilia cordata", "Fraxinus americana", "unknown"])
    assert not in_group(others, "sap bleeders").any()
    assert in_group(others, "every tree").all()


def test_a_real_inventory_resolves(shared_data):
    """Portland street trees, four neighbourhoods (City of Portland 2010-2016)."""
    trees = pd.read_csv(shared_data / "trees" / "portland_street_trees_4nbhd.csv.gz")
    match = match_species(trees["scientific"])
    unmatched = match.column("scientific") == "unknown"
    assert set(trees["scientific"][unmatched]) == {"unknown"}
