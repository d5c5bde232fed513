"""``[plan]``: what a plan must keep besides hours and money."""

from pydantic import Field

from forestcycle.settings.base import Part


class PlanRules(Part):
    """Fairness between wards, the least worth of a visit, and who proposes crew-days."""

    ward_least_share: dict[str, float] = Field(
        default_factory=dict,
        description="Least share (0..1) of all planned crew minutes at trees, by ward.",
    )
    least_worth: float = Field(
        default=0.0, ge=0, description="Trees with a lower priority are left out."
    )
    candidates: tuple[str, ...] = Field(
        default=(),
        description="Candidate generators, by name, that installed packages bring.",
    )
