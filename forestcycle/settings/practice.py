"""``[practice]``: which tables and weights are in force."""

from pydantic import Field

from forestcycle.settings.base import Part


class Weights(Part):
    """How much each part of the priority counts."""

    waiting: float = Field(default=1.0, ge=0, description="What is lost by not coming this period.")
    overdue: float = Field(default=1.0, ge=0, description="Promises past their date.")
    target: float = Field(default=1.0, ge=0, description="What stands below the crown.")
    request: float = Field(default=1.0, ge=0, description="Residents' and officers' requests.")


class Practice(Part):
    """Rules are data: each name picks a table that a forester can swap."""

    dose_limits: str = Field(default="cautious", description="Dose limit table in force.")
    growth_region: str | None = Field(
        default=None, description="Growth table region; a mean over all regions by default."
    )
    seasons: tuple[str, ...] = Field(
        default=("spring flush",), description="Season rules in force, by name."
    )
    tables: str | None = Field(
        default=None,
        description="Folder with tables of your own, or the name of a set that an installed "
        "package brings; a file there replaces ours of that name.",
    )
    street_clearance_m: float = Field(
        default=4.5, gt=0, le=10, description="Clear height over the roadway; local law first."
    )
    footway_clearance_m: float = Field(
        default=2.5, gt=0, le=10, description="Clear height over the footway; local law first."
    )
    people_per_crew: int = Field(
        default=2, ge=1, le=20, description="To turn person minutes into crew minutes."
    )
    weights: Weights = Field(default_factory=Weights)
