"""Take back the last record."""

from dataclasses import dataclass
from pathlib import Path

from forestcycle.errors import Fault, StoreError
from forestcycle.fieldwork.books import read_books, write_books
from forestcycle.fieldwork.lock import locked
from forestcycle.inventory.source import books_path
from forestcycle.progress import Progress, silent
from forestcycle.settings import load_settings


@dataclass(frozen=True)
class Undone:
    """Which record was taken back: its number, time, file and how many visits it brought."""

    change: int
    at: str
    source: str
    visits: int
    books: Path


def undo_last_record(path: Path, *, progress: Progress = silent) -> Undone:
    """Take back the last record that still stands; this is itself noted as a change.

    Parameters
    ----------
    path : Path
        The settings file.
    progress : Progress, optional

    Returns
    -------
    Undone

    Raises
    ------
    StoreError
        If there is no record to take back, or the books cannot be written.
    """
    file = books_path(load_settings(path), path.parent)
    if not file.exists():
        raise StoreError(Fault("nothing has been recorded yet", str(file)))
    with locked(file, "the books", progress=progress):
        books = read_books(file)
        last = books.last_record()
        if last is None:
            remedy = "nothing is left to take back; record returns to add visits"
            raise StoreError(Fault("every record is undone already", str(file), remedy))
        number = int(last["change"])
        write_books(file, books.undone(number))
    return Undone(number, str(last["at"]), str(last["input"]), int(last["visits"]), file)
