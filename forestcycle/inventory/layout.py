"""Numbers of the layouts of our own files, so that a later layout is refused, not misread."""

from pathlib import Path

import pyogrio

from forestcycle.errors import Fault, StoreError

PLAN_LAYOUT = 1
"""Of ``plan.gpkg``: a new number whenever a table changes so that an older reader errs."""
RUN, LAYOUT = "run", "layout"
"""Table of a plan that tells its facts by key, and the key of the number."""


def refuse_later(layout: int, known: int, file: Path) -> None:
    """Refuse a file that a later version of forestcycle has written.

    Parameters
    ----------
    layout : int
        Of the file.
    known : int
        The latest that this version can read.
    file : Path

    Raises
    ------
    StoreError
        If the file's is later.
    """
    if layout > known:
        what = f"was written by a later version (layout {layout}, known: {known})"
        raise StoreError(Fault(what, str(file), "update forestcycle"))


def refuse_later_plan(file: Path) -> None:
    """Refuse a plan that a later version has written; one without a number is of the first.

    Parameters
    ----------
    file : Path
        A GeoPackage.

    Raises
    ------
    StoreError
        If its layout is later than ``PLAN_LAYOUT``, or no number.
    OSError, RuntimeError, ValueError
        Of pyogrio, if it cannot be read.
    """
    if RUN not in {str(name) for name, _ in pyogrio.list_layers(file)}:
        return
    run = pyogrio.read_dataframe(file, layer=RUN, columns=["key", "value"])
    for layout in run["value"][run["key"].astype(str) == LAYOUT].astype(str):
        if not layout.isdecimal():
            what = f"layout {layout!r} is no number"
            raise StoreError(Fault(what, f"{file}: table {RUN}", "plan again"))
        refuse_later(int(layout), PLAN_LAYOUT, file)
