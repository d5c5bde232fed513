"""Priority and its sensitivity; the scale is ours, so its shape is tested."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.practice.assess import assess
from forestcycle.practice.assessment import PARTS_OF_PRIORITY
from forestcycle.practice.priority import (
    Circumstances,
    load_points,
    load_target_weights,
    priority,
    sensitivity,
)
from forestcycle.settings.practice import Practice, Weights
from tests.practice.stands import ON, YEAR_END, stand_of

POINTS = load_points()
USUAL = {
    "share_lost": 0.4,
    "minutes_saved": 10.0,
    "worst_severity": 0.5,
    "target_weight": 0.7,
    "ripeness": 1.0,
    "spans_overdue": 0.5,
    "requested": False,
    "mandatory": False,
    "workable": True,
}


def worth(weights=None, **changes):
    facts = {name: np.array([value]) for name, value in (USUAL | changes).items()}
    return priority(Circumstances(**facts), POINTS, weights or Weights())


def test_parts_by_hand():
    parts = worth()
    assert parts.waiting == pytest.approx([60 * 0.4 + 0.5 * 10])
    assert parts.overdue == pytest.approx([20 * 0.5])
    assert parts.target == pytest.approx([20 * 0.7 * 0.5])
    assert parts.request == [0]
    assert parts.total == pytest.approx([29 + 10 + 7])


@given(st.lists(st.floats(0, 3), min_size=4, max_size=4))
def test_weights_scale_their_own_part_only(weights):
    names = ("waiting", "overdue", "target", "request")
    plain = worth(requested=True)
    weighted = worth(Weights(**dict(zip(names, weights, strict=True))), requested=True)
    for name, weight in zip(names, weights, strict=True):
        assert getattr(weighted, name) == pytest.approx(getattr(plain, name) * weight)


@pytest.mark.parametrize(
    ("name", "less", "more"),
    [
        ("share_lost", 0.1, 0.9),
        ("minutes_saved", 0, 20),
        ("worst_severity", 0.1, 0.9),
        ("target_weight", 0.3, 1.0),
        ("ripeness", 0.0, 1.0),
        ("spans_overdue", 0.0, 1.5),
        ("requested", False, True),
        ("mandatory", False, True),
    ],
)
def test_more_of_anything_is_worth_more(name, less, more):
    assert worth(**{name: less}).total < worth(**{name: more}).total


def test_no_work_and_no_request_is_worth_nothing():
    assert worth(workable=False).total == [0]
    assert worth(workable=False, requested=True).total > 0


def test_every_target_word_has_a_weight():
    from forestcycle.inventory.schema import TARGETS

    assert set(load_target_weights()) == set(TARGETS)


def judged(*trees, **records):
    return assess(stand_of(trees, **records), Practice(), on=ON, year_end=YEAR_END).trees


def test_a_young_tree_is_worth_more_than_an_old_one_with_the_same_fault():
    # Ryder and Moore 2013: formative pruning costs a sixteenth of pruning the tree when 20
    # years old, so that waiting loses most with the young.
    fault = {"defect": "codominant stems", "measured": ("aspect ratio", 0.85, "")}
    trees = judged(
        {"dbh_cm": 8.0},
        {"dbh_cm": 80.0},
        defects=[fault, fault | {"tree_id": "T1"}],
    )
    assert trees["priority_waiting"].iloc[0] > trees["priority_waiting"].iloc[1]


def test_a_school_below_counts_more_than_a_park():
    trees = judged({"target": "school"}, {"target": "park"})
    assert trees["priority"].iloc[0] > trees["priority"].iloc[1]


def test_a_tree_just_visited_is_worth_nothing_yet():
    trees = judged({"dbh_cm": 30.0}, visits=[{"visited_on": "2026-12-01", "dose": 0.1}])
    assert trees["not_before"].item() > pd.Timestamp(YEAR_END)
    assert trees["priority"].item() == 0


def test_sensitivity_by_hand():
    # Two trees of one minute, one chosen: A has 10 by waiting, B has 9 by target. Target up by
    # a fifth puts B (10.8) before A; waiting down by a fifth does too (8 against 9).
    parts = {name: [0.0, 0.0] for name in PARTS_OF_PRIORITY}
    table = pd.DataFrame(parts | {"minutes": [1.0, 1.0]})
    table["priority_waiting"] = [10.0, 0.0]
    table["priority_target"] = [0.0, 9.0]
    found = sensitivity(table, np.array([True, False]))
    changed = {
        (row.weight, row.direction): row.share_changed for row in found.itertuples(index=False)
    }
    assert changed == {
        ("waiting", -0.2): 1.0,
        ("waiting", 0.2): 0.0,
        ("overdue", -0.2): 0.0,
        ("overdue", 0.2): 0.0,
        ("target", -0.2): 0.0,
        ("target", 0.2): 1.0,
        ("request", -0.2): 0.0,
        ("request", 0.2): 0.0,
    }


@given(st.integers(0, 2**32 - 1), st.floats(0, 1))
def test_sensitivity_is_a_share(seed, share):
    random = np.random.default_rng(seed)
    table = pd.DataFrame({name: random.gamma(1, 10, 50) for name in PARTS_OF_PRIORITY})
    table["minutes"] = random.uniform(1, 60, 50)
    found = sensitivity(table, random.random(50) < share)
    assert found["share_changed"].between(0, 1).all()
    unmoved = sensitivity(table, random.random(50) < share, change=0.0)
    assert (unmoved["share_changed"] == 0).all()


def test_a_forester_agrees_with_the_order_of_these_trees():
    """Common practice: hazards first, then young trees that can still be corrected near people."""
    kinds = {
        "hanging": ({"dbh_cm": 45.0}, "broken or hanging limb"),
        "young by a school": ({"dbh_cm": 9.0, "target": "school"}, "codominant stems"),
        "young, nothing on record": ({"dbh_cm": 9.0}, None),
        "old, nothing on record": ({"dbh_cm": 100.0}, None),
        "mature, nothing on record": ({"dbh_cm": 60.0}, None),
        "mature, nothing on record, in a park": ({"dbh_cm": 60.0, "target": "park"}, None),
    }
    defects = [
        {"tree_id": f"T{row}", "defect": defect, "measured": ("severe",)}
        for row, (_, defect) in enumerate(kinds.values())
        if defect
    ]
    stand = stand_of([tree for tree, _ in kinds.values()], defects=defects)
    trees = assess(stand, Practice(), on=ON, year_end=YEAR_END).trees
    assert list(trees["priority"]) == sorted(trees["priority"], reverse=True)
    assert trees["priority"].iloc[1] > 3 * trees["priority"].iloc[-1]
