"""One tree's figures taken apart."""

import pytest

from forestcycle.practice import assess, explain
from forestcycle.settings.practice import Practice
from tests.practice.random_city import random_city
from tests.practice.stands import ON, YEAR_END, stand_of

TOPICS = {
    "Facts", "Age class", "Defects", "Prescription", "Visit 1", "Recall", "Waiting", "Priority",
    "Season", "Minutes",
}  # fmt: skip


@pytest.fixture(scope="module")
def city():
    return random_city(400, seed=5)


@pytest.fixture(scope="module")
def assessed(city):
    return assess(city, Practice(), on=ON, year_end=YEAR_END)


def values(statements, topic):
    return {said.statement: said.value for said in statements if said.topic == topic}


@pytest.mark.parametrize("row", range(0, 400, 40))
def test_any_tree_can_be_explained(city, assessed, row):
    tree = assessed.trees.iloc[row]
    said = explain(city, assessed, tree["tree_id"])
    topics = {statement.topic for statement in said}
    missing = TOPICS - topics
    assert not missing or tree["visits_needed"] == 0
    assert values(said, "Priority")["together"] == f"{tree['priority']:.1f}"
    assert values(said, "Recall")["due"] == f"{tree['due']:%Y-%m-%d}"
    assert f"{tree['minutes']:.0f} crew minutes" == values(said, "Minutes")["next visit"]
    assert values(said, "Prescription")["dose limit"] == f"{tree['dose_limit']:.0%} of live crown"


@pytest.mark.parametrize("row", range(0, 400, 40))
def test_every_statement_has_a_rule_and_a_source(city, assessed, row):
    for said in explain(city, assessed, assessed.trees["tree_id"].iloc[row]):
        assert said.topic
        assert said.statement
        assert said.rule
        assert said.source


def test_the_running_dose_ends_at_the_visits_dose():
    fault = {"defect": "radial crowding", "measured": ("moderate",)}
    leader = {"defect": "codominant stems", "measured": ("minor",)}
    inventory = stand_of([{}], defects=[fault, leader])
    found = assess(inventory, Practice(), on=ON, year_end=YEAR_END)
    last = list(values(explain(inventory, found, "T0"), "Visit 1").values())[-1]
    assert f"together {found.trees['dose'].item():.1%}" in last


def test_dropped_and_refused_observations_are_told():
    inventory = stand_of(
        [{}],
        defects=[
            {"defect": "codominant stems", "measured": ("aspect ratio", 1.7, "")},
            {"defect": "radial crowding", "measured": ("severe",)},
            {"defect": "stripped interior", "measured": ("minor",)},
        ],
    )
    found = assess(inventory, Practice(), on=ON, year_end=YEAR_END)
    said = explain(inventory, found, "T0")
    assert values(said, "Set aside") == {"value = 1.7": "an aspect ratio over 1.5"}
    assert values(said, "Defects")["radial crowding"] == "no work of its own"


def test_a_trunk_outside_the_growth_curve_is_told():
    inventory = stand_of([{"dbh_cm": 30.0}, {"dbh_cm": 250.0}])
    found = assess(inventory, Practice(), on=ON, year_end=YEAR_END)
    told = [
        any("outside the diameters" in said.rule for said in explain(inventory, found, tree))
        for tree in ("T0", "T1")
    ]
    assert told == [False, True]


def test_an_unknown_tree(city, assessed):
    with pytest.raises(KeyError):
        explain(city, assessed, "no such tree")


def test_an_inventory_in_inches_is_explained_in_inches(city, assessed):
    tree = city.trees.iloc[0]
    said = values(explain(city, assessed, tree["tree_id"], units="us"), "Facts")
    inches, unit = said["trunk diameter at breast height"].split()
    assert unit == "in"
    assert float(inches) * 2.54 == pytest.approx(tree["dbh_cm"], abs=0.02)
    assert said["height"].endswith(" ft")
