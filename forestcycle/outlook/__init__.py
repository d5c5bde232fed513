"""The years ahead: what a budget buys, and what waiting costs."""

from forestcycle.outlook.budget import AS_PLANNED, Budget, CrewKind, CrewTerms
from forestcycle.outlook.chances import Chances, load_chances
from forestcycle.outlook.horizon import Horizon, look_ahead
from forestcycle.outlook.policies import POLICIES, simulate_policy
from forestcycle.outlook.solve import HorizonPlan, solve_horizon
from forestcycle.outlook.stock import Stock, take_stock
from forestcycle.outlook.trajectory import MEASURES, Trajectory

__all__ = [
    "AS_PLANNED",
    "MEASURES",
    "POLICIES",
    "Budget",
    "Chances",
    "CrewKind",
    "CrewTerms",
    "Horizon",
    "HorizonPlan",
    "Stock",
    "Trajectory",
    "load_chances",
    "look_ahead",
    "simulate_policy",
    "solve_horizon",
    "take_stock",
]
