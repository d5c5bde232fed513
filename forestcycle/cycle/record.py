"""Record what the crews did."""

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import pandas as pd

from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.city import City
from forestcycle.errors import Fault, StoreError
from forestcycle.fieldwork.books import Books, read_books, write_books
from forestcycle.fieldwork.check import Checked, check_returns
from forestcycle.fieldwork.crew_names import as_the_city_writes, strangers
from forestcycle.fieldwork.defects_seen import observations
from forestcycle.fieldwork.lock import locked
from forestcycle.fieldwork.returns import read_returns
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.database import Database
from forestcycle.inventory.source import books_path, sha256_of
from forestcycle.inventory.spreadsheet import spreadsheet_text
from forestcycle.practice.catalogue import load_catalogue
from forestcycle.practice.installed import tables_folder
from forestcycle.progress import Progress, silent
from forestcycle.publish.plan_folder import PLAN_FILE, read_plan_layer


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
    day_first: bool | None = None,
    sheet: Path | None = None,
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
    day_first : bool, optional
        How 3/4/2027 is read; by default as the file's other dates say.
    sheet : Path, optional
        Where all refusals and warnings are written as CSV too.
    progress : Progress, optional

    Returns
    -------
    Recorded

    Raises
    ------
    InventoryError, StoreError
        If the file cannot be read, or the books not be written.
    """
    returns = _read(city, path, plan, day_first=day_first)
    file = books_path(city.settings, city.folder)
    _refuse_inventory(city, file)
    _refuse_overwriting(sheet, [path, file, city.inventory.source])
    with locked(file, "the books", progress=progress):
        books = read_books(file)
        checked, defects = _check(city, books, returns, today or date.today())
        if sheet is not None:
            write_text_atomically(sheet, spreadsheet_text(_faults(checked)))
        written = _write(file, books, checked, defects, path)
    return Recorded(checked, defects, file, written)


def _read(city: City, path: Path, plan: Path | None, *, day_first: bool | None) -> pd.DataFrame:
    """Read returns; what they leave out is taken from the plan, and limits from the assessment."""
    returns = read_returns(path, day_first=day_first)
    if plan is not None:
        figures = ["planned_minutes", "planned_dose", "dose_limit"]
        returns = _filled(returns, _planned(plan), figures)
    return _filled(returns, _limits(city, returns), ["dose_limit"])


def _check(
    city: City, books: Books, returns: pd.DataFrame, today: date
) -> tuple[Checked, pd.DataFrame]:
    """Sort returns by what can be done with them, and take the defects seen from the new ones."""
    visits = [part for part in (books.visits, city.inventory.visits) if len(part)]
    known = pd.concat(visits) if visits else books.visits
    own = [crew.name for crew in city.settings.crews]
    crews = list(dict.fromkeys([*own, *as_the_city_writes(city.inventory.visits["crew"], own)]))
    returns, known = (
        table.assign(crew=as_the_city_writes(table["crew"], crews)) for table in (returns, known)
    )
    checked = check_returns(returns, known, set(city.inventory.trees["tree_id"]), today=today)
    catalogue = load_catalogue(folder=tables_folder(city.settings.practice.tables, city.folder))
    severities = catalogue.words["word"].tolist()
    defects, strange = observations(checked.new, catalogue.names, severities)
    return checked.warned(strange).warned(strangers(checked.new, crews)), defects


def _write(file: Path, books: Books, checked: Checked, defects: pd.DataFrame, source: Path) -> bool:
    """Write what is new, if anything is; each refused row of a file is kept once."""
    sha256 = sha256_of(source)
    told_before = books.refused.loc[books.refused["sha256"] == sha256, "row"]
    refused = checked.refused[~checked.refused["row"].isin(told_before)]
    if not len(checked.new) and not len(refused):
        return False
    after = books.recorded(checked.new, refused, source=source, sha256=sha256, defects=defects)
    write_books(file, after)
    return True


def _faults(checked: Checked) -> pd.DataFrame:
    tables = {"refused": checked.refused, "warning": checked.warnings}
    both = pd.concat([table.assign(kind=kind) for kind, table in tables.items()])
    return both[["kind", *checked.refused.columns]]


def _refuse_overwriting(sheet: Path | None, others: list[Path | Database]) -> None:
    files = [other.resolve() for other in others if isinstance(other, Path)]
    if sheet is not None and sheet.resolve() in files:
        raise StoreError(Fault("would be overwritten", str(sheet), "name another file"))


def _refuse_inventory(city: City, books: Path) -> None:
    """Keep the promise that the inventory's own file is never written."""
    source = city.inventory.source
    if isinstance(source, Path) and source.resolve() == books.resolve():
        what = "is the inventory, which a record never writes"
        raise StoreError(Fault(what, "layers.books", "name a file for the books alone"))


def _filled(returns: pd.DataFrame, known: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    """Fill in by tree what the file of returns does not say."""
    by_tree = known.drop_duplicates("tree_id").set_index("tree_id")
    return returns.assign(
        **{name: returns[name].fillna(returns["tree_id"].map(by_tree[name])) for name in columns}
    )


def _planned(folder: Path) -> pd.DataFrame:
    """Planned minutes and doses of the trees of a plan."""
    columns = ["tree_id", "service_minutes", "dose", "dose_limit"]
    stops = read_plan_layer(folder, "stops", columns=columns, read_geometry=False)
    try:
        figures = pd.DataFrame(stops[columns]).astype(dict.fromkeys(columns[1:], float))
    except (ValueError, TypeError, KeyError) as error:
        where = f"{folder / PLAN_FILE}, layer stops"
        raise StoreError(Fault(f"is spoilt: {error}", where, "name another plan")) from error
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
