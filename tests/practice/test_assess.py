"""A whole inventory assessed."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from forestcycle.errors import SettingsError
from forestcycle.practice import assess
from forestcycle.practice.assessment import PARTS_OF_PRIORITY, TREE_DTYPES, WORK_DTYPES
from forestcycle.settings.practice import Practice
from tests.practice.random_city import random_city
from tests.practice.stands import ON, YEAR_END, stand_of

TABLES = ("cautious", "UF/IFAS", "CSU", "CSU 7.825", "ANSI A300-1995")


@pytest.fixture(scope="module")
def city():
    return random_city(3000)


@pytest.fixture(scope="module")
def found(city):
    return assess(city, Practice(), on=ON, year_end=YEAR_END)


def test_columns_dtypes_and_order_are_those_of_the_door(city, found):
    for table, dtypes in ((found.trees, TREE_DTYPES), (found.work, WORK_DTYPES)):
        assert {name: str(kind) for name, kind in table.dtypes.items()} == dtypes
    assert found.trees["tree_id"].tolist() == city.trees["tree_id"].tolist()
    assert found.trees["age_class"].cat.ordered
    assert found.trees.drop(columns=["deadline"]).notna().all(axis=None)
    assert found.work.notna().all(axis=None)


@pytest.mark.parametrize("name", TABLES)
def test_no_visit_passes_the_dose_limit(city, name):
    # Common practice: the limit is a ceiling. Later visits are bound by the table's limit for a
    # tree of the class in sound state, and no table goes over 0.40.
    found = assess(city, Practice(dose_limits=name), on=ON, year_end=YEAR_END)
    trees = found.trees
    assert (trees["dose"] <= trees["dose_limit"] + 1e-9).all()
    by_visit = found.work.groupby(["tree", "visit"])["dose"].sum()
    assert by_visit.max() <= 0.40 + 1e-9
    assert trees["dose_needed"].between(0, 1).all()


def test_doses_of_all_visits_add_up_to_the_dose_needed(found):
    trees, work = found.trees, found.work
    needed = work.groupby("tree")["dose"].sum().reindex(range(len(trees)), fill_value=0)
    assert np.allclose(needed, trees["dose_needed"])
    first = work[work["visit"] == 1].groupby("tree")["dose"].sum()
    assert np.allclose(first.reindex(range(len(trees)), fill_value=0), trees["dose"])
    visits = work.groupby("tree")["visit"].max().reindex(range(len(trees)), fill_value=0)
    assert visits.tolist() == trees["visits_needed"].tolist()


def test_visits_and_orders_count_from_one_without_gaps(found):
    work = found.work
    groups = work.groupby(["tree", "visit"])["order"]
    assert (groups.min() == 1).all()
    assert (groups.max() == groups.size()).all()
    visits = work.groupby("tree")["visit"]
    assert (visits.nunique() == visits.max()).all()


def test_minutes_of_the_items_add_up_to_those_of_the_visit(found):
    first = found.work[found.work["visit"] == 1].groupby("tree")["minutes"].sum()
    minutes = first.reindex(range(len(found.trees)), fill_value=0)
    assert np.allclose(minutes, found.trees["minutes"])


def test_parts_add_up_to_the_priority_on_a_scale_of_1_to_100(found):
    trees = found.trees
    assert np.allclose(trees[list(PARTS_OF_PRIORITY)].sum(axis=1), trees["priority"])
    assert (trees["priority"] >= 0).all()
    assert 1 < trees.loc[trees["priority"] > 0, "priority"].median() < 100


def test_a_tree_without_work_is_worth_nothing_unless_asked_for(found):
    idle = found.trees[found.trees["visits_needed"] == 0]
    assert (idle["priority"] == idle["priority_request"]).all()


def test_recall_spans_run_forward(found):
    trees = found.trees
    assert (trees["not_before"] <= trees["due"]).all()
    assert (trees["due"] <= trees["overdue_after"]).all()
    state = pd.Series("due", index=trees.index)
    state[pd.Timestamp(ON) < trees["due"]] = "not yet due"
    state[pd.Timestamp(ON) > trees["overdue_after"]] = "overdue"
    assert state.tolist() == trees["recall_state"].tolist()


def test_bad_records_are_set_aside_and_their_trees_stay(found):
    assert {"defects", "visits"} == set(found.set_aside["layer"])
    assert set(found.set_aside["tree_id"]) <= set(found.trees["tree_id"])
    assert (found.set_aside["fault"] != "").all()


def test_a_tree_is_judged_alone_as_in_its_city(city, found):
    # The columns are computed for all trees at once; one tree by itself must come out the same.
    for row in range(0, 3000, 300):
        tree_id = city.trees["tree_id"].iloc[row]
        alone = stand_of([city.trees.drop(columns="geometry").iloc[row].to_dict()])
        records = {
            name: getattr(city, name)[getattr(city, name)["tree_id"] == tree_id]
            for name in ("defects", "visits", "requests")
        }
        alone = type(alone)(**{**vars(alone), **records})
        single = assess(alone, Practice(), on=ON, year_end=YEAR_END)
        together = found.trees.iloc[[row]].reset_index(drop=True)
        same = [column for column in TREE_DTYPES if column != "season"]
        pd.testing.assert_frame_equal(single.trees[same], together[same])


def test_the_same_input_gives_the_same_assessment(city, found):
    again = assess(city, Practice(), on=ON, year_end=YEAR_END)
    pd.testing.assert_frame_equal(again.trees, found.trees)
    pd.testing.assert_frame_equal(again.work, found.work)


def test_costs_are_disposal_and_traffic_control():
    # By hand: 8 cents per kg, and 6,000 cents for a lift in a street.
    trees = assess(
        stand_of([{"dbh_cm": 60.0, "target": "street"}, {"dbh_cm": 60.0, "target": "footway"}]),
        Practice(),
        on=ON,
        year_end=YEAR_END,
    ).trees
    assert trees["skill"].tolist() == ["lift", "lift"]
    disposal = np.rint(trees["brush_kg"] * 8)
    assert (trees["cost_cents"] - disposal).tolist() == [6000, 0]


def test_seasons_are_clipped_to_the_year():
    found = assess(
        stand_of([{}]), Practice(), on=date(2026, 11, 1), year_start=ON, year_end=YEAR_END
    )
    spans = found.season_closed[found.trees["season"].item()]
    assert spans
    assert all(ON <= first <= last <= YEAR_END for first, last, _ in spans)


def test_own_tables_are_read_from_the_settings(tmp_path):
    (tmp_path / "usual_doses.csv").write_text(
        "age_class,state,dose,source\nany,sound,0.05,us\nany,stressed,0,us\n"
    )
    fault = {"defect": "included bark", "measured": ("severe",)}
    inventory = stand_of([{}], defects=[fault])
    ours = assess(inventory, Practice(), on=ON, year_end=YEAR_END)
    theirs = assess(inventory, Practice(tables=str(tmp_path)), on=ON, year_end=YEAR_END)
    assert theirs.trees["dose"].item() <= 0.08 < ours.trees["dose"].item()
    assert theirs.trees["dose_needed"].item() == pytest.approx(ours.trees["dose_needed"].item())


def test_an_unknown_dose_table_is_refused():
    with pytest.raises(SettingsError, match="bold"):
        assess(stand_of([{}]), Practice(dose_limits="bold"), on=ON, year_end=YEAR_END)


def test_no_trees_no_work():
    inventory = stand_of([{}])
    empty = type(inventory)(**{**vars(inventory), "trees": inventory.trees.iloc[:0]})
    found = assess(empty, Practice(), on=ON, year_end=YEAR_END)
    assert found.trees.empty
    assert found.work.empty
