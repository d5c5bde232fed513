"""Kills are real: SIGKILL to a process that records; the books hold all of it or nothing."""

import os
import random
import signal
import sqlite3
import sys
import time
import warnings
from contextlib import closing
from pathlib import Path

import pandas as pd
import pyogrio
import pytest

from forestcycle.errors import StoreError
from forestcycle.fieldwork.books import read_books, write_books

KILLS_AT_STEPS, KILLS_AT_RANDOM = 80, 160


def more(books, number):
    visits = pd.DataFrame(
        {"tree_id": [f"{number}-{i}" for i in range(5)], "visited_on": pd.Timestamp("2026-03-01"),
         "crew": "One", "outcome": "done", "minutes": 10.0, "dose": 0.1}
    ).reindex(columns=[name for name in books.visits.columns if name != "change"])  # fmt: skip
    texts = ["note", "reason", "work_left", "defects_seen", "who"]
    visits[texts] = ""
    return books.recorded(visits, books.refused, source=_file(number), sha256=str(number))


def _file(number):
    return Path(f"{number}.csv")


def killed_while_writing(path, books, *, step=None, after=None):
    """Fork; the child writes and is killed at an audited step, or after some seconds."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        seen = 0

        def count(event, _):
            nonlocal seen
            if event not in WRITING:  # the kill is an event too
                return
            seen += 1
            if seen == step:
                os.kill(os.getpid(), signal.SIGKILL)

        if step is not None:
            sys.addaudithook(count)
        try:
            write_books(path, books)
        finally:
            os._exit(0)
    if after is not None:
        time.sleep(after)
        os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


WRITING = {"open", "os.rename", "os.remove", "os.link", "sqlite3.connect", "os.listdir", "os.mkdir",
           "sqlite3.connect/handle", "os.scandir", "pathlib.Path.glob"}  # fmt: skip


def whole(path):
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    books = read_books(path)
    assert len(books.visits) == 5 * len(books.changes)
    assert books.visits["change"].nunique() == len(books.changes)
    return books


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills need fork")
def test_a_kill_at_any_moment_leaves_all_or_nothing(tmp_path):
    path = tmp_path / "books.gpkg"
    write_books(path, more(read_books(path), 0))
    chance, killed = random.Random(1), 0
    for step in range(1, KILLS_AT_STEPS + 1):
        if not killed_while_writing(path, more(whole(path), step), step=step):
            break  # past the last step
        killed += 1
    assert killed >= 20
    for number in range(KILLS_AT_RANDOM):
        after = chance.uniform(0, 0.05)
        killed += killed_while_writing(path, more(whole(path), 1000 + number), after=after)
    whole(path)
    print(f"killed {killed} times")
    assert killed >= 100


def test_a_plain_table_of_visits_is_brought_forward(tmp_path):
    path = tmp_path / "books.gpkg"
    table = pd.DataFrame({"tree_id": ["a"], "visited_on": [pd.Timestamp("2026-03-01")]})
    pyogrio.write_dataframe(table, path, layer="visits", driver="GPKG")
    books = read_books(path)
    assert books.visits[["tree_id", "change"]].to_numpy().tolist() == [["a", 0]]
    write_books(path, books)
    assert len(read_books(path).visits) == 1


def test_books_of_a_later_version_are_refused(tmp_path):
    path = tmp_path / "books.gpkg"
    later = pd.DataFrame({"schema_version": [99]})
    pyogrio.write_dataframe(later, path, layer="books", driver="GPKG")
    with pytest.raises(StoreError, match="later version"):
        read_books(path)


def test_a_view_without_end_in_the_books_is_not_read(tmp_path):
    path = tmp_path / "books.gpkg"
    write_books(path, more(read_books(path), 0))
    endless = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i FROM n"
    with closing(sqlite3.connect(path)) as database, database:
        database.execute(f"CREATE VIEW many AS {endless}")
        database.execute(
            "INSERT INTO gpkg_contents (table_name, data_type) VALUES ('many', 'attributes')"
        )
    assert len(read_books(path).visits) == 5


def test_books_without_a_version_are_refused(tmp_path):
    path = tmp_path / "books.gpkg"
    write_books(path, more(read_books(path), 0))
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("DELETE FROM books")
    with pytest.raises(StoreError, match="layout of books"):
        read_books(path)
