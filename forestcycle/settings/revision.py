"""``[revision]``: what it costs to change a plan that people have been told of."""

from pydantic import Field

from forestcycle.settings.base import Part


class Revision(Part):
    """Prices of moved visits, in the same worth that the priority is measured in."""

    price_other_day: float = Field(
        default=20.0,
        ge=0,
        description="Worth that a change must gain for each visit it takes off its day.",
    )
    price_other_crew: float = Field(
        default=5.0,
        ge=0,
        description="The same for each visit that another crew makes; not where its crew is gone.",
    )
