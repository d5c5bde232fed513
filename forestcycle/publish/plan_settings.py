"""The settings that a plan was made with, from its ``run`` table."""

from functools import lru_cache

from pydantic import ValidationError

from forestcycle.errors import Fault, StoreError
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.settings import CycleSettings


def settings_of(plan: PlanFolder) -> CycleSettings:
    """Read the settings from the plan's ``run`` table.

    Parameters
    ----------
    plan : PlanFolder
        Its ``run["settings"]`` is ``CycleSettings.model_dump_json()``.

    Returns
    -------
    CycleSettings

    Raises
    ------
    StoreError
        If they are missing or of another version.
    """
    try:
        return _parsed(plan.run.get("settings", ""))
    except ValidationError as error:
        first = error.errors()[0]["msg"]
        raise StoreError(
            Fault(f"the plan's settings cannot be read: {first}", str(plan.path), "plan again")
        ) from None


@lru_cache(maxsize=8)
def _parsed(text: str) -> CycleSettings:
    return CycleSettings.model_validate_json(text)
