import pytest

from forestcycle.cycle.outlook_target import read_targets
from forestcycle.errors import SettingsError
from forestcycle.outlook.target import Target


def test_targets_are_read_as_written():
    assert read_targets(["young on recall 90% by 5", "on recall 80.5 % by 10"], years=10) == [
        Target("young on recall", 0.9, 5),
        Target("on recall", 0.805, 10),
    ]


def test_what_is_no_target_is_named_all_at_once():
    with pytest.raises(SettingsError) as error:
        read_targets(
            ["old on recall 90% by 5", "on recall 120% by 5", "on recall 90% by 7"], years=6
        )
    assert len(error.value.faults) == 3
    assert "'on recall 90% by year 7' clashes with 'years 6'" in str(error.value)
