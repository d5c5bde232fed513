"""Contrary findings of one tree."""

import numpy as np

from forestcycle.practice import conflicts
from forestcycle.practice.catalogue import load_catalogue
from forestcycle.practice.conflicts import NO_THINNING, PAIR, SAME_FORK, SAME_LIMB
from forestcycle.practice.defects import Findings, no_findings

CATALOGUE = load_catalogue()


def findings(*rows):
    tree, defect, severity, position = (list(column) for column in zip(*rows, strict=True))
    count = len(rows)
    return Findings(
        tree=np.array(tree),
        defect=np.array([CATALOGUE.code(name) for name in defect]),
        severity=np.array(severity),
        branch_cm=np.full(count, 5.0),
        branch_m=np.full(count, np.nan),
        position=np.array(position, dtype=object),
        observed_on=np.full(count, np.datetime64("2026-06-01", "ns")),
        prior=np.zeros(count, dtype=bool),
    )


YOUNG = np.zeros(3, dtype=np.int64)


def resolve(found, catalogue):
    return conflicts.resolve(found, catalogue, YOUNG)


def kept(resolution):
    found = resolution.findings
    return [
        (CATALOGUE.names[code], place)
        for code, place in zip(found.defect, found.position, strict=True)
    ]


def test_of_two_crossing_limbs_one_goes():
    # Common practice: one goes, not always the smaller.
    found = resolve(
        findings((0, "crossing limbs", 0.5, "north"), (0, "crossing limbs", 0.7, "east")),
        CATALOGUE,
    )
    assert kept(found) == [("crossing limbs", "east")]
    assert found.dropped["rule"].tolist() == [PAIR]


def test_the_crossing_limb_with_a_fault_of_its_own_goes():
    found = resolve(
        findings(
            (0, "crossing limbs", 0.5, "north"),
            (0, "crossing limbs", 0.7, "east"),
            (0, "oversized branch", 0.2, "north"),
        ),
        CATALOGUE,
    )
    assert kept(found) == [("crossing limbs", "north")]
    assert set(found.dropped["rule"]) == {PAIR, SAME_LIMB}


def test_one_limb_is_answered_once():
    found = resolve(
        findings((0, "oversized branch", 0.9, "north"), (0, "long branch", 0.4, "north")),
        CATALOGUE,
    )
    assert kept(found) == [("oversized branch", "north")]
    assert found.dropped["rule"].tolist() == [SAME_LIMB]


def test_a_limb_that_goes_takes_its_other_faults_along():
    found = resolve(
        findings((0, "long branch", 0.9, "north"), (0, "crossing limbs", 0.4, "north")),
        CATALOGUE,
    )
    assert kept(found) == [("crossing limbs", "north")]
    # The whole long branch goes: 0.15 at severity 1 (defects.csv), and not the 0.06 of a small
    # crossing limb.
    assert found.dose == np.float64(0.15) * 0.9


def test_the_limb_that_stays_keeps_its_other_work():
    found = resolve(
        findings(
            (0, "crossing limbs", 0.9, "north"),
            (0, "crossing limbs", 0.4, "east"),
            (0, "oversized branch", 0.3, "north"),
            (0, "long branch", 0.3, "east"),
        ),
        CATALOGUE,
    )
    assert kept(found) == [("crossing limbs", "north"), ("long branch", "east")]


def test_dead_wood_where_limbs_cross_is_cleaned_all_the_same():
    rows = findings((0, "dead wood", 0.5, "mid crown"), (0, "crossing limbs", 0.5, "mid crown"))
    assert len(kept(resolve(rows, CATALOGUE))) == 2


def test_one_leader_is_chosen_once():
    found = resolve(
        findings((0, "codominant stems", 0.9, ""), (0, "included bark", 0.9, "main fork")),
        CATALOGUE,
    )
    assert kept(found) == [("included bark", "main fork")]
    assert found.dropped["rule"].tolist() == [SAME_FORK]


def test_two_named_forks_are_two_faults():
    found = resolve(
        findings((0, "codominant stems", 0.9, "low"), (0, "codominant stems", 0.9, "high")),
        CATALOGUE,
    )
    assert len(kept(found)) == 2


def test_a_stripped_crown_is_not_thinned():
    found = resolve(
        findings((0, "radial crowding", 0.9, ""), (0, "stripped interior", 0.3, "")), CATALOGUE
    )
    assert kept(found) == [("stripped interior", "")]
    assert found.dropped["rule"].tolist() == [NO_THINNING]


def test_low_limbs_under_a_low_live_crown_are_shortened():
    # UF/IFAS EP276: live crown over 0.60 of the height, so that no more is raised.
    found = resolve(
        findings((0, "low limb over street", 0.9, ""), (0, "low live crown", 0.3, "")), CATALOGUE
    )
    assert len(kept(found)) == 2
    assert found.shortened.tolist() == [True, False]


def test_faults_of_different_trees_do_not_meet():
    found = resolve(
        findings(
            (0, "codominant stems", 0.9, ""),
            (1, "included bark", 0.9, ""),
            (1, "crossing limbs", 0.5, "north"),
            (2, "crossing limbs", 0.5, "north"),
        ),
        CATALOGUE,
    )
    assert len(kept(found)) == 4
    assert found.dropped.empty


def test_nothing_found_nothing_to_settle():
    assert len(resolve(no_findings(), CATALOGUE).findings) == 0
