"""``[[hours]]`` and ``[[equipment]]``: what the work at some trees is bound to."""

from typing import Literal, Self

from pydantic import Field, model_validator

from forestcycle.settings.base import Part, TimeOfDay

Target = Literal["street", "footway", "school", "playground", "park", "unknown"]


class TreeRule(Part):
    """A rule for every tree that any of its keys names."""

    name: str = Field(
        min_length=1, max_length=60, pattern=r"^[^;]*$", description="As crews read it."
    )
    targets: tuple[Target, ...] = Field(default=(), description="Trees with this below the crown.")
    streets: tuple[str, ...] = Field(default=(), description="Trees on these streets, by name.")
    tree_ids: tuple[str, ...] = Field(default=(), description="These trees, as on a request.")
    street_kmh: float | None = Field(
        default=None,
        gt=0,
        description="Trees on streets this fast or faster; the street layer says how fast a "
        "street of the tree's street name is.",
    )

    @property
    def names_trees(self) -> bool:
        """Whether any key names trees."""
        return bool(self.targets or self.streets or self.tree_ids or self.street_kmh is not None)

    @model_validator(mode="after")
    def _is_about_some_trees(self) -> Self:
        if not self.names_trees:
            raise ValueError(f"{self.name!r} names no trees: give targets, streets or tree_ids")
        return self


class HoursRule(TreeRule):
    """Hours of the day outside which no work runs; where several apply, all are kept.

    The whole visit of a tree lies within them.
    """

    work_from: TimeOfDay = Field(description="Work may begin.")
    work_until: TimeOfDay = Field(description="Work must have ended.")

    @model_validator(mode="after")
    def _hours_run_forward(self) -> Self:
        if self.work_until <= self.work_from:
            raise ValueError(
                f"{self.name!r}: work_until {self.work_until:%H:%M} is not after "
                f"work_from {self.work_from:%H:%M}"
            )
        return self


class EquipmentRule(TreeRule):
    """Equipment that some trees' work needs; only crews that list it are sent there.

    It adds to what skill, law and the crew's own safety rules ask for.
    """

    height_m: float | None = Field(default=None, gt=0, description="Trees this tall or taller.")
    brush_kg: float | None = Field(
        default=None, gt=0, description="Visits that leave this much brush or more."
    )

    @property
    def names_trees(self) -> bool:
        """Whether any key names trees."""
        return super().names_trees or self.height_m is not None or self.brush_kg is not None
