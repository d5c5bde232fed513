import hashlib
import tempfile
from pathlib import Path

import pandas as pd
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from forestcycle.cycle import assess_city, open_city, undo_last_record
from forestcycle.fieldwork.books import read_books
from tests.fieldwork.field_season import city_with, plain, record

A = ("a", "2026-03-01", "One", "done", 12.0, 0.10)
B = ("b", "2026-03-01", "One", "partly done", 9.0, 0.05)
C = ("c", "2026-03-02", "One", "skipped", 0.0, 0.0)
AGAIN = ("a", "2026-09-01", "Two", "done", 8.0, 0.10)
FUTURE = ("b", "2027-09-01", "One", "done", 8.0, 0.10)
UNKNOWN = ("zz", "2026-03-01", "One", "done", 8.0, 0.10)
FACTS = [A, B, C, AGAIN, FUTURE, UNKNOWN]


def books_of(path):
    return read_books(path.parent / "trees_books.gpkg")


def test_the_same_file_twice_changes_nothing_and_the_inventory_is_not_touched(tmp_path):
    path = city_with(tmp_path)
    trees = (tmp_path / "trees.gpkg").read_bytes()
    first = record(path, plain(*FACTS))
    books = (tmp_path / "trees_books.gpkg").read_bytes()
    second = record(path, plain(*FACTS))
    assert (first.written, len(first.checked.new), len(first.checked.refused)) == (True, 4, 2)
    assert (second.written, second.checked.known) == (False, 4)
    assert (tmp_path / "trees_books.gpkg").read_bytes() == books
    assert (tmp_path / "trees.gpkg").read_bytes() == trees


def test_conflicts_are_shown_and_not_guessed(tmp_path):
    path = city_with(tmp_path, A)
    other_a = (*A[:5], 0.2)
    done = record(path, plain(B, (*B[:4], 30.0, 0.05), other_a, C), "more.csv")
    assert done.checked.new["tree_id"].tolist() == ["c"]
    assert set(done.checked.refused["row"]) == {1, 2, 3}
    assert len(books_of(path).refused) == 3


def test_all_that_a_crew_told_and_every_refusal_stand_in_the_books(tmp_path):
    path = city_with(tmp_path)
    told = {
        "reason": ["", "parked car", "", ""],
        "work_left": ["stub on the north side", "", "", ""],
        "note": ["went well", "", "", ""],
        "who": ["AB", "CD", "", ""],
    }
    record(path, plain(A, C, FUTURE, UNKNOWN).assign(**told))
    books = books_of(path)
    done, skipped = books.visits.to_dict("records")
    assert (done["tree_id"], done["crew"], done["outcome"]) == ("a", "One", "done")
    assert (done["minutes"], done["dose"]) == (12.0, 0.10)
    assert done["visited_on"] == pd.Timestamp("2026-03-01")
    assert [done[name] for name in told] == ["", "stub on the north side", "went well", "AB"]
    assert [skipped[name] for name in told] == ["parked car", "", "", "CD"]
    future, unknown = books.refused.to_dict("records")
    assert (future["row"], future["tree_id"], future["file"]) == (3, "b", "returns.csv")
    assert future["fault"] == "lies after 2026-12-31"
    assert (unknown["row"], unknown["tree_id"]) == (4, "zz")
    assert unknown["fault"] == "no usable tree with this id"
    assert future["remedy"]
    assert unknown["remedy"]
    (change,) = books.changes.to_dict("records")
    assert (change["command"], change["input"]) == ("record", "returns.csv")
    file = (tmp_path / "returns.csv").read_bytes()
    assert change["sha256"] == future["sha256"] == hashlib.sha256(file).hexdigest()


def test_undo_takes_back_the_last_record_and_is_a_change_itself(tmp_path):
    path = city_with(tmp_path, A)
    record(path, plain(B), "more.csv")
    assert undo_last_record(path).source == "more.csv"
    books = books_of(path)
    assert books.visits["tree_id"].tolist() == ["a"]
    assert books.changes["command"].tolist() == ["record", "record", "undo"]
    assert record(path, plain(B), "more.csv").written


def test_a_dose_over_the_limit_is_recorded_with_a_warning_and_pushes_recall_out(tmp_path):
    due = {}
    for name, dose in (("light", 0.10), ("heavy", 0.60)):
        folder = tmp_path / name
        folder.mkdir()
        path = city_with(folder)
        done = record(path, plain((*A[:5], dose)))
        assert len(done.checked.warnings) == (name == "heavy")
        trees = assess_city(open_city(path)).trees
        due[name] = trees.loc[0, "not_before"], trees.loc[0, "due"]
    assert due["heavy"][0] > due["light"][0]
    assert due["heavy"][1] > due["light"][1]


def test_a_visit_that_the_city_takes_over_into_its_own_table_counts_once(tmp_path):
    path = city_with(tmp_path, A, B)
    before = open_city(path).inventory.visits
    own = plain(A).assign(crew="One").drop(columns="outcome")
    own.to_csv(tmp_path / "visits.csv", index=False)
    path.write_text(f'{path.read_text()}\n[layers]\ntrees = "trees"\nvisits = "visits.csv"\n')
    after = open_city(path).inventory.visits
    assert sorted(after["tree_id"]) == sorted(before["tree_id"]) == ["a", "b"]
    assert after["dose"].sum() == before["dose"].sum()


@hypothesis_settings(max_examples=8, deadline=None)
@given(order=st.permutations([*FACTS, A, C]), cut=st.integers(0, 8))
def test_any_order_of_the_same_returns_ends_in_the_same_books(order, cut):
    with tempfile.TemporaryDirectory() as folder:
        path = city_with(Path(folder))
        for name, part in (("one.csv", order[:cut]), ("two.csv", order[cut:])):
            if part:
                record(path, plain(*part), name)
        books = books_of(path)
        visits = books.visits.drop(columns="change").sort_values(["tree_id", "visited_on"])
        recall = assess_city(open_city(path)).trees[["not_before", "due", "recall_state"]]
    assert list(zip(visits["tree_id"], visits["crew"], visits["dose"], strict=True)) == [
        ("a", "One", 0.1), ("a", "Two", 0.1), ("b", "One", 0.05), ("c", "One", 0.0)
    ]  # fmt: skip
    assert visits["minutes"].sum() == 29.0
    assert books.changes["visits"].sum() == len(visits)
    pd.testing.assert_frame_equal(recall, SEEN.setdefault("recall", recall))


SEEN: dict[str, pd.DataFrame] = {}
