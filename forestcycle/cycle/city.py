"""A city: its settings and its inventory, opened together."""

from dataclasses import dataclass
from pathlib import Path

from forestcycle.inventory.open import open_inventory
from forestcycle.inventory.schema import Inventory
from forestcycle.practice.species import known_species, largest_dbh_cm
from forestcycle.progress import Progress, silent
from forestcycle.settings import CycleSettings, load_settings


@dataclass(frozen=True)
class City:
    """What the main road starts from.

    Attributes
    ----------
    settings : CycleSettings
        As checked from ``cycle.toml``.
    folder : Path
        The settings file's folder; relative paths start there.
    inventory : Inventory
        Usable trees and everything set aside.
    """

    settings: CycleSettings
    folder: Path
    inventory: Inventory


def open_city(path: Path | str, *, progress: Progress = silent) -> City:
    """Read ``cycle.toml`` and the inventory it names.

    Parameters
    ----------
    path : Path or str
        The settings file.
    progress : Progress, optional
        Told what is being read.

    Returns
    -------
    City

    Raises
    ------
    SettingsError, InventoryError, StoreError
        With every fault that was found.
    """
    path = Path(path)
    settings = load_settings(path)
    inventory = open_inventory(
        settings,
        path.parent,
        known_species=species_names(),
        largest_dbh_cm=largest_dbh_cm(),
        progress=progress,
    )
    return City(settings, path.parent, inventory)


def species_names() -> list[str]:
    """Scientific names, species and genera, that the practice tables know.

    Returns
    -------
    list of str
    """
    known = known_species()
    return [str(name) for name in known.loc[known["rank"] != "size class", "scientific"]]
