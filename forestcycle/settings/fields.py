"""``[layers]`` and ``[trees]``: how the city's fields map to ours."""

from pathlib import PurePath
from typing import Literal

from pydantic import Field, field_validator

from forestcycle.settings.base import Part

LONGEST_NAME_BYTES = 255
"""NAME_MAX of Linux; Windows and macOS count characters."""
LengthUnit = Literal["mm", "cm", "m", "in", "ft"]


class Layers(Part):
    """Names of the layers and tables inside the inventory file.

    Every layer but ``trees`` may be missing. Each may also live in a file of
    its own: ``streets = "roads.shp"`` or ``"other.gpkg:roads"``.
    """

    trees: str | None = Field(
        default=None, description="Point layer of trees; the file's only or first layer by default."
    )
    streets: str | None = Field(default=None, description="Line layer of streets.")
    wards: str | None = Field(default=None, description="Polygon layer of wards.")
    depots: str | None = Field(default=None, description="Point layer of depots.")
    parks: str | None = Field(default=None, description="Polygon layer drawn behind the maps.")
    defects: str | None = Field(default=None, description="Table of observed defects.")
    visits: str | None = Field(default=None, description="Table of past visits.")
    requests: str | None = Field(default=None, description="Table of requests with deadlines.")
    books: str | None = Field(
        default=None,
        description="GeoPackage in which `record` keeps the crews' returns; NAME_books.gpkg beside "
        "the inventory by default. Its visits are read together with those above.",
    )

    @field_validator("books")
    @classmethod
    def _can_be_a_file(cls, books: str | None) -> str | None:
        parts = PurePath(books or "books.gpkg").parts
        if not parts or "\0" in "".join(parts) or max(map(_bytes, parts)) > LONGEST_NAME_BYTES:
            raise ValueError("no file can have this name")
        return books


def _bytes(name: str) -> int:
    return len(name.encode(errors="replace"))


class TreeUnits(Part):
    """Units in which the city writes its measurements."""

    dbh: LengthUnit = Field(default="cm", description="Of trunk diameters.")
    height: LengthUnit = Field(default="m", description="Of tree heights.")
    crown_diameter: LengthUnit = Field(default="m", description="Of crown diameters.")
    site_width: LengthUnit = Field(default="m", description="Of planting sites.")


class TreeFields(Part):
    """The city's field name for each of ours; leave out what there is none for."""

    tree_id: str | None = Field(
        default=None, description="Unique id; row numbers stand in where there is none."
    )
    species: str | None = Field(default=None, description="Scientific name.")
    common_name: str | None = Field(default=None, description="Name that crews use.")
    dbh: str | None = Field(default=None, description="Trunk diameter at breast height.")
    height: str | None = Field(default=None, description="Height of the tree.")
    crown_diameter: str | None = Field(default=None, description="Mean width of the crown.")
    condition: str | None = Field(default=None, description="Good, fair, poor, dead.")
    status: str | None = Field(
        default=None, description="Standing, removed, stump, vacant: see values.status."
    )
    planted_on: str | None = Field(default=None, description="Planting date or year.")
    conductors: str | None = Field(default=None, description="Overhead conductors.")
    site_width: str | None = Field(default=None, description="Width of the planting site.")
    target: str | None = Field(default=None, description="What stands below the crown.")
    fund: str | None = Field(default=None, description="Which budget pays for the tree.")
    street: str | None = Field(default=None, description="Name of the street.")
    address: str | None = Field(default=None, description="Where the crew finds the tree.")
    ward: str | None = Field(
        default=None, description="Ward; a wards layer goes before this field."
    )
    longitude: str | None = Field(default=None, description="x of a table without geometry.")
    latitude: str | None = Field(default=None, description="y of a table without geometry.")


class TreeValues(Part):
    """The city's word = our word, for fields with a fixed set of words."""

    condition: dict[str, Literal["good", "fair", "poor", "dead", "unknown"]] = Field(
        default_factory=dict, description="A dead tree is set aside."
    )
    conductors: dict[str, Literal["none", "low_voltage", "high_voltage", "unknown"]] = Field(
        default_factory=dict, description="Conductors near the crown."
    )
    status: dict[str, Literal["standing", "removed"]] = Field(
        default_factory=dict, description="A removed tree is set aside."
    )
    target: dict[str, Literal["street", "footway", "school", "playground", "park", "unknown"]] = (
        Field(default_factory=dict, description="What stands below the crown.")
    )
    species: dict[str, str] = Field(
        default_factory=dict, description="Local or misspelt name = scientific name."
    )


class Trees(Part):
    """How to read the tree layer."""

    fields: TreeFields = Field(default_factory=TreeFields)
    units: TreeUnits = Field(default_factory=TreeUnits)
    values: TreeValues = Field(default_factory=TreeValues)
