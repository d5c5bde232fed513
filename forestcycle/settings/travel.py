"""``[travel]``: how trucks move."""

from pydantic import Field

from forestcycle.settings.base import Part


class TravelRules(Part):
    """Speeds, parking and what to do without a street layer."""

    speed_kmh: float = Field(
        default=25.0, gt=0, le=130, description="Where a street has no speed of its own."
    )
    detour_factor: float = Field(
        default=1.4,
        ge=1,
        le=5,
        description="Street distance over air distance, without a street layer.",
    )
    parking_minutes: float = Field(
        default=3.0, ge=0, le=60, description="Parking, cones and signs, once per place."
    )
    place_metres: float = Field(
        default=30.0, ge=0, le=200, description="Trees worked from one parking place lie this near."
    )
    farthest_snap_metres: float = Field(
        default=150.0, gt=0, description="A tree farther from any street is reported."
    )
