"""Practice tables that installed packages bring.

A package registers a folder of tables under a name, as an entry point of the
group ``forestcycle.practice_tables`` whose value is a package with CSV files beside
its ``__init__.py``::

    [project.entry-points."forestcycle.practice_tables"]
    northern = "northern_rules.tables"

``practice.tables = "northern"`` in ``cycle.toml`` then puts them in force.
"""

from importlib.metadata import entry_points
from importlib.util import find_spec
from pathlib import Path

from forestcycle.errors import Fault, SettingsError

GROUP = "forestcycle.practice_tables"


def tables_folder(tables: str | None, base: Path) -> Path | None:
    """Find the city's own tables: a folder, or else an installed set of that name.

    Parameters
    ----------
    tables : str or None
        ``practice.tables`` of the settings.
    base : Path
        The settings file's folder, from which a relative folder counts.

    Returns
    -------
    Path or None
        None for the tables that ship with forestcycle.

    Raises
    ------
    SettingsError
        If there is neither such a folder nor such a set.
    """
    if tables is None:
        return None
    folder = base / tables
    if folder.is_dir():
        return folder
    installed = {entry.name: entry.value for entry in entry_points(group=GROUP)}
    if tables in installed:
        return _folder_of(tables, installed[tables])
    names = f"; installed sets: {', '.join(sorted(installed))}" if installed else ""
    raise SettingsError(
        Fault(f"no such folder{names}", str(folder), "correct practice.tables in cycle.toml")
    )


def _folder_of(name: str, package: str) -> Path:
    try:
        found = find_spec(package)
    except ImportError:
        found = None
    places = list(found.submodule_search_locations or ()) if found else []
    if not places:
        raise SettingsError(
            Fault(f"package {package!r} is not there", f"tables {name!r}", "install it again")
        )
    return Path(places[0])
