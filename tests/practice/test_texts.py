"""Texts for many trees."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.practice import texts

words = st.sampled_from(["", "a", "b c", "d"])


@given(st.lists(st.tuples(words, words, words), min_size=1, max_size=30))
def test_together_is_joining_one_by_one(rows):
    columns = [texts.distinct(np.array(column, dtype=object)) for column in zip(*rows, strict=True)]
    assert list(texts.together(columns).values) == [" ".join(filter(None, row)) for row in rows]


@given(st.lists(st.lists(words, max_size=5), min_size=1, max_size=12))
def test_listed_is_joining_by_tree(phrases):
    tree = np.array([row for row, said in enumerate(phrases) for _ in said], dtype=np.int64)
    said = np.array([text for row in phrases for text in row], dtype=object)
    found = texts.listed(tree, texts.distinct(said), len(phrases))
    assert list(found.values) == ["; ".join(filter(None, row)) for row in phrases]


def test_numbers_fill_a_template_and_zero_says_nothing():
    found = texts.from_numbers(np.array([15, 0, 15]), "{} %")
    assert list(found.values) == ["15 %", "", "15 %"]


def test_where_says_it_only_where_it_holds():
    assert list(texts.where(np.array([True, False]), "now").values) == ["now", ""]
