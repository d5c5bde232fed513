"""Packing of work items into visits."""

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.practice.catalogue import load_catalogue
from forestcycle.practice.visits import VisitRules, pack
from forestcycle.practice.work_items import NO_DEFECT, Items

CATALOGUE = load_catalogue()
ACTIONS = CATALOGUE.actions["action"].tolist()


@st.composite
def packing_cases(draw):
    """Trees with random work, limits and usual doses."""
    trees = draw(st.integers(1, 5))
    limits = st.sampled_from([0.0, 0.1, 0.2, 0.25, 0.4])
    later = np.array(draw(st.lists(limits, min_size=trees, max_size=trees)))
    stressed = np.array(draw(st.lists(st.booleans(), min_size=trees, max_size=trees)))
    usual = later * draw(st.floats(0.2, 1.0))
    rows = draw(
        st.lists(
            st.tuples(
                st.integers(0, trees - 1),
                st.floats(0, 0.4) | st.just(0.0),
                st.sampled_from(range(len(ACTIONS))),
                st.booleans(),
            ),
            max_size=12,
        )
    )
    rows.sort(key=lambda row: row[0])
    entries = [
        (tree, finding, dose / (2 if two else 1), action, stage)
        for finding, (tree, dose, action, two) in enumerate(rows)
        for stage in range(2 if two else 1)
    ]
    entries.sort(key=lambda entry: (entry[0], entry[4]))
    columns = list(zip(*entries, strict=True)) or [[]] * 5
    tree, finding, action, stage = (np.array(columns[i], dtype=np.int64) for i in (0, 1, 3, 4))
    count = len(tree)
    items = Items(
        tree=tree,
        finding=finding,
        defect=np.full(count, NO_DEFECT),
        action=action,
        stage=stage,
        dose=np.array(columns[2], dtype=float),
        cut_cm=np.zeros(count),
        visit=np.zeros(count, dtype=np.int64),
    )
    rules = VisitRules(
        limit=np.where(stressed, 0, later),
        usual=np.where(stressed, 0, usual),
        later_limit=later,
        later_usual=usual,
        least_part=0.03,
        finish=0.03,
    )
    return items, rules


@given(packing_cases())
@settings(max_examples=400, deadline=None)
def test_packing_keeps_every_limit_and_loses_nothing(case):
    items, rules = case
    packed = pack(items, CATALOGUE, rules)
    table = pd.DataFrame({"tree": packed.tree, "visit": packed.visit, "dose": packed.dose})
    for (tree, visit), dose in table.groupby(["tree", "visit"])["dose"].sum().items():
        limit = rules.limit[tree] if visit == 1 else rules.later_limit[tree]
        assert dose <= limit + 1e-9
    allowed = (items.dose <= 0) | (rules.later_limit[items.tree] > 0)
    asked = np.bincount(items.tree[allowed], weights=items.dose[allowed], minlength=6)
    given_out = np.bincount(packed.tree, weights=packed.dose, minlength=6)
    assert np.allclose(asked, given_out)
    for entry in np.flatnonzero(packed.stage == 1):
        own = (packed.finding == packed.finding[entry]) & (packed.stage == 0)
        assert (packed.visit[own] < packed.visit[entry]).all()
    same = packed.tree[1:] == packed.tree[:-1]
    assert (np.diff(packed.visit)[same] >= 0).all()


@given(packing_cases())
@settings(max_examples=200, deadline=None)
def test_work_in_parts_stops_at_the_usual_dose(case):
    items, rules = case
    packed = pack(items, CATALOGUE, rules)
    divisible = CATALOGUE.actions["divisible"].to_numpy()[packed.action]
    table = pd.DataFrame({"tree": packed.tree, "visit": packed.visit, "dose": packed.dose})
    table["whole"] = ~divisible
    groups = table.groupby(["tree", "visit"]).agg(dose=("dose", "sum"), whole=("whole", "any"))
    for (tree, visit), (dose, whole) in zip(groups.index, groups.to_numpy(), strict=True):
        usual = rules.usual[tree] if visit == 1 else rules.later_usual[tree]
        assert whole or dose <= usual + rules.finish + 1e-9
