"""Check a written plan from its files alone."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from forestcycle.errors import Fault
from forestcycle.schedule.verification.bound import check_bound
from forestcycle.schedule.verification.days import (
    check_breaks,
    check_calendar,
    check_clock,
    check_legs,
    check_order,
)
from forestcycle.schedule.verification.files import PlanFiles, read_plan
from forestcycle.schedule.verification.limits import (
    check_money,
    check_summary,
    check_wards,
    check_worth,
)
from forestcycle.schedule.verification.rules import check_equipment, check_hours
from forestcycle.schedule.verification.visits import (
    check_dates,
    check_doses,
    check_skills,
    check_trees,
)

RULES: tuple[Callable[[PlanFiles], list[Fault]], ...] = (
    check_trees,
    check_dates,
    check_doses,
    check_skills,
    check_hours,
    check_equipment,
    check_calendar,
    check_order,
    check_legs,
    check_clock,
    check_breaks,
    check_money,
    check_wards,
    check_worth,
    check_bound,
    check_summary,
)


@dataclass(frozen=True)
class Verification:
    """What the verifier found.

    Attributes
    ----------
    faults : tuple of Fault
        Every broken rule, with where it is broken.
    counts : dict of str to int
        What was checked, and faults by rule.
    """

    faults: tuple[Fault, ...]
    counts: dict[str, int]

    @property
    def ok(self) -> bool:
        """Whether the plan keeps every rule."""
        return not self.faults


def verify(path: Path) -> Verification:
    """Check every rule on a written plan.

    Parameters
    ----------
    path : Path
        A plan's folder, or its ``plan.gpkg``.

    Returns
    -------
    Verification

    Raises
    ------
    StoreError
        If the plan lacks tables that the rules need.
    """
    plan = read_plan(Path(path))
    found = {rule.__name__.removeprefix("check_"): rule(plan) for rule in RULES}
    checked = {"trees": len(plan.trees), "stops": len(plan.stops), "legs": len(plan.legs)}
    return Verification(
        faults=tuple(fault for faults in found.values() for fault in faults),
        counts=checked | {f"faults in {name}": len(faults) for name, faults in found.items()},
    )
