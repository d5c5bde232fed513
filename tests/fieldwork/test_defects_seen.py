import sqlite3
from contextlib import closing

import pandas as pd
import pytest

from forestcycle.cycle import assess_city, open_city, undo_last_record
from forestcycle.errors import StoreError
from forestcycle.fieldwork.books import read_books
from forestcycle.fieldwork.defects_seen import observations
from forestcycle.practice.catalogue import load_catalogue
from tests.fieldwork.field_season import city_with, plain, record

CATALOGUE = load_catalogue()
WORDS = CATALOGUE.words["word"].tolist()
A = ("a", "2026-03-01", "One", "done", 12.0, 0.10)
B = ("b", "2026-03-01", "One", "skipped", 0.0, 0.0)


def told(*texts):
    visits = pd.DataFrame({"defects_seen": texts})
    visits["row"] = range(1, len(texts) + 1)
    return visits.assign(tree_id="a", visited_on=pd.Timestamp("2026-03-01"), crew="One")


@pytest.mark.parametrize(
    ("text", "defect", "measure", "position"),
    [
        ("dead wood", "dead wood", "", ""),
        ("Severe  dead_wood upper crown", "dead wood", "severe", "upper crown"),
        ("included bark (minor)", "included bark", "minor", ""),
        ("suckers and water sprouts: trunk base", "suckers and water sprouts", "", "trunk base"),
    ],
)
def test_a_name_of_the_catalogue_with_severity_and_place(text, defect, measure, position):
    seen, strange = observations(told(text), CATALOGUE.names, WORDS)
    assert seen[["defect", "measure", "position"]].values.tolist() == [[defect, measure, position]]
    assert seen["note"].tolist() == [text]
    assert strange.empty


def test_several_defects_are_several_observations():
    seen, strange = observations(
        told("dead wood; included bark, ", "", " ; "), CATALOGUE.names, WORDS
    )
    assert seen["defect"].tolist() == ["dead wood", "included bark"]
    assert strange.empty


@pytest.mark.parametrize("text", ["ded wood", "deadwood", "dead wood and included bark", "=1+1"])
def test_what_is_not_certain_is_not_guessed(text):
    seen, strange = observations(told(text), CATALOGUE.names, WORDS)
    assert seen.empty
    assert strange["row"].tolist() == [1]
    assert repr(text) in strange["fault"].iloc[0]


def test_a_near_miss_is_suggested():
    _, strange = observations(told("ded wood"), CATALOGUE.names, WORDS)
    assert "'dead wood'" in strange["remedy"].iloc[0]


def test_the_next_assessment_counts_what_the_crew_saw(tmp_path):
    path = city_with(tmp_path)
    before = assess_city(open_city(path)).trees.set_index("tree_id")
    rows = plain(A, B).assign(defects_seen=["", "severe included bark lower crown; a nest"])
    done = record(path, rows)
    assert done.checked.warnings["tree_id"].tolist() == ["b"]
    (seen,) = read_books(done.books).defects.to_dict("records")
    assert (seen["tree_id"], seen["crew"], seen["change"]) == ("b", "One", 1)
    assert seen["observed_on"] == pd.Timestamp("2026-03-01")
    after = assess_city(open_city(path)).trees.set_index("tree_id")
    assert before.loc["b", "defects_are_prior"]
    assert not after.loc["b", "defects_are_prior"]
    assert after.loc["b", "worst_defect"] == "included bark"
    assert not record(path, rows).written
    undo_last_record(path)
    assert read_books(done.books).defects.empty
    again = assess_city(open_city(path)).trees.set_index("tree_id")
    pd.testing.assert_frame_equal(again, before)


def test_books_without_the_table_are_read_and_brought_forward(tmp_path):
    """Layout 1 had no table of defects."""

    path = city_with(tmp_path, A)
    books = tmp_path / "trees_books.gpkg"
    with closing(sqlite3.connect(books)) as database:
        database.execute("DROP TABLE defects")
        database.execute("DELETE FROM gpkg_contents WHERE table_name = 'defects'")
        database.execute("DELETE FROM gpkg_ogr_contents WHERE table_name = 'defects'")
        database.execute("UPDATE books SET schema_version = 1")
        database.commit()
    assert len(open_city(path).inventory.visits) == 1
    record(path, plain(B).assign(defects_seen="dead wood"), "more.csv")
    assert read_books(books).defects["defect"].tolist() == ["dead wood"]
    assert len(read_books(books).visits) == 2


def test_the_inventory_is_never_taken_for_books(tmp_path):

    path = city_with(tmp_path)
    path.write_text(path.read_text() + '\n[layers]\nbooks = "trees.gpkg"\n')
    before = (tmp_path / "trees.gpkg").read_bytes()
    with pytest.raises(StoreError, match="is the inventory"):
        record(path, plain(A))
    assert (tmp_path / "trees.gpkg").read_bytes() == before
