"""What stands where: reading, field mapping, units, checks and the store."""

from forestcycle.inventory.open import open_inventory
from forestcycle.inventory.schema import Inventory

__all__ = ["Inventory", "open_inventory"]
