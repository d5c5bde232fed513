"""Arboriculture: what each tree needs, how much this time, when to come back.

Pure functions on arrays over published or stated tables.
"""

from forestcycle.practice.assess import assess
from forestcycle.practice.assessment import Assessment
from forestcycle.practice.explain import Statement, explain
from forestcycle.practice.priority import sensitivity

__all__ = ["Assessment", "Statement", "assess", "explain", "sensitivity"]
