"""``[publish]``: how the results look."""

from typing import Literal

from pydantic import Field

from forestcycle.settings.base import Part


class Publishing(Part):
    """Paper, units and notices."""

    paper: Literal["A4", "Letter"] = Field(default="A4", description="Of sheets and report.")
    units: Literal["metric", "us"] = Field(
        default="metric", description="Units printed for crews; inside everything is metric."
    )
    tile_address: str | None = Field(
        default=None, description="Map tiles to use online; none by default, maps work offline."
    )
    notice_days: int = Field(
        default=7, ge=0, le=90, description="Lead time of parking and residents' notices."
    )
