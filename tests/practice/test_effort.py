"""Minutes, brush and skill of visits."""

import pytest

from forestcycle.practice.assess import assess
from forestcycle.settings.practice import Practice
from tests.practice.stands import ON, YEAR_END, stand_of


def trees_of(*trees, practice=None, **records):
    inventory = stand_of(trees, **records)
    return assess(inventory, practice or Practice(), on=ON, year_end=YEAR_END).trees


def test_low_work_is_done_from_the_ground_and_high_work_is_not():
    low = {"defect": "low limb over footway", "measured": ("severe",)}
    high = {"defect": "dead wood", "measured": ("severe",), "tree_id": "T1"}
    trees = trees_of({"dbh_cm": 60.0}, {"dbh_cm": 60.0}, defects=[low, high])
    assert trees["skill"].tolist() == ["ground", "lift"]


def test_no_lift_drives_into_a_park():
    assert trees_of({"dbh_cm": 60.0, "target": "park"})["skill"].item() == "climb"


def test_high_voltage_goes_to_qualified_crews():
    # 29 CFR 1910.269: line clearance is for qualified crews.
    assert trees_of({"conductors": "high_voltage"})["skill"].item() == "line_clearance"


def test_dead_wood_takes_time_though_no_live_crown():
    worse = [
        {"defect": "dead wood", "measured": ("largest diameter", size, "cm"), "tree_id": f"T{row}"}
        for row, size in enumerate((3, 8, 15))
    ]
    trees = trees_of(*[{"dbh_cm": 60.0}] * 3, defects=worse)
    assert trees["minutes"].is_monotonic_increasing
    assert trees["minutes"].iloc[2] > trees["minutes"].iloc[0] + 5
    assert (trees["dose"] == 0).all()


def test_person_minutes_are_shared_by_the_crew():
    tree = {"dbh_cm": 40.0}
    two = trees_of(tree, practice=Practice(people_per_crew=2))["minutes"].item()
    four = trees_of(tree, practice=Practice(people_per_crew=4))["minutes"].item()
    assert four < two


def test_a_young_tree_is_pruned_in_minutes():
    # Ryder and Moore 2013: formative pruning takes 1 to 4 minutes; set-up and the look come on
    # top and are modelling choices.
    fault = {"defect": "codominant stems", "measured": ("aspect ratio", 0.8, "")}
    assert trees_of({"dbh_cm": 5.0}, defects=[fault])["minutes"].item() == pytest.approx(5, abs=2)
