"""``[city]``: which inventory, which year."""

from datetime import date
from typing import Self

from pydantic import Field, field_validator, model_validator

from forestcycle.settings.address import refuse_password
from forestcycle.settings.base import Part

LONGEST_CYCLE_DAYS = 731


class City(Part):
    """The city and the span of time that a plan covers."""

    name: str = Field(min_length=1, description="Name printed on maps, lists and the report.")
    inventory: str = Field(
        min_length=1,
        description="File with the trees, relative to this settings file; or the address of a "
        "database, such as 'postgresql://forester@db.example/trees'.",
    )
    year_start: date = Field(description="First day of the plan.")
    year_end: date = Field(description="Last day of the plan.")
    assessed_on: date | None = Field(
        default=None, description="Day as of which trees are assessed; year_start by default."
    )
    source_crs: str | None = Field(
        default=None,
        description="CRS of the inventory where the file does not say, such as 'EPSG:4326'.",
    )
    working_crs: str | None = Field(
        default=None,
        description="Projected CRS in metres to work in; by default the inventory's own where it "
        "is one, else the UTM zone of its middle.",
    )
    currency: str = Field(
        default="USD", min_length=3, max_length=3, description="ISO 4217 code of the money."
    )

    @field_validator("inventory")
    @classmethod
    def _keeps_no_password(cls, address: str) -> str:
        return refuse_password(address)

    @model_validator(mode="after")
    def _year_runs_forward(self) -> Self:
        days = (self.year_end - self.year_start).days
        if days < 0:
            raise ValueError(f"year_end {self.year_end} lies before year_start {self.year_start}")
        if days > LONGEST_CYCLE_DAYS:
            raise ValueError(f"the plan spans {days} days; two years are the most")
        return self

    @property
    def assessment_day(self) -> date:
        """Day as of which ages, dues and promises are counted."""
        return self.assessed_on or self.year_start
