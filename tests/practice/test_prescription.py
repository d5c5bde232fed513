"""Work items and their order."""

import pytest

from forestcycle.practice.assess import assess
from forestcycle.practice.catalogue import load_catalogue
from forestcycle.practice.wounds import load_wounds
from forestcycle.settings.practice import Practice
from tests.practice.stands import ON, YEAR_END, stand_of

CATALOGUE = load_catalogue()
ACTIONS = CATALOGUE.actions["action"].tolist()


def work_of(tree, *defects, **records):
    inventory = stand_of([tree], defects=defects, **records)
    found = assess(inventory, Practice(), on=ON, year_end=YEAR_END)
    return found.trees.iloc[0], found.work


def test_codominant_stems_are_subordinated_and_taken_later():
    # Common practice, and UF/IFAS EP276: subordinate all but one codominant stem; a limb is
    # subordinated in one visit or over several before its removal.
    tree, work = work_of(
        {"dbh_cm": 9.0}, {"defect": "codominant stems", "measured": ("aspect ratio", 0.9, "")}
    )
    assert work["action"].tolist() == ["subordinate", "remove"]
    assert work["visit"].tolist() == [1, 2]
    first = work.loc[work["visit"] == 1, "dose"].sum()
    # Common practice: about 15 % this time, a quarter the ceiling.
    assert 0.12 <= first <= 0.18
    assert tree["dose_limit"] == 0.25
    assert tree["visits_needed"] == 2


def test_a_thick_stem_is_shortened_and_not_taken_off():
    # CSU GardenNotes 613: cuts ideally at most 2 in; common practice: 10 cm seldom closes.
    _, work = work_of(
        {"dbh_cm": 60.0}, {"defect": "codominant stems", "measured": ("aspect ratio", 0.9, "")}
    )
    assert set(work["action"]) == {"reduce"}
    assert (work["cut_diameter_cm"] <= load_wounds().largest_cm).all()


def test_dead_wood_is_no_live_crown_and_comes_first():
    # Common practice.
    _, work = work_of(
        {"dbh_cm": 30.0},
        {"defect": "oversized branch", "measured": ("aspect ratio", 0.9, "")},
        {"defect": "dead wood", "measured": ("largest diameter", 8, "cm")},
    )
    assert work["action"].iloc[0] == "clean"
    assert work["dose"].iloc[0] == 0
    assert work["visit"].iloc[0] == 1


def test_the_worst_structural_fault_comes_before_the_lesser():
    _, work = work_of(
        {"dbh_cm": 10.0},
        {"defect": "radial crowding", "measured": ("branches at one level", 4, "count")},
        {"defect": "included bark", "measured": ("aspect ratio", 0.95, "")},
        {"defect": "vertical crowding", "measured": ("branches in one line", 2, "count")},
    )
    assert work["defect"].iloc[0] == "included bark"
    first_seen = work["defect"].drop_duplicates().tolist()
    assert first_seen == ["included bark", "radial crowding", "vertical crowding"]


def test_a_stressed_tree_loses_only_dead_wood_now():
    # CSU GardenNotes 616: no live wood from trees showing stress.
    tree, work = work_of(
        {"dbh_cm": 10.0, "condition": "poor"},
        {"defect": "codominant stems", "measured": ("severe",)},
        {"defect": "dead wood", "measured": ("severe",)},
    )
    assert tree["dose_limit"] == tree["dose"] == 0
    assert work.loc[work["visit"] == 1, "action"].tolist() == ["inspect", "clean"]
    assert work.loc[work["defect"] == "codominant stems", "visit"].min() == 2
    assert "recovered" in tree["note"]


def test_no_live_cut_in_a_cracked_tree_before_an_assessor_has_seen_it():
    # Common practice.
    tree, work = work_of(
        {"dbh_cm": 40.0},
        {"defect": "crack or cavity", "measured": ("minor",)},
        {"defect": "suckers and water sprouts", "measured": ("severe",)},
        {"defect": "oversized branch", "measured": ("severe",)},
    )
    assert work.loc[work["visit"] == 1, "action"].tolist() == ["inspect"]
    assert tree["dose"] == 0
    assert tree["visits_needed"] >= 2


def test_all_work_together_stays_below_the_whole_crown():
    defects = [{"defect": name, "measured": ("severe",)} for name in CATALOGUE.names]
    tree, work = work_of({"dbh_cm": 10.0}, *defects)
    assert 0.5 < tree["dose_needed"] < 1
    assert work.groupby("visit")["dose"].sum().max() <= 0.25 + 1e-9


def test_visits_since_the_observation_have_done_their_share():
    fault = {"defect": "codominant stems", "measured": ("aspect ratio", 0.9, "")}
    before, _ = work_of({"dbh_cm": 9.0}, fault)
    visit = {"visited_on": "2026-09-01", "dose": 0.1}
    after, _ = work_of({"dbh_cm": 9.0}, fault, visits=[visit])
    assert after["dose_needed"] == pytest.approx(before["dose_needed"] - 0.1)
    early = {"visited_on": "2026-05-01", "dose": 0.1}
    unchanged, _ = work_of({"dbh_cm": 9.0}, fault, visits=[early])
    assert unchanged["dose_needed"] == before["dose_needed"]


def test_what_was_done_in_full_leaves_a_look_and_a_slowly_growing_prior():
    fault = {"defect": "crossing limbs", "measured": ("severe",)}
    tree, work = work_of({"dbh_cm": 9.0}, fault, visits=[{"visited_on": "2026-12-01", "dose": 0.2}])
    assert tree["defects_are_prior"]
    assert work["action"].iloc[0] == "inspect"
    assert tree["dose_needed"] < 0.01
