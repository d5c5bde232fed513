"""Record what the crews did."""

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import pandas as pd
import pyogrio

from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.city import City
from forestcycle.errors import Fault, StoreError
from forestcycle.fieldwork.books import read_books, write_books
from forestcycle.fieldwork.check import Checked, check_returns
from forestcycle.fieldwork.defects_seen import observations
from forestcycle.fieldwork.lock import locked
from forestcycle.fieldwork.returns import read_returns
from forestcycle.inventory.source import books_path, sha256_of
from forestcycle.practice.catalogue import load_catalogue
from forestcycle.practice.installed import tables_folder
from forestcycle.progress import Progress, silent


@dataclass(frozen=True)
class Recorded:
    """How a record went.

    Attributes
    ----------
    checked : Checked
        The returns, sorted by what was done with them.
    defects : DataFrame
        Observations taken from what crews wrote of new visits.
    books : Path
        Where they are kept.
    written : bool
        False if the file said nothing new.
    """

    checked: Checked
    defects: pd.DataFrame
    books: Path
    written: bool


def record_returns(
    city: City,
    path: Path,
    *,
    plan: Path | None = None,
    today: date | None = None,
    progress: Progress = silent,
) -> Recorded:
    """Record a file of returns; the same file again changes nothing.

    Parameters
    ----------
    city : City
    path : Path
        A filled-in crew list or a plain table; see ``docs/returns.md``.
    plan : Path, optional
        The plan's folder: planned minutes and doses where the file has none.
    today : date, optional
        Later visits are refused; the computer's date by default.
    progress : Progress, optional

    Returns
    -------
    Recorded

    Raises
    ------
    InventoryError, StoreError
        If the file cannot be read, or the books not be written.
    """
    returns = read_returns(path)
    if plan is not None:
        returns = _filled(
            returns, _planned(plan), ["planned_minutes", "planned_dose", "dose_limit"]
        )
    returns = _filled(returns, _limits(city, returns), ["dose_limit"])
    catalogue = load_catalogue(folder=tables_folder(city.settings.practice.tables, city.folder))
    books_file = city_books(city)
    _refuse_inventory(city, books_file)
    with locked(books_file, "the books", progress=progress):
        books = read_books(books_file)
        known = pd.concat(
            [part for part in (books.visits, city.inventory.visits) if len(part)] or [books.visits]
        )
        tree_ids = set(city.inventory.trees["tree_id"])
        checked = check_returns(returns, known, tree_ids, today=today or date.today())
        defects, strange = observations(
            checked.new, catalogue.names, catalogue.words["word"].tolist()
        )
        checked = checked.warned(strange)
        sha256 = sha256_of(path)
        told_before = bool((books.refused["sha256"] == sha256).any())
        refused = checked.refused.iloc[:0] if told_before else checked.refused
        written = bool(len(checked.new) or len(refused))
        if written:
            after = books.recorded(
                checked.new, refused, source=path, sha256=sha256, defects=defects
            )
            write_books(books_file, after)
    return Recorded(checked, defects, books_file, written)


def _refuse_inventory(city: City, books: Path) -> None:
    """Keep the promise that the inventory's own file is never written."""
    source = city.inventory.source
    if isinstance(source, Path) and source.resolve() == books.resolve():
        what = "is the inventory, which a record never writes"
        raise StoreError(Fault(what, "layers.books", "name a file for the books alone"))


def city_books(city: City) -> Path:
    """Say where the city's books lie.

    Parameters
    ----------
    city : City

    Returns
    -------
    Path
        Named in the settings, else beside the inventory.
    """
    return books_path(city.settings.layers.books, city.folder, city.inventory.source)


def _filled(returns: pd.DataFrame, known: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    """Fill in by tree what the file of returns does not say."""
    by_tree = known.drop_duplicates("tree_id").set_index("tree_id")
    return returns.assign(
        **{name: returns[name].fillna(returns["tree_id"].map(by_tree[name])) for name in columns}
    )


def _planned(folder: Path) -> pd.DataFrame:
    columns = ["tree_id", "service_minutes", "dose", "dose_limit"]
    try:
        stops = pyogrio.read_dataframe(
            folder / "plan.gpkg", layer="stops", columns=columns, read_geometry=False
        )
        figures = pd.DataFrame(stops[columns]).astype(dict.fromkeys(columns[1:], float))
    except (RuntimeError, ValueError, TypeError, KeyError) as error:
        fault = Fault(f"cannot be read: {error}", str(folder / "plan.gpkg"), "name a plan's folder")
        raise StoreError(fault) from error
    names = {"service_minutes": "planned_minutes", "dose": "planned_dose"}
    return figures.rename(columns=names)


def _limits(city: City, returns: pd.DataFrame) -> pd.DataFrame:
    """Dose limits of the trees for which the returns say none."""
    wanted = set(returns.loc[returns["dose_limit"].isna(), "tree_id"])
    trees = city.inventory.trees
    rows = trees[trees["tree_id"].isin(wanted)].reset_index(drop=True)
    if not len(rows):
        return pd.DataFrame({"tree_id": [], "dose_limit": []})
    tables = {
        name: (table := getattr(city.inventory, name))[table["tree_id"].isin(wanted)]
        for name in ("defects", "visits", "requests")
    }
    some = replace(city.inventory, trees=rows, **tables)
    return assess_city(replace(city, inventory=some)).trees[["tree_id", "dose_limit"]]
