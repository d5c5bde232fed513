"""Sound files to spoil: a small city, tables of it as text, a plan of it and its books."""

import shutil
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pyogrio

import sample_city
from tests.cli.commands import run

TREES, SEED = 200, 1
CITY, SETTINGS, TABLE_SETTINGS = "city.gpkg", "cycle.toml", "tables.toml"
BOOKS, PLAN = "city_books.gpkg", "plan"
RECORDS = ("defects", "visits", "requests")
RETURNS, SHEET = "returns.csv", "sheet.csv"
WORKED_ON = "2026-11-20"


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
    if (folder / SHEET).exists():
        return Ground(
            folder, tuple(pyogrio.read_dataframe(folder / CITY, layer="trees")["tree_id"])
        )
    folder.mkdir(exist_ok=True)
    sample_city.make(folder, trees=TREES, seed=SEED)
    trees = pyogrio.read_dataframe(folder / CITY, layer="trees")
    _write_tables(folder, trees)
    ids = tuple(trees["tree_id"])
    _write_returns(folder, ids)
    for words in (
        ("plan", SETTINGS, "--out", PLAN, "--rounds", 1, "--quiet"),
        ("record", SETTINGS, RETURNS, "--today", "2026-12-31", "--quiet"),
    ):
        ended = run(*words, cwd=folder)
        if ended.code:
            raise RuntimeError(ended.said)
    _write_sheet(folder)
    return Ground(folder, ids)


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


def copy_ground(ground: Ground, folder: Path, *, with_plan: bool, with_books: bool) -> None:
    """Give a case its own copy of the sound files."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    for path in ground.folder.iterdir():
        if path.is_file() and (with_books or not path.name.startswith(BOOKS)):
            shutil.copyfile(path, folder / path.name)
    if with_plan:
        (folder / PLAN).mkdir()
        for name in ("plan.gpkg", "summary.json"):
            shutil.copyfile(ground.folder / PLAN / name, folder / PLAN / name)
