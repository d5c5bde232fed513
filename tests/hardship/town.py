"""A town of three trees with books and a plan, and what must hold of it whatever happens."""

import hashlib
import json
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pyogrio

from forestcycle.inventory.layout import LAYOUT, PLAN_LAYOUT
from tests.cli.small_city import write_city

HEADER = "tree_id,visited_on,crew,outcome,minutes,dose\n"
FIRST = HEADER + "a,2026-03-02,One,done,20,0.1\n"
SECOND = HEADER + "b,2026-03-03,One,done,25,0.1\nc,2026-03-03,One,done,30,0.1\n"
NOTES = "The oak by the school: ring first."
TODAY = ("--today", "2026-12-31", "--quiet")
PREPARATIONS = (
    ("record", "cycle.toml", "first.csv", *TODAY),
    ("plan", "cycle.toml", "--out", "plan", "--rounds", "1", "--seed", "1", "--quiet"),
)
BOOKS, PLAN = "trees_books.gpkg", "plan"
PUBLISHED = {"index.html", "maps", "crew_lists", "sheets", "report"}


@dataclass(frozen=True)
class Deed:
    """A command that writes, and how a town tells whether it has.

    Attributes
    ----------
    words : tuple of str
    locks : str
        File that nobody else may hold meanwhile.
    state : callable
        Gives ``old`` or ``new`` of a town's folder; fails for anything else.
    first : tuple of tuple of str
        Commands that make the town ready for it.
    begin : callable
        Called before each trial: brings back what does not lie in the town's folder.
    """

    words: tuple[str, ...]
    locks: str
    state: Callable[[Path], str]
    first: tuple[tuple[str, ...], ...] = ()
    begin: Callable[[], None] = lambda: None


def write_town(folder: Path) -> None:
    """Write all but what the preparations make."""
    folder.mkdir(exist_ok=True)
    write_city(folder)
    (folder / "first.csv").write_text(FIRST)
    (folder / "second.csv").write_text(SECOND)
    for name, cents in (("lean", 90_000), ("rich", 900_000)):
        (folder / f"{name}.csv").write_text(f"name,budget.year_cents\n{name},{cents}\n")


def add_notes(folder: Path) -> None:
    """Put files of others into the plan's folder."""
    (folder / PLAN / "notes of the chief.txt").write_text(NOTES)


def copy_town(template: Path, folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(template, folder)


def passes_integrity_check(path: Path) -> bool:
    with closing(sqlite3.connect(path)) as database:
        return bool(database.execute("PRAGMA integrity_check").fetchone()[0] == "ok")


def layer(path: Path, name: str) -> pd.DataFrame:
    return pyogrio.read_dataframe(path, layer=name, read_geometry=False)


def recorded(folder: Path) -> set[str]:
    """Trees with a visit in the books, which hold as many as their changes say."""
    assert passes_integrity_check(folder / BOOKS)
    visits, changes = (layer(folder / BOOKS, name) for name in ("visits", "changes"))
    assert len(visits) == changes["visits"].sum()
    return set(visits["tree_id"])


def seed_of_plan(plan: Path) -> int:
    """Seed of the plan in a folder, which is whole and of one piece."""
    assert passes_integrity_check(plan / "plan.gpkg")
    run = layer(plan / "plan.gpkg", "run").set_index("key")["value"]
    summary = json.loads((plan / "summary.json").read_text())
    assert summary["seed"] == int(run["seed"])
    assert int(run[LAYOUT]) == PLAN_LAYOUT
    assert summary["verified"]
    assert summary["trees_planned"] == len(layer(plan / "plan.gpkg", "stops"))
    assert (plan / "notes of the chief.txt").read_text() == NOTES
    assert {entry.name for entry in plan.iterdir()} >= PUBLISHED
    return int(run["seed"])


def changes_of_plan(plan: Path) -> list[str]:
    """What has been done to a plan since it was made; its other files say the same."""
    seed_of_plan(plan)
    names = {str(name) for name, _ in pyogrio.list_layers(plan / "plan.gpkg")}
    if "changes" not in names:
        assert not (plan / "revision.csv").exists()
        return []
    changes = layer(plan / "plan.gpkg", "changes")
    standing = changes[~changes["change"].isin(changes["undoes"]) & (changes["undoes"] == 0)]
    assert (
        (plan / "revision.csv").exists() == (plan / "revision.json").exists() == bool(len(standing))
    )
    return [str(command) for command in changes["command"]]


def _one_of(seen: object, old: object, new: object) -> str:
    assert seen in (old, new), seen
    return "old" if seen == old else "new"


def _after_record(folder: Path) -> str:
    assert seed_of_plan(folder / PLAN) == 1
    return _one_of(recorded(folder), {"a"}, {"a", "b", "c"})


def _after_undo_record(folder: Path) -> str:
    assert seed_of_plan(folder / PLAN) == 1
    return _one_of(recorded(folder), {"a"}, set())


def _after_plan(folder: Path) -> str:
    assert recorded(folder) == {"a"}
    return _one_of(seed_of_plan(folder / PLAN), 1, 2)


def _after_publish(folder: Path) -> str:
    assert recorded(folder) == {"a"}
    assert seed_of_plan(folder / PLAN) == 1
    return "new"


def _after_revise(folder: Path) -> str:
    """A revised plan has its old version beside it."""
    assert recorded(folder) == {"a"}
    state = _one_of(changes_of_plan(folder / PLAN), [], ["revise"])
    if state == "new":
        assert changes_of_plan(folder / "plan-revisions" / "before-0001") == []
    return state


def _after_undo_revise(folder: Path) -> str:
    """As long as a revision stands, it can be undone."""
    assert recorded(folder) == {"a"}
    state = _one_of(changes_of_plan(folder / PLAN), ["revise"], ["revise", "undo"])
    if state == "old":
        assert passes_integrity_check(folder / "plan-revisions" / "before-0001" / "plan.gpkg")
    return state


_REVISE = ("revise", "cycle.toml", "--from", "2027-12-01", "--rounds", "1", "--quiet")
_PLAN = ("plan", "cycle.toml", "--out", "plan", "--rounds", "1", "--seed", "2", "--quiet")
COMMANDS = {
    "record": Deed(("record", "cycle.toml", "second.csv", *TODAY), BOOKS, _after_record),
    "undo record": Deed(("undo", "cycle.toml", "--quiet"), BOOKS, _after_undo_record),
    "plan": Deed(_PLAN, PLAN, _after_plan),
    "publish": Deed(("publish", "plan", "--quiet"), PLAN, _after_publish),
    "revise": Deed(_REVISE, PLAN, _after_revise),
    "undo revise": Deed(
        ("undo", "cycle.toml", "--quiet"), PLAN, _after_undo_revise, first=(_REVISE,)
    ),
}


def check(folder: Path, template: Path, deed: Deed) -> str:
    """Return ``old`` or ``new``; anything else fails."""
    inputs = ("trees.gpkg", "cycle.toml")
    hashes = [
        [hashlib.sha256((place / name).read_bytes()).hexdigest() for name in inputs]
        for place in (folder, template)
    ]
    assert hashes[0] == hashes[1]
    return deed.state(folder)
