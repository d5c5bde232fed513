"""Arboriculture: what each tree needs, how much this time, when to come back.

Pure functions on arrays over published or stated tables.
"""

from forestcycle.practice.assess import assess
from forestcycle.practice.assessment import Assessment
from forestcycle.practice.conductors import line_clearance_distance_m
from forestcycle.practice.dose import dose_from_branches, dose_from_brush
from forestcycle.practice.explain import Statement, explain
from forestcycle.practice.priority import sensitivity
from forestcycle.practice.risk import failure_and_impact, risk_rating
from forestcycle.practice.trunk_value import trunk_formula_value

__all__ = [
    "Assessment",
    "Statement",
    "assess",
    "dose_from_branches",
    "dose_from_brush",
    "explain",
    "failure_and_impact",
    "line_clearance_distance_m",
    "risk_rating",
    "sensitivity",
    "trunk_formula_value",
]
