"""``[database]``: where the plan and the recorded visits are sent, if the city has a database."""

from typing import Self

from pydantic import Field, model_validator

from forestcycle.settings.address import is_address, refuse_password
from forestcycle.settings.base import Part


class Database(Part):
    """PostgreSQL with PostGIS, for `forestcycle send`; nothing to set up without one."""

    address: str | None = Field(
        default=None,
        description="Such as 'postgresql://forester@db.example/trees'; city.inventory by default, "
        "where that is one. The password comes from PGPASSWORD or ~/.pgpass.",
    )
    results_schema: str = Field(
        default="forestcycle",
        min_length=1,
        max_length=63,
        description="Schema of its own for what is sent; it is made where it is missing.",
    )

    @model_validator(mode="after")
    def _is_an_address(self) -> Self:
        if self.address is not None and not is_address(self.address):
            raise ValueError("database.address must start with 'postgresql://'")
        refuse_password(self.address or "")
        return self
