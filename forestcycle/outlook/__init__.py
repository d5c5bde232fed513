"""The years ahead: what a budget buys, and what waiting costs."""

from forestcycle.outlook.budget import Budget, CrewKind
from forestcycle.outlook.chances import Chances, load_chances
from forestcycle.outlook.trajectory import MEASURES, Trajectory

__all__ = [
    "MEASURES",
    "Budget",
    "Chances",
    "CrewKind",
    "Trajectory",
    "load_chances",
]
