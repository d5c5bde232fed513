"""What ``cycle.toml`` may say, and how it is read."""

from forestcycle.settings.crews import Crew
from forestcycle.settings.cycle import CycleSettings
from forestcycle.settings.load import load_settings

__all__ = ["Crew", "CycleSettings", "load_settings"]
