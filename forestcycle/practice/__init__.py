"""Arboriculture: what each tree needs, how much this time, when to come back.

Pure functions on arrays over published or stated tables.
"""

from forestcycle.practice.assess import assess
from forestcycle.practice.assessment import Assessment

__all__ = ["Assessment", "assess"]
