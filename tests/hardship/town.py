"""A town of three trees with books and a plan, and what must hold of it whatever happens."""

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pyogrio

from forestcycle.cycle.folder import OWN_NAMES
from tests.cli.small_city import write_city

HEADER = "tree_id,visited_on,crew,outcome,minutes,dose\n"
FIRST = HEADER + "a,2026-03-02,One,done,20,0.1\n"
SECOND = HEADER + "b,2026-03-03,One,done,25,0.1\nc,2026-03-03,One,done,30,0.1\n"
NOTES = "The oak by the school: ring first."
TODAY = ("--today", "2026-12-31", "--quiet")
COMMANDS = {
    "record": ("record", "cycle.toml", "second.csv", *TODAY),
    "undo": ("undo", "cycle.toml"),
    "plan": ("plan", "cycle.toml", "--out", "plan", "--rounds", "1", "--seed", "2", "--quiet"),
    "publish": ("publish", "plan", "--quiet"),
}
PREPARATIONS = (
    ("record", "cycle.toml", "first.csv", *TODAY),
    ("plan", "cycle.toml", "--out", "plan", "--rounds", "1", "--seed", "1", "--quiet"),
)
BOOKS, PLAN, LOCK = "trees_books.gpkg", "plan", "trees_books.gpkg.lock"
VISITS = {"record": ({"a"}, {"a", "b", "c"}), "undo": ({"a"}, set())}
SEEDS = {"plan": (1, 2)}


def write_town(folder: Path) -> None:
    """Write all but what the preparations make."""
    folder.mkdir(exist_ok=True)
    write_city(folder)
    (folder / "first.csv").write_text(FIRST)
    (folder / "second.csv").write_text(SECOND)


def add_notes(folder: Path) -> None:
    """Put files of others into the plan's folder."""
    (folder / PLAN / "notes of the chief.txt").write_text(NOTES)


def copy_town(template: Path, folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(template, folder)


def passes_integrity_check(path: Path) -> bool:
    with closing(sqlite3.connect(path)) as database:
        return bool(database.execute("PRAGMA integrity_check").fetchone()[0] == "ok")


def recorded(folder: Path) -> set[str]:
    """Trees with a visit in the books, which hold as many as their changes say."""
    assert passes_integrity_check(folder / BOOKS)
    visits, changes = (
        pyogrio.read_dataframe(folder / BOOKS, layer=layer) for layer in ("visits", "changes")
    )
    assert len(visits) == changes["visits"].sum()
    return set(visits["tree_id"])


def seed_of_plan(folder: Path) -> int:
    """Seed of the plan in the folder, which is whole and of one piece."""
    plan = folder / PLAN
    assert passes_integrity_check(plan / "plan.gpkg")
    run = pyogrio.read_dataframe(plan / "plan.gpkg", layer="run").set_index("key")["value"]
    summary = json.loads((plan / "summary.json").read_text())
    assert summary["seed"] == int(run["seed"])
    assert summary["verified"]
    assert (plan / "notes of the chief.txt").read_text() == NOTES
    missing = {"index.html", "maps", "crew_lists", "sheets", "report"} & OWN_NAMES
    assert missing <= {entry.name for entry in plan.iterdir()}
    return int(run["seed"])


def input_hash(folder: Path) -> str:
    return hashlib.sha256((folder / "trees.gpkg").read_bytes()).hexdigest()


def check(folder: Path, template: Path, command: str) -> str:
    """Return ``old`` or ``new``; anything else fails."""
    assert input_hash(folder) == input_hash(template)
    trees, seed = recorded(folder), seed_of_plan(folder)
    if command in VISITS:
        assert seed == 1
        assert trees in VISITS[command]
        return "old" if trees == VISITS[command][0] else "new"
    assert trees == {"a"}
    if command in SEEDS:
        assert seed in SEEDS[command]
        return "old" if seed == SEEDS[command][0] else "new"
    assert seed == 1
    return "new"
