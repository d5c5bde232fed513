"""Programmes of whole trees where two rules meet."""

import pytest

from forestcycle.errors import SettingsError
from forestcycle.practice.assess import assess
from forestcycle.settings.practice import Practice
from tests.practice.stands import ON, YEAR_END, stand_of

HANGING = {"defect": "broken or hanging limb", "measured": ("largest diameter", 8, "cm")}
LONG = {"defect": "long branch", "measured": ("severe",)}


def assessed(tree, *defects, visits=()):
    stand = stand_of([{"dbh_cm": 40.0} | tree], defects=defects, visits=visits)
    return assess(stand, Practice(), on=ON, year_end=YEAR_END)


def test_a_hanging_limb_comes_down_at_once_and_live_wood_waits_for_the_crown_to_rest():
    last = {"tree_id": "T0", "visited_on": "2026-05-01", "dose": 0.10}
    found = assessed({}, HANGING, LONG, visits=[last])
    tree, now = found.trees.iloc[0], found.work[found.work["visit"] == 1]
    assert tree["not_before"] == tree["due"] == found.trees["due"].iloc[0]
    assert f"{tree['due']:%Y-%m-%d}" == "2027-01-01"
    assert list(now["defect"]) == ["broken or hanging limb"]
    assert tree["dose"] == 0
    assert (found.work.loc[found.work["visit"] > 1, "dose"] > 0).all()
    assert tree["minutes"] > 3


def test_once_the_crown_has_rested_both_are_done_in_one_visit():
    found = assessed({}, HANGING, LONG)
    now = found.work[found.work["visit"] == 1]
    assert list(now["defect"]) == ["broken or hanging limb", "long branch"]


def test_a_stressed_tree_loses_its_hanging_limb_and_no_live_wood():
    # CSU GardenNotes 616: no live wood from a tree under stress; a broken limb is none.
    found = assessed({"condition": "poor"}, HANGING, LONG)
    now = found.work[found.work["visit"] == 1]
    assert "broken or hanging limb" in set(now["defect"])
    assert now["dose"].sum() == 0


def test_a_visit_since_the_observation_took_the_hanging_limb_along():
    seen = {**HANGING, "observed_on": "2026-03-01"}
    last = {"tree_id": "T0", "visited_on": "2026-05-01", "dose": 0.10}
    found = assessed({}, seen, visits=[last])
    assert "broken or hanging limb" not in set(found.work["defect"])
    assert f"{found.trees['not_before'].iloc[0]:%Y-%m-%d}" > "2027-01-01"


def test_an_urgent_fault_must_be_in_the_catalogue(tmp_path):
    (tmp_path / "recall_faults.csv").write_text("defect,grace_years,source\nloose nut,1,own\n")
    with pytest.raises(SettingsError, match="loose nut"):
        assess(stand_of([{}]), Practice(), on=ON, year_end=YEAR_END, folder=tmp_path)
