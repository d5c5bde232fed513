"""``[budget]``: what the year may cost, in integer cents."""

from pydantic import Field, NonNegativeInt

from forestcycle.settings.base import Part


class Budget(Part):
    """Limits on the plan's cost."""

    year_cents: int | None = Field(
        default=None, ge=0, description="All costs: crew-days, disposal, traffic control."
    )
    fund_cents: dict[str, NonNegativeInt] = Field(
        default_factory=dict,
        description="Per fund, over the direct costs of its trees' visits.",
    )
