"""``[calendar]`` and ``[[crews]]``: who works when."""

from datetime import date, time
from typing import Literal, Self

from pydantic import Field, model_validator

from forestcycle.settings.base import Part, TimeOfDay

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
Skill = Literal["ground", "climb", "lift", "line_clearance"]
WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


class Calendar(Part):
    """Days on which the city works."""

    workdays: tuple[Weekday, ...] = Field(
        default=("mon", "tue", "wed", "thu", "fri"), description="Days of the week with work."
    )
    holidays: tuple[date, ...] = Field(default=(), description="Days on which no crew works.")
    storm_reserve: float = Field(
        default=0.0,
        ge=0,
        le=0.9,
        description="Share of each crew's days kept free for storms, spread over the year.",
    )


class Crew(Part):
    """One crew: its depot, skills, shift, days and money."""

    name: str = Field(min_length=1, description="As on maps and lists; no two alike.")
    depot: str = Field(default="", description="Name in the depots layer; the first by default.")
    skills: tuple[Skill, ...] = Field(
        default=("ground",),
        min_length=1,
        description="What the crew is equipped and qualified for.",
    )
    equipment: tuple[str, ...] = Field(
        default=(), description="What it brings along, by the names of the [[equipment]] rules."
    )
    shift_start: TimeOfDay = Field(default=time(7, 0), description="Start of the shift.")
    shift_minutes: int = Field(
        default=480, gt=0, le=960, description="Length of the shift, with break and set-up."
    )
    break_minutes: int = Field(default=30, ge=0, description="Break, taken between two stops.")
    setup_minutes: int = Field(
        default=20, ge=0, description="Loading, briefing and unloading at the depot, per day."
    )
    day_cost_cents: int = Field(default=0, ge=0, description="People, truck and fuel of one day.")
    first_day: date | None = Field(default=None, description="First day of work, if later.")
    last_day: date | None = Field(default=None, description="Last day of work, if earlier.")
    days_off: tuple[date, ...] = Field(default=(), description="Days on which this crew is off.")
    workdays: tuple[Weekday, ...] | None = Field(
        default=None, description="Of this crew, where they differ from the calendar's."
    )
    most_days: int | None = Field(
        default=None,
        ge=1,
        description="Most days in the plan, spread evenly over its working days.",
    )

    @model_validator(mode="after")
    def _shift_leaves_time(self) -> Self:
        lost = self.break_minutes + self.setup_minutes
        if lost >= self.shift_minutes:
            raise ValueError(
                f"crew {self.name!r}: a shift of {self.shift_minutes} minutes leaves no working "
                f"time after {lost} minutes of break and set-up"
            )
        return self

    @property
    def working_minutes(self) -> int:
        """Shift less break and set-up."""
        return self.shift_minutes - self.break_minutes - self.setup_minutes
