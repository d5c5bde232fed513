"""Notes that a crew can act on."""

import numpy as np
import pytest

from forestcycle.practice.assess import assess
from forestcycle.practice.note import CRACK, DEAD, THREE_CUTS, told_diameter
from forestcycle.settings.practice import Practice
from tests.practice.random_city import random_city
from tests.practice.stands import ON, YEAR_END, stand_of


def tree_of(tree, *defects, units="metric"):
    inventory = stand_of([tree], defects=defects)
    found = assess(inventory, Practice(), on=ON, year_end=YEAR_END, units=units)
    return found.trees.iloc[0]


def test_what_where_how_much_the_ceiling_what_to_keep_and_what_to_leave():
    tree = tree_of(
        {"dbh_cm": 9.0},
        {
            "defect": "codominant stems",
            "measured": ("aspect ratio", 0.9, ""),
            "position": "fork at 2 m",
        },
    )
    assert tree["work"] == "Subordinate all but one of the codominant stems (fork at 2 m)"
    percent = round(tree["dose"] * 100)
    assert f"About {percent} %, limit 25 %." in tree["note"]
    assert "Keep the straightest and best placed stem as leader." in tree["note"]
    assert "Next visit: codominant stems (remove)." in tree["note"]


def test_a_limb_that_the_hand_cannot_hold_gets_a_cut_in_three_parts():
    # Common practice: over about 2.5 cm.
    fault = {"defect": "oversized branch", "measured": ("aspect ratio", 0.7, "")}
    assert THREE_CUTS in tree_of({"dbh_cm": 8.0}, fault)["note"]
    assert THREE_CUTS not in tree_of({"dbh_cm": 4.0}, fault)["note"]


def test_a_stressed_tree_waits_for_its_recovery():
    tree = tree_of({"condition": "poor"}, {"defect": "radial crowding", "measured": ("severe",)})
    assert "no live wood" in tree["note"]
    assert tree["dose"] == 0


def test_a_dead_tree_is_reported_and_not_pruned():
    tree = tree_of({"condition": "dead"}, {"defect": "dead wood", "measured": ("severe",)})
    assert tree["note"] == DEAD
    assert tree["work"] == ""
    assert tree["priority"] == tree["visits_needed"] == 0


@pytest.mark.parametrize(
    ("tree", "said"),
    [
        ({"conductors": "high_voltage"}, "qualified for line clearance"),
        ({"conductors": "unknown"}, "not on record"),
        ({"target": "street"}, "Traffic"),
        ({"target": "school"}, "school"),
        ({"dbh_cm": 60.0, "target": "park"}, "Climbing"),
        ({"dbh_cm": 60.0, "target": "street"}, "Lift"),
    ],
)
def test_cautions_name_heights_conductors_and_traffic(tree, said):
    assert said in tree_of(tree)["cautions"]


def test_a_tree_with_nothing_special_has_no_caution_of_its_own():
    """What holds at every tree stands once at the head of the sheet."""
    assert tree_of({"conductors": "none", "target": "park"})["cautions"] == ""


def test_a_crack_is_for_an_assessor():
    tree = tree_of({}, {"defect": "crack or cavity", "measured": ("severe",)})
    assert CRACK in tree["cautions"]
    assert tree["dose"] == 0


def test_texts_fit_on_a_sheet():
    defects = [
        {"defect": name, "measured": ("severe",)}
        for name in ("included bark", "oversized branch", "dead wood", "low limb over street")
    ]
    tree = tree_of({"dbh_cm": 20.0, "conductors": "unknown", "target": "street"}, *defects)
    assert len(tree["work"]) < 350
    assert len(tree["note"]) < 300
    assert len(tree["cautions"]) < 300


def test_notes_are_short_and_leave_out_what_the_sheet_says_once_a_day():
    trees = assess(random_city(3000), Practice(), on=ON, year_end=YEAR_END).trees
    assert trees["note"].str.len().median() <= 170
    for said in ("Helmet", "ear", "undercut", "ceiling", "licensed"):
        assert not trees["note"].str.contains(rf"\b{said}\b").any()
        assert not trees["cautions"].str.contains(rf"\b{said}\b").any()


def test_a_crew_that_works_in_inches_reads_inches():
    # NIST Special Publication 811: 1 in = 2.54 cm. Told to the next half inch.
    fault = {"defect": "oversized branch", "measured": ("aspect ratio", 0.7, "")}
    metric, us = (tree_of({"dbh_cm": 8.0}, fault, units=units) for units in ("metric", "us"))
    assert "Cuts to 4 cm." in metric["note"]
    assert "Cuts to 1.5 in." in us["note"]
    assert " cm" not in us["note"]
    assert list(told_diameter(np.array([2.54, 2.6, 5.08]), "us")) == [1.0, 1.5, 2.0]
    assert list(told_diameter(np.array([2.0, 2.1]), "metric")) == [2.0, 3.0]
