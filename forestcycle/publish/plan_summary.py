"""Read ``summary.json`` of a plan's folder and check the figures that the outputs show."""

import json
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from forestcycle.errors import Fault, StoreError

REMEDY = "plan again"

Count = Annotated[int, Field(ge=0, lt=1 << 63)]
Minutes = Annotated[float, Field(ge=0, allow_inf_nan=False)]


class _Figures(BaseModel):
    """What the outputs show; whatever else there is goes unchecked."""

    model_config = ConfigDict(strict=True)

    trees_in_inventory: Count
    trees_usable: Count
    trees_eligible: Count
    trees_planned: Count
    crew_days_available: Count
    crew_days_used: Count
    worth: float
    bound: float
    gap: float
    certified: bool = True
    minutes_service: Minutes
    minutes_travel: Minutes
    cost_cents: Count
    budget_cents: Count | None = None
    unplanned_reasons: dict[str, Count] = {}
    sensitivity: dict[str, float] = {}
    verified: bool


def read_summary(path: Path) -> dict[str, Any]:
    """Read the figures of a plan.

    Parameters
    ----------
    path : Path
        A ``summary.json``.

    Returns
    -------
    dict
        As it is written there.

    Raises
    ------
    StoreError
        With every figure that is missing or spoilt.
    """
    try:
        summary = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as error:
        raise StoreError(Fault(f"cannot be read: {error}", str(path), REMEDY)) from None
    if not isinstance(summary, dict):
        raise StoreError(Fault("is no summary of a plan", str(path), REMEDY))
    try:
        _Figures.model_validate(summary)
    except ValidationError as error:
        raise StoreError([_fault(path, dict(item)) for item in error.errors()]) from None
    return summary


def _fault(path: Path, item: dict[str, Any]) -> Fault:
    figure = ": ".join(repr(str(part)) for part in item["loc"])
    missing = item["type"] == "missing"
    return Fault(f"{figure} is {'missing' if missing else 'spoilt'}", str(path), REMEDY)
