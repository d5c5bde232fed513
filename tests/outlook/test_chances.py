"""Rates over 1, and every other figure of the chances that cannot be meant."""

import pytest

from forestcycle.errors import SettingsError
from forestcycle.outlook import Chances, load_chances, look_ahead
from forestcycle.outlook.chances import NAMES, SHARES
from forestcycle.outlook.spreads import load_spreads
from tests.outlook.small_horizon import small_horizon
from tests.practice.own_table import own_table

FACTORS_OF_RATES = ("growth", "new_faults", "worsening")


def test_published_storm_damage_is_in_force():
    """Luley, Sisinni and Pleninger 2002: 7.6 branch failures per 1,000 trees and year."""
    assert load_chances().storm_damage == 0.0076


@pytest.mark.parametrize(
    "chances",
    [{"storm_damage": 1.2}, {"storm_days": -0.1}, {"minutes": -1}, {"growth": float("nan")}],
)
def test_chances_that_cannot_be_are_refused(chances):
    with pytest.raises(SettingsError):
        Chances(**chances)


@pytest.mark.parametrize("name", SHARES)
@pytest.mark.parametrize("value", ["1.01", "76", "-0.1", "nan", "inf", "often"])
def test_a_share_over_1_is_refused_by_name(name, value, tmp_path):
    own_table(tmp_path, "outlook", "value", value, row=NAMES[name])
    with pytest.raises(SettingsError) as error:
        load_chances(folder=tmp_path)
    assert value in str(error.value)


@pytest.mark.parametrize("name", FACTORS_OF_RATES)
def test_a_factor_that_moves_more_than_all_trees_is_refused_by_name(name):
    stock = small_horizon(60).stock
    with pytest.raises(SettingsError, match=rf"{NAMES[name]} = 1000.*at most 100 % a year"):
        look_ahead(stock, Chances(**{name: 1000.0}))


@pytest.mark.parametrize(
    ("chance", "distribution", "upper", "said"),
    [
        ("share of crew-days lost to storms", "uniform", "1.5", "a share is no more than 1"),
        ("storm damage per tree and year", "uniform", "7.6", "a share is no more than 1"),
        ("storm damage per tree and year", "lognormal", "200", "give at most 131.579"),
        ("storm damage per tree and year", "uniform", "0.001", "give 0.0076"),
        ("growth factor", "uniform", "0.8", "give 1, as in outlook.csv, or more"),
        ("minutes factor", "lognormal", "0.3", "give 1 or more"),
        ("worsening factor", "lognormal", "-1", "a number from 0"),
    ],
)
def test_a_spread_that_no_draw_can_follow_is_refused(chance, distribution, upper, said, tmp_path):
    (tmp_path / "uncertainty.csv").write_text(
        f"chance,distribution,upper,source\n{chance},{distribution},{upper},ours\n"
    )
    with pytest.raises(SettingsError) as error:
        load_spreads(folder=tmp_path)
    assert said in str(error.value)


def test_the_largest_share_is_meant_around_the_citys_own(tmp_path):
    own_table(tmp_path, "outlook", "value", "0.4", row=NAMES["storm_damage"])
    own_table(tmp_path, "uncertainty", "upper", "3", row=NAMES["storm_damage"])
    with pytest.raises(SettingsError, match=r"upper = 3 -> give at most 2\.5"):
        load_spreads(folder=tmp_path)


@pytest.mark.parametrize(
    ("name", "load"), [("outlook", load_chances), ("uncertainty", load_spreads)]
)
def test_a_chance_twice_or_unknown_is_refused(name, load, tmp_path):
    path = own_table(tmp_path, name)
    text = path.read_text()
    path.write_text(text + text.splitlines()[1] + "\n")
    with pytest.raises(SettingsError, match="'growth factor' stands in two rows"):
        load(folder=tmp_path)
    path.write_text(text.replace("growth factor", "luck"))
    with pytest.raises(SettingsError, match="'luck' does not fit"):
        load(folder=tmp_path)


def test_a_chance_that_is_missing_is_named(tmp_path):
    path = own_table(tmp_path, "outlook")
    path.write_text("".join(path.read_text().splitlines(keepends=True)[:-1]))
    with pytest.raises(SettingsError, match="no row for 'share of crew-days lost to storms'"):
        load_chances(folder=tmp_path)
