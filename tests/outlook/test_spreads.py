"""How chances vary: distributions as stated, tables that fit."""

import numpy as np
import pytest
from scipy import stats

from forestcycle.errors import SettingsError
from forestcycle.outlook import Chances, load_chances
from forestcycle.outlook.spreads import Spread, draw_chances, load_spreads


def test_the_shipped_table_names_every_chance():
    found = load_spreads()
    assert set(found) == set(Chances.__dataclass_fields__)
    random = np.random.default_rng(1)
    for _ in range(200):
        drawn = draw_chances(load_chances(), found, random)
        assert 0 <= drawn.storm_days <= 0.05


def test_draws_follow_the_stated_distributions():
    """Against scipy.stats: Kolmogorov-Smirnov on 4,000 draws, and the quantile in the table."""
    spreads = {
        "growth": Spread("lognormal", 1.2),
        "storm_damage": Spread("lognormal", 2.0),
        "storm_days": Spread("uniform", 0.3),
    }
    random = np.random.default_rng(5)
    expected = Chances(growth=0.9, storm_damage=0.01, storm_days=0.1)
    drawn = [draw_chances(expected, spreads, random) for _ in range(4_000)]
    for name, median, upper in (("growth", 0.9, 1.2), ("storm_damage", 0.01, 2.0)):
        values = np.array([getattr(each, name) for each in drawn])
        sigma = np.log(upper) / stats.norm.ppf(0.95)
        assert stats.kstest(values, stats.lognorm(sigma, scale=median).cdf).pvalue > 0.01
        assert np.mean(values > median * upper) == pytest.approx(0.05, abs=0.015)
    days = np.array([each.storm_days for each in drawn])
    assert stats.kstest(days, stats.uniform(0.1, 0.2).cdf).pvalue > 0.01
    assert {each.minutes for each in drawn} == {1.0}


def test_a_table_of_the_citys_own(tmp_path):
    own = tmp_path / "uncertainty.csv"
    own.write_text("chance,distribution,upper,source\nminutes factor,lognormal,1.3,ours\n")
    assert load_spreads(folder=tmp_path) == {"minutes": Spread("lognormal", 1.3)}
    own.write_text("chance,distribution,upper,source\nminutes factor,lognormal,0.3,ours\n")
    with pytest.raises(SettingsError, match=r"minutes factor: upper = 0\.3 -> give 1 or more"):
        load_spreads(folder=tmp_path)
    own.write_text("chance,distribution,upper,source\nluck,normal,1.3,ours\n")
    with pytest.raises(SettingsError, match="luck"):
        load_spreads(folder=tmp_path)
