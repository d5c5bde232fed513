"""What all parts of ``cycle.toml`` have in common."""

from datetime import time
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict

REMEDY = "write seven in the morning as 07:00:00"


class Part(BaseModel):
    """A table of ``cycle.toml``: frozen, and an unknown key is a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


def _no_number(value: Any) -> Any:  # noqa: ANN401 - whatever TOML holds
    """Refuse a number: 7 would be seven seconds past midnight."""
    if isinstance(value, int | float):
        raise ValueError(f"a number is no time of day; {REMEDY}")
    return value


def _of_no_zone(value: time) -> time:
    if value.tzinfo is not None:
        raise ValueError(f"a time of the city's own clocks has no zone; {REMEDY}")
    return value


TimeOfDay = Annotated[time, BeforeValidator(_no_number), AfterValidator(_of_no_zone)]
"""By the city's own clocks."""
