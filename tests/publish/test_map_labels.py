"""Numbers on the paper map: none lost, none covered."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.publish.map_labels import ranges, spread, stop_labels


def numbers(text: str) -> list[int]:
    found = []
    for part in text.split(", "):
        low, _, high = part.partition("-")
        found += range(int(low), int(high or low) + 1)
    return found


@given(st.sets(st.integers(1, 60), min_size=1))
def test_ranges_hold_every_number(chosen):
    assert numbers(ranges(sorted(chosen))) == sorted(chosen)


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), min_size=1, max_size=40))
def test_every_stop_has_one_label(points):
    labels = stop_labels(np.array(points, dtype=float))
    assert sorted(n for label in labels for n in numbers(label.text)) == list(
        range(1, len(points) + 1)
    )


@given(st.integers(0, 2**32 - 1), st.integers(1, 40))
@settings(max_examples=40, deadline=None)
def test_labels_do_not_cover_one_another_where_there_is_room(seed, count):
    random = np.random.default_rng(seed)
    centres = random.uniform((200, 100), (300, 200), (count, 2))
    sizes = np.column_stack([random.uniform(10, 30, count), np.full(count, 10.0)])
    box = (0.0, 0.0, 500.0, 260.0)
    placed = spread(centres, sizes, box)
    low, high = placed - sizes / 2, placed + sizes / 2
    assert (low >= 0).all()
    assert (high <= box[2:]).all()
    overlap = np.minimum(high[:, None], high[None]) - np.maximum(low[:, None], low[None])
    assert not np.triu((overlap > 1e-6).all(axis=2), k=1).any()


def test_labels_with_room_stay():
    centres = np.array([[50.0, 50.0], [100.0, 50.0]])
    np.testing.assert_allclose(
        spread(centres, np.full((2, 2), 10.0), (0, 0, 200, 200)), centres, atol=0.1
    )


def test_stops_at_one_spot_share_a_label():
    labels = stop_labels(np.array([[0.0, 0.0], [1.0, 0.0], [90.0, 0.0], [0.5, 0.0]]))
    assert [label.text for label in labels] == ["1-2, 4", "3"]


@pytest.mark.parametrize(("group", "text"), [([1], "1"), ([1, 2, 3], "1-3"), ([1, 3], "1, 3")])
def test_ranges(group, text):
    assert ranges(group) == text
