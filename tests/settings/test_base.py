"""Times of day in the settings, as TOML writes them (TOML 1.0.0, "Local Time")."""

import tomllib

import pytest

from forestcycle.errors import SettingsError
from forestcycle.settings.load import check_settings

CITY = """
[city]
name = "Quellhaven"
inventory = "city.gpkg"
year_start = 2027-01-01
year_end = 2027-12-31

[[hours]]
name = "school"
targets = ["school"]
"""


@pytest.mark.parametrize("written", ["12:30:00", "12:30:00.5", '"12:30"'])
def test_a_time_of_day_is_taken(written):
    text = f"{CITY}work_from = {written}\nwork_until = 15:30:00"
    rule = check_settings(tomllib.loads(text), "cycle.toml").hours[0]
    assert (rule.work_from.hour, rule.work_from.minute) == (12, 30)


@pytest.mark.parametrize("key", ["work_from", "work_until"])
@pytest.mark.parametrize("written", ["960", "1e-300", "true", '"12:30Z"', '"noon"', "[]", "nan"])
def test_a_number_or_another_zone_is_refused_in_a_line(written, key):
    hours = {"work_from": "08:00:00", "work_until": "15:30:00"} | {key: written}
    text = CITY + "\n".join(f"{name} = {value}" for name, value in hours.items())
    with pytest.raises(SettingsError) as caught:
        check_settings(tomllib.loads(text), "cycle.toml")
    assert len(caught.value.faults) == 1
    assert f"hours.1.{key}" in caught.value.faults[0].what


def test_a_shift_that_starts_at_a_number_is_refused():
    text = f'{CITY}work_from = 08:00:00\nwork_until = 15:30:00\n[[crews]]\nname = "A"\n'
    with pytest.raises(SettingsError, match=r"shift_start = 7: a number is no time"):
        check_settings(tomllib.loads(f"{text}shift_start = 7"), "cycle.toml")
