"""Hours and equipment of trees, in words; what the settings refuse."""

import numpy as np
import pytest

from forestcycle.errors import SettingsError
from forestcycle.schedule.hours import earliest_begin, latest_begin
from forestcycle.schedule.problem import MINUTES_PER_DAY
from forestcycle.schedule.tree_rules import clock
from forestcycle.settings.load import check_settings

CITY = {
    "name": "Elmstead",
    "inventory": "elmstead.gpkg",
    "year_start": "2027-03-01",
    "year_end": "2027-03-14",
}
HOURS = {"name": "school", "targets": ["school"], "work_from": "09:00", "work_until": "14:00"}


def refused(**parts):
    with pytest.raises(SettingsError) as refusal:
        check_settings({"city": CITY} | parts, "cycle.toml")
    return str(refusal.value)


def test_hours_must_run_forward():
    assert "work_until 08:00 is not after work_from 09:00" in refused(
        hours=[HOURS | {"work_until": "08:00"}]
    )


def test_a_rule_names_some_trees():
    assert "'school' names no trees" in refused(hours=[HOURS | {"targets": []}])
    assert "'lift truck' names no trees" in refused(equipment=[{"name": "lift truck"}])


def test_a_crew_lists_equipment_that_there_is():
    said = refused(
        equipment=[{"name": "lift truck", "height_m": 9}],
        crews=[{"name": "North", "equipment": ["lift trick"]}],
    )
    assert "no [[equipment]] is named 'lift trick'; 'lift truck'" in said


def test_an_unknown_target_is_refused():
    assert "targets" in refused(hours=[HOURS | {"targets": ["college"]}])


@pytest.mark.parametrize(("minute", "text"), [(0, "00:00"), (510, "08:30"), (1440, "24:00")])
def test_clock(minute, text):
    assert clock(minute) == text


def test_begins_agree_with_the_clock_minute_by_minute():
    """Every begin that the clock allows, tried one by one: the first and the last are these."""
    leaves, due, rest, service = 420.0, 100.0, 30.0, 25.0
    begin = np.arange(0, 400.0)
    on_clock = leaves + begin + np.where(begin >= due, rest, 0)
    for opens, shuts in [(430, 500), (505, 560), (525, 600), (540, 575), (400, 1439)]:
        allowed = begin[(on_clock >= opens) & (on_clock + service <= shuts)]
        low = max(0.0, float(earliest_begin(opens, leaves, due, rest)))
        high = float(latest_begin(shuts, service, leaves, due, rest))
        within = begin[(begin >= low) & (begin <= high)]
        np.testing.assert_array_equal(within, allowed)
    assert latest_begin(MINUTES_PER_DAY, service, leaves, due, rest) == np.inf
