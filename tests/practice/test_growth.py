"""Growth of trees: lookups, fallbacks, and what must always hold."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.errors import SettingsError
from forestcycle.practice.growth import load_growth
from forestcycle.practice.growth_curves import DIAMETER_STEP_CM, DIAMETERS
from forestcycle.practice.species import known_species, match_species

MODEL = load_growth()
SPECIES = known_species()
ALL = MODEL.choose(match_species(SPECIES["scientific"])).curve
DBH = st.floats(0, 300)


def test_c10_coast_live_oak_in_its_region():
    """*Quercus agrifolia*, northern California coast, PSW-GTR-253: age to DBH."""
    model = load_growth(region="Northern California Coast")
    choice = model.choose(match_species(["Quercus agrifolia"] * 3))
    dbh = model.dbh_cm(choice.curve, [10, 20, 30])
    assert dbh == pytest.approx([16.4264, 31.2955, 46.1646], abs=1e-4)
    assert model.age_years(choice.curve, dbh) == pytest.approx([10, 20, 30], abs=0.05)
    assert model.growth_cm_per_year(choice.curve, dbh) == pytest.approx(1.48691, abs=1e-3)
    assert choice.of_region.all()


def test_where_growth_comes_from_is_marked():
    names = ["Acer rubrum", "Acer griseum", "Acer tataricum", "Stewartia pseudocamellia", "unknown"]
    choice = MODEL.choose(match_species(names))
    assert list(choice.table) == ["species", "genus", "genus", "size class", "size class"]
    assert not choice.of_region.any()


def test_a_region_without_the_species_falls_back_to_all_regions():
    inland = load_growth(region="Inland Empire")
    choice = inland.choose(match_species(["Acer platanoides", "Quercus agrifolia"]))
    assert list(choice.of_region) == [False, True]
    everywhere = MODEL.choose(match_species(["Acer platanoides"]))
    assert inland.height_m(choice.curve[:1], [30.0]) == MODEL.height_m(everywhere.curve, [30.0])


def test_an_unknown_region_names_the_nearest():
    with pytest.raises(SettingsError, match="did you mean 'Pacific Northwest'"):
        load_growth(region="Pacific North West")


def test_at_least_sixty_species_have_curves_of_their_own():
    choice = MODEL.choose(match_species(SPECIES["scientific"]))
    own = (choice.table == "species") & (SPECIES["rank"] == "species").to_numpy()
    assert own.sum() >= 60


@given(DBH, DBH)
def test_curves_never_fall(one, other):
    low, high = np.full(len(ALL), min(one, other)), np.full(len(ALL), max(one, other))
    for of_diameter in (MODEL.height_m, MODEL.crown_diameter_m, MODEL.age_years):
        assert (of_diameter(ALL, low) <= of_diameter(ALL, high) + 1e-9).all()
    assert (MODEL.dbh_cm(ALL, low) <= MODEL.dbh_cm(ALL, high) + 1e-9).all()


@given(DBH, st.floats(0, 50), st.floats(0, 50))
def test_diameter_rises_with_waiting(dbh, years, more):
    now = np.full(len(ALL), dbh)
    later = MODEL.dbh_after(ALL, now, years)
    assert (later >= now).all()
    assert (MODEL.dbh_after(ALL, now, years + more) >= later - 1e-9).all()
    assert (MODEL.growth_cm_per_year(ALL, now) >= 0).all()


def test_sizes_are_those_of_trees():
    """No published tree of a city is taller than 50 m, wider than 40 m or grows 8 cm a year."""
    grid = np.repeat(DIAMETERS[None, :], len(ALL), axis=0)
    curve = np.repeat(ALL[:, None], len(DIAMETERS), axis=1)
    height, crown = MODEL.height_m(curve, grid), MODEL.crown_diameter_m(curve, grid)
    growth = MODEL.growth_cm_per_year(curve, grid)
    assert np.isfinite(height).all()
    assert ((height > 0) & (height < 50)).all()
    assert ((crown > 0) & (crown < 40)).all()
    assert ((growth >= 0) & (growth < 8)).all()


def test_age_and_diameter_are_inverse_where_the_curve_rises():
    """To a step of the grid of diameters, where a curve bends sharply; else far closer."""
    ages = np.arange(3.0, 25.0)
    for curve in ALL:
        same = np.full(len(ages), curve)
        dbh = MODEL.dbh_cm(same, ages)
        rising = MODEL.growth_cm_per_year(same, dbh) > 0.3
        inside = rising & ~MODEL.outside_limits(same, dbh)
        back = MODEL.dbh_cm(same, MODEL.age_years(same, dbh))
        assert back[inside] == pytest.approx(dbh[inside], abs=DIAMETER_STEP_CM)


def test_trees_outside_the_limits_are_marked_and_keep_the_limit():
    curve = MODEL.choose(match_species(["Acer rubrum"] * 3)).curve
    dbh = [0.5, 30.0, 250.0]
    assert list(MODEL.outside_limits(curve, dbh)) == [True, False, True]
    assert MODEL.height_m(curve[:1], [250.0]) == MODEL.height_m(curve[:1], [300.0])


def test_palms_do_not_thicken():
    curve = MODEL.choose(match_species(["Washingtonia robusta", "Trachycarpus"])).curve
    assert (MODEL.growth_cm_per_year(curve, [40.0, 15.0]) == 0).all()


def test_the_citys_own_equations_replace_ours(tmp_path):
    rows = pd.DataFrame(
        {
            "region": "here", "species": "Acer rubrum", "form": "lin",
            "relation": ["dbh_cm_from_age", "height_m_from_dbh", "crown_diameter_m_from_dbh"],
            "a": [0.0, 1.0, 1.0], "b": [1.0, 0.2, 0.1], "c": "", "d": "", "e": "",
            "least_x": 0, "most_x": [80, 80, 80], "least_value": [0, 1, 1],
            "most_value": [80, 17, 9], "source": "own survey",
        }
    )  # fmt: skip
    rows.to_csv(tmp_path / "growth_equations.csv", index=False)
    model = load_growth(region="here", folder=tmp_path)
    curve = model.choose(match_species(["Acer rubrum", "Quercus rubra"])).curve
    assert model.growth_cm_per_year(curve[:1], [20.0]) == pytest.approx([1.0])


def test_an_equation_missing_from_the_citys_table_is_a_fault(tmp_path):
    text = "region,species,relation,form,a,b,c,d,e,least_x,most_x,least_value,most_value,source\n"
    text += "here,Acer rubrum,dbh_cm_from_age,lin,0,1,,,,0,80,0,80,own survey\n"
    (tmp_path / "growth_equations.csv").write_text(text)
    with pytest.raises(SettingsError, match="needs one row for each"):
        load_growth(folder=tmp_path)
