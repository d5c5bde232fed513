"""Measures in words. An inch is 2.54 cm, a foot 12 of them, a pound 0.45359237 kg, exactly.

Source: the international yard and pound agreement of 1959 (NIST Special Publication 811,
appendix B).
"""

import pytest

from forestcycle.practice.measures import Measures


@pytest.mark.parametrize(
    ("units", "told"),
    [
        ("metric", ["25 cm", "25.4 cm", "3.0 m", "10 kg"]),
        ("us", ["10.0 in", "10.00 in", "10 ft", "22 lb"]),
    ],
)
def test_measures_are_told_in_the_city_s_units(units, told):
    write = Measures(units)
    assert told == [
        write.diameter(25.4), write.diameter(25.4, decimals=1), write.length(3.048),
        write.weight(10.0),
    ]  # fmt: skip
