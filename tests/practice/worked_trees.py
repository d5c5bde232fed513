"""Twelve worked trees, young to old, as ``docs/practice.md`` shows them.

Run ``python -m tests.practice.worked_trees`` to write them anew after a rule
or a table has changed; the test suite fails as long as they differ.
"""

from pathlib import Path
from typing import Any

from forestcycle.practice import assess, explain
from forestcycle.settings.practice import Practice
from tests.practice.stands import ON, YEAR_END, stand_of

PAGE = Path(__file__).resolve().parents[2] / "docs" / "practice.md"
BEGIN = "<!-- worked trees: written by the test suite, do not edit by hand -->"
END = "<!-- end of worked trees -->"

TREES: list[tuple[str, dict[str, Any]]] = [
    (
        "A linden planted last autumn, forked already",
        {"species": "Tilia cordata", "dbh_cm": 4.0, "planted_on": "2026-10-15"},
    ),
    (
        "An oak two years after planting, nothing on record",
        {"species": "Quercus rubra", "dbh_cm": 6.0, "planted_on": "2024-11-20"},
    ),
    (
        "A young maple with codominant stems over the street",
        {"species": "Acer rubrum", "dbh_cm": 9.0, "target": "street"},
    ),
    (
        "A young maple with included bark, visited last year",
        {"species": "Acer platanoides", "dbh_cm": 11.0, "target": "street"},
    ),
    (
        "A pear, crowded around and along the trunk",
        {"species": "Pyrus calleryana", "dbh_cm": 14.0},
    ),
    (
        "An elm with a low limb over the street and an oversized branch",
        {"species": "Ulmus americana", "dbh_cm": 24.0, "target": "street"},
    ),
    (
        "A plane tree with crossing limbs and a long branch, over a playground",
        {"species": "Platanus x acerifolia", "dbh_cm": 26.0, "target": "playground"},
    ),
    (
        "A topped maple, in fair condition",
        {"species": "Acer saccharinum", "dbh_cm": 38.0, "condition": "fair"},
    ),
    (
        "A mature linden with dead wood and a long branch, by a school",
        {"species": "Tilia cordata", "dbh_cm": 48.0, "target": "school"},
    ),
    (
        "A mature oak with an old tight fork and a crack",
        {"species": "Quercus rubra", "dbh_cm": 62.0, "target": "park"},
    ),
    (
        "A mature ash under stress",
        {"species": "Fraxinus americana", "dbh_cm": 52.0, "condition": "poor"},
    ),
    (
        "An old oak with a hanging limb, under high voltage",
        {"species": "Quercus rubra", "dbh_cm": 105.0, "conductors": "high_voltage"},
    ),
]
DEFECTS: list[dict[str, Any]] = [
    {"tree_id": "T0", "defect": "codominant stems", "measured": ("aspect ratio", 0.8, "")},
    {"tree_id": "T2", "defect": "codominant stems", "measured": ("aspect ratio", 0.9, "")},
    {"tree_id": "T2", "defect": "low limb over street", "measured": ("clearance", 3.0, "m")},
    {
        "tree_id": "T3",
        "defect": "included bark",
        "measured": ("aspect ratio", 0.8, ""),
        "observed_on": "2025-05-10",
    },
    {"tree_id": "T4", "defect": "radial crowding", "measured": ("branches at one level", 5, "")},
    {"tree_id": "T4", "defect": "vertical crowding", "measured": ("spacing", 15, "cm")},
    {"tree_id": "T5", "defect": "low limb over street", "measured": ("clearance", 3.2, "m")},
    {"tree_id": "T5", "defect": "oversized branch", "measured": ("branch diameter", 16, "cm")},
    {"tree_id": "T6", "defect": "crossing limbs", "measured": ("moderate",), "position": "north"},
    {"tree_id": "T6", "defect": "crossing limbs", "measured": ("severe",), "position": "east"},
    {
        "tree_id": "T6",
        "defect": "long branch",
        "measured": ("length to height", 0.45, ""),
        "position": "north",
    },
    {"tree_id": "T7", "defect": "leaders after topping", "measured": ("leaders", 4, "count")},
    {"tree_id": "T8", "defect": "dead wood", "measured": ("largest diameter", 12, "cm")},
    {"tree_id": "T8", "defect": "long branch", "measured": ("length to height", 0.5, "")},
    {"tree_id": "T9", "defect": "included bark", "measured": ("aspect ratio", 0.85, "")},
    {"tree_id": "T9", "defect": "crack or cavity", "measured": ("moderate",)},
    {"tree_id": "T10", "defect": "dead wood", "measured": ("share of crown", 20, "%")},
    {"tree_id": "T10", "defect": "low limb over footway", "measured": ("clearance", 1.9, "m")},
    {"tree_id": "T11", "defect": "broken or hanging limb", "measured": ("", 9, "cm")},
    {"tree_id": "T11", "defect": "low live crown", "measured": ("live crown ratio", 0.55, "")},
    {"tree_id": "T11", "defect": "low limb over footway", "measured": ("clearance", 2.0, "m")},
]
VISITS: list[dict[str, Any]] = [
    {"tree_id": "T3", "visited_on": "2026-03-20", "dose": 0.15},
    {"tree_id": "T4", "visited_on": "2023-02-15", "dose": 0.12},
    {"tree_id": "T8", "visited_on": "2016-02-02", "dose": 0.10},
    {"tree_id": "T9", "visited_on": "2020-01-20"},
]
REQUESTS: list[dict[str, Any]] = [
    {"tree_id": "T5", "requested_on": "2026-08-02", "deadline": "2027-04-30"},
]


def worked_trees() -> str:
    """Return the twelve trees in Markdown."""
    inventory = stand_of(
        [tree for _, tree in TREES], defects=DEFECTS, visits=VISITS, requests=REQUESTS
    )
    found = assess(inventory, Practice(), on=ON, year_end=YEAR_END)
    parts = [BEGIN]
    for row, (title, _) in enumerate(TREES):
        tree = found.trees.iloc[row]
        parts += ["", f"### {row + 1}. {title}", "", "| | | | how |", "| --- | --- | --- | --- |"]
        parts += [
            f"| {said.topic} | {said.statement} | {said.value} | {said.rule} |"
            for said in explain(inventory, found, tree["tree_id"])
        ]
        parts += ["", f"> **{tree['work']}.** {tree['note']} *{tree['cautions']}*"]
    return "\n".join([*parts, "", END])


def page_with(trees: str) -> str:
    """Return the page with its worked trees replaced."""
    page = PAGE.read_text(encoding="utf-8")
    before, _, rest = page.partition(BEGIN)
    return before + trees + rest.partition(END)[2]


if __name__ == "__main__":
    PAGE.write_text(page_with(worked_trees()), encoding="utf-8")
