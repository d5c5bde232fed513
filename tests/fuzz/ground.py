"""Sound files to spoil: a small city, tables of it as text, its books, plan, revision, outlook."""

import shutil
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pyogrio

import sample_city
from tests.cli.commands import run

TREES, SEED = 200, 1
CITY, SETTINGS, TABLE_SETTINGS = "city.gpkg", "cycle.toml", "tables.toml"
BOOKS, PLAN, REVISIONS = "city_books.gpkg", "plan", "plan-revisions"
FIRST_PLAN = f"{REVISIONS}/before-0001"
OUTLOOK = "outlook"
RECORDS = ("defects", "visits", "requests")
RETURNS, SHEET, LOCKS, SCENARIOS = "returns.csv", "sheet.csv", "locks.csv", "scenarios.csv"
WORKED_ON, REVISED_FROM = "2026-11-20", "2027-03-01"
NO_DATABASE = '\n[database]\naddress = "postgresql://forester@127.0.0.1:9/trees"\n'
"""Nobody listens there: what is sent is read, then refused."""


@dataclass(frozen=True)
class Ground:
    """The sound files.

    Attributes
    ----------
    folder : Path
        Holds every file that a case may copy.
    tree_ids : tuple of str
    """

    folder: Path
    tree_ids: tuple[str, ...]


def make_ground(folder: Path) -> Ground:
    """Write the sound files into a folder, unless they are there from an earlier run."""
    if (folder / OUTLOOK).exists():
        return Ground(
            folder, tuple(pyogrio.read_dataframe(folder / CITY, layer="trees")["tree_id"])
        )
    folder.mkdir(exist_ok=True)
    sample_city.make(folder, trees=TREES, seed=SEED)
    settings = folder / SETTINGS
    settings.write_text(settings.read_text() + NO_DATABASE)
    trees = pyogrio.read_dataframe(folder / CITY, layer="trees")
    _write_tables(folder, trees)
    ids = tuple(trees["tree_id"])
    _write_returns(folder, ids)
    _run(folder, "plan", SETTINGS, "--out", PLAN, "--rounds", 1)
    _run(folder, "record", SETTINGS, RETURNS, "--today", "2026-12-31")
    _write_sheet(folder)
    _write_locks(folder)
    (folder / SCENARIOS).write_text(
        "name,budget.year_cents,plan.least_worth\nas it is,,\nless,1000000,\nnone,none,1\n"
    )
    _run(folder, "revise", SETTINGS, "--from", REVISED_FROM, "--rounds", 1)
    words = ("--years", 2, "--budgets", "100%", "--out", OUTLOOK)
    _run(folder, "outlook", SETTINGS, *words)
    return Ground(folder, ids)


def _run(folder: Path, *words: object) -> None:
    ended = run(*words, "--quiet", cwd=folder)
    if ended.code:
        raise RuntimeError(ended.said)


def _write_tables(folder: Path, trees: pd.DataFrame) -> None:
    """Write the same city as delimited text, with settings for it."""
    text = (folder / SETTINGS).read_text()
    table = pd.DataFrame(trees.drop(columns="geometry"))
    table.assign(x=trees.geometry.x, y=trees.geometry.y).to_csv(folder / "trees.csv", index=False)
    for name in RECORDS:
        records = pyogrio.read_dataframe(folder / CITY, layer=name)
        records.to_csv(folder / f"{name}.csv", index=False)
        text = text.replace(f'{name} = "{name}"', f'{name} = "{name}.csv"')
    for name in ("streets", "wards", "depots", "parks"):
        text = text.replace(f'{name} = "{name}"', f'{name} = "{CITY}:{name}"')
    crs = f'inventory = "trees.csv"\nsource_crs = "{trees.crs.to_string()}"'
    text = text.replace(f'inventory = "{CITY}"', crs).replace('trees = "trees"\n', "")
    text = text.replace('dbh = "dbh_cm"', 'dbh = "dbh_cm"\nlongitude = "x"\nlatitude = "y"')
    (folder / TABLE_SETTINGS).write_text(text)


def _write_returns(folder: Path, ids: tuple[str, ...]) -> None:
    rows = pd.DataFrame({"tree_id": ids[:24], "visited_on": WORKED_ON, "crew": "Climbing crew"})
    rows["outcome"] = ["done", "partly done", "skipped"] * 8
    worked = rows["outcome"] != "skipped"
    rows["minutes"], rows["dose"] = worked * 12.5, worked * 0.12
    rows["work_left"], rows["defects_seen"], rows["note"], rows["who"] = "", "", "as told", "AB"
    rows.to_csv(folder / RETURNS, index=False)


def _write_sheet(folder: Path) -> None:
    """Write a crew list as a clerk would type it up."""
    sheet = pd.read_csv(folder / PLAN / "crew_lists" / "all.csv", dtype=str).head(24)
    sheet["date"], sheet["done"], sheet["actual_minutes"] = WORKED_ON, "yes", "14"
    sheet["dose_taken_percent"], sheet["remarks"] = "10 %", "limb over the roof"
    sheet.to_csv(folder / SHEET, index=False, encoding="utf-8-sig")


def _write_locks(folder: Path) -> None:
    """Write visits that keep their day, crew or order."""
    locks = pd.read_csv(folder / PLAN / "crew_lists" / "all.csv", dtype=str)[["tree_id"]].tail(9)
    locks["day"], locks["crew"], locks["order"] = "yes", ["yes", "", ""] * 3, ["", "yes", ""] * 3
    locks.to_csv(folder / LOCKS, index=False)


def copy_ground(ground: Ground, folder: Path, *, revised: bool, with_books: bool) -> None:
    """Give a case its own copy of the sound files, with the first plan or the revised one."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    for path in ground.folder.iterdir():
        if path.is_file() and (with_books or not path.name.startswith(BOOKS)):
            shutil.copyfile(path, folder / path.name)
    if revised:
        _copy_plan(ground.folder / PLAN, folder / PLAN)
        _copy_plan(ground.folder / FIRST_PLAN, folder / FIRST_PLAN)
    else:
        _copy_plan(ground.folder / FIRST_PLAN, folder / PLAN)


def _copy_plan(source: Path, folder: Path) -> None:
    """Copy what commands read of a plan; its maps and sheets are never read."""
    folder.mkdir(parents=True)
    for name in ("plan.gpkg", "summary.json", "revision.csv", "revision.json"):
        if (source / name).exists():
            shutil.copyfile(source / name, folder / name)
