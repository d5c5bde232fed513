"""What stands where: reading, field mapping, units, checks and the store."""

from forestcycle.inventory.inspect import Findings, inspect_city, inspect_file
from forestcycle.inventory.open import open_inventory
from forestcycle.inventory.schema import Inventory
from forestcycle.inventory.settings_file import write_set_aside, write_settings

__all__ = [
    "Findings",
    "Inventory",
    "inspect_city",
    "inspect_file",
    "open_inventory",
    "write_set_aside",
    "write_settings",
]
