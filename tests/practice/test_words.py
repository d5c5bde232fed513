"""Columns that hold one of a few words."""

import numpy as np

from forestcycle.practice.words import from_codes


def test_codes_become_words_and_keep_their_order():
    column = from_codes(np.array([1, -1, 0]), ("low", "high"), ordered=True)
    assert list(column[[0, 2]]) == ["high", "low"]
    assert column.isna()[1]
    assert column.max() == "high"
