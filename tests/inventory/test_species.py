"""Scientific names come out in one spelling; the misspelt get a suggestion."""

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.inventory.species import doubtful_names, parse_name, read_species

KNOWN = ["Acer rubrum", "Acer platanoides", "Platanus x hispanica", "Prunus", "Quercus robur"]


@pytest.mark.parametrize(
    ("raw", "name"),
    [
        ("Prunus spp.", "Prunus"),
        ("Acer sp", "Acer"),
        ("Acer rubrum", "Acer rubrum"),
        ("ACER RUBRUM", "Acer rubrum"),
        ("acer rubrum", "Acer rubrum"),
        ("Acer rubrum 'October Glory'", "Acer rubrum"),
        ("Acer rubrum ‘October Glory’", "Acer rubrum"),
        ("Acer\u00a0rubrum", "Acer rubrum"),
        ("Acer cf. rubrum", "Acer rubrum"),
        ("Tilia cordata Mill.", "Tilia cordata"),
        ("Picea abies (L.) H. Karst.", "Picea abies"),
        ("Gleditsia triacanthos var. inermis", "Gleditsia triacanthos"),
        ("Platanus × hispanica", "Platanus × hispanica"),
        ("Platanus x hispanica", "Platanus × hispanica"),
        ("PLATANUS X HISPANICA", "Platanus × hispanica"),
        ("×Chitalpa tashkentensis", "×Chitalpa tashkentensis"),
        ("x Chitalpa tashkentensis", "×Chitalpa tashkentensis"),
        ("Crataegus laevigata (red flowers)", "Crataegus laevigata"),
        ("Acer :: maple", "Acer"),
        ("unknown", ""),
        ("Vacant site", ""),
        ("<b>Acer</b>", ""),
        ("42", ""),
        ("", ""),
    ],
)
def test_names_are_taken_apart(raw: str, name: str) -> None:
    """Forms of writing: International Code of Nomenclature for algae, fungi, and plants
    (Shenzhen, 2018), appendix H for hybrids; common practice for the rest."""
    assert str(parse_name(raw)) == name


@pytest.mark.parametrize(
    ("raw", "species", "doubtful", "suggestion"),
    [
        ("Platanus × hispanica", "Platanus x hispanica", False, ""),
        ("Acer rubum", "Acer", True, "Acer rubrum"),
        ("Acer rubrun", "Acer", True, "Acer rubrum"),
        ("Acr rubrum", "unknown", True, "Acer rubrum"),
        ("Querqus robur", "unknown", True, "Quercus robur"),
        ("Acre rubrum", "unknown", True, "Acer rubrum"),
        ("Acer griseum", "Acer griseum", False, ""),
        ("Acer Snowdrift", "Acer", False, ""),
        ("Acer Rubrum", "Acer rubrum", False, ""),
        ("Styrax japonicus", "Styrax japonicus", True, ""),
        ("Lamp post", "Lamp post", True, ""),
        ("Styrax", "unknown", True, ""),
        ("", "unknown", True, ""),
    ],
)
def test_names_are_looked_up(raw: str, species: str, doubtful: bool, suggestion: str) -> None:  # noqa: FBT001
    read = read_species(pd.Series([raw]), known=KNOWN)
    assert (read.species[0], read.doubtful[0], read.suggestion[0]) == (
        species, doubtful, suggestion,
    )  # fmt: skip


@pytest.mark.parametrize("cultivar_first", [False, True])
def test_a_species_is_not_taken_for_its_cultivar(cultivar_first: bool) -> None:  # noqa: FBT001
    known = ["Fraxinus pennsylvanica", "Fraxinus pennsylvanica 'Marshall'"]
    names = ["Fraxinus pennsylvanica", "FRAXINUS  PENNSYLVANICA", "Fraxinus pennsylvanica 'Summit'",
             "Fraxinus pennsylvanica ‘Marshall’"]  # fmt: skip
    read = read_species(pd.Series(names), known=known[::-1] if cultivar_first else known)
    assert read.species.tolist() == [known[0], known[0], known[0], known[1]]
    assert not read.doubtful.any()


def test_without_tables_every_well_formed_name_passes() -> None:
    read = read_species(pd.Series(["Styrax spp.", "Querqus robur", None]))
    assert read.species.tolist() == ["Styrax", "Querqus robur", "unknown"]
    assert read.doubtful.tolist() == [False, False, True]


def test_doubtful_names_come_once_each_the_most_frequent_first() -> None:
    names = ["Acer rubum", "Acer rubrum", "Lamp post", "Querqus robur", "Querqus robur", None, ""]
    found = doubtful_names(pd.Series([*names, "Lamp post", "Lamp post"], dtype=object), KNOWN)
    assert list(found.items()) == [
        ("Lamp post", ""), ("Querqus robur", "Quercus robur"), ("Acer rubum", "Acer rubrum"),
    ]  # fmt: skip


def test_no_rows() -> None:
    assert len(read_species(pd.Series([], dtype=str)).species) == 0


@given(st.text())
def test_a_name_read_again_stays_the_same(raw: str) -> None:
    once = str(parse_name(raw))
    assert str(parse_name(once)) == once


@given(st.lists(st.text(max_size=12), max_size=20))
def test_no_text_breaks_it(names: list[str]) -> None:
    read = read_species(pd.Series(names, dtype=object), known=KNOWN)
    assert len(read.species) == len(names)
    assert not read.species.str.contains("[<>&]", regex=True).any()
