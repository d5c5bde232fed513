"""Names do not repeat while they should not."""

import numpy as np

from sample_city.names import close_names, street_names


def test_names_of_a_large_city_all_differ():
    names = street_names(3_000, np.random.default_rng(1))
    assert len(set(names)) == len(names) == 3_000


def test_no_closes_no_names():
    assert len(close_names(0, np.random.default_rng(1))) == 0
