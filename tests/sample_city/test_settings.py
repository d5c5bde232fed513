"""The settings of every size of city can be followed."""

import pytest

from forestcycle.settings import load_settings
from sample_city.names import depot_names
from sample_city.settings import settings_text


@pytest.mark.parametrize("trees", [200, 6_000, 100_000, 1_000_000])
def test_settings_load_and_fit_the_size(tmp_path, trees):
    path = tmp_path / "cycle.toml"
    path.write_text(settings_text(trees), encoding="utf-8")
    settings = load_settings(path)
    names = depot_names(trees)
    assert {crew.depot for crew in settings.crews} <= set(names)
    days = sum(crew.most_days for crew in settings.crews)
    assert days == pytest.approx(max(3, trees / 80), rel=0.1)
    cost = sum(crew.most_days * crew.day_cost_cents for crew in settings.crews)
    assert settings.budget.year_cents < cost
    assert any("line_clearance" in crew.skills for crew in settings.crews)
    assert len(set(names)) == len(names)


def test_a_very_large_city_has_more_depots():
    assert len(depot_names(6_000)) == 2
    assert len(depot_names(1_000_000)) == 12
