"""Notes that a crew can act on."""

import pytest

from forestcycle.practice.assess import assess
from forestcycle.practice.note import CRACK, DEAD, THREE_CUTS
from forestcycle.settings.practice import Practice
from tests.practice.stands import ON, YEAR_END, stand_of


def tree_of(tree, *defects):
    inventory = stand_of([tree], defects=defects)
    return assess(inventory, Practice(), on=ON, year_end=YEAR_END).trees.iloc[0]


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
    assert f"About {percent} % of live crown, never over 25 %." in tree["note"]
    assert "Keep the straightest and best placed stem as leader." in tree["note"]
    assert "Leave for a later visit: remove all but one of the codominant stems" in tree["note"]


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
    assert len(tree["note"]) < 700
    assert len(tree["cautions"]) < 500
