"""All trees of the city on one canvas, with filters, search and a card that says why."""

from itertools import pairwise
from pathlib import Path
from typing import Any

import geopandas as gpd
import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib.colors import to_hex
from numpy.typing import NDArray

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.practice.measures import CM_PER_INCH
from forestcycle.practice.percent import dose_percent, limit_percent
from forestcycle.publish.backdrop import backdrop, ground_of, world_units
from forestcycle.publish.day_map import WEEK_FOLDER, week_page
from forestcycle.publish.output import Edition, Link, Output
from forestcycle.publish.packing import (
    Column,
    category_column,
    date_column,
    days_column,
    number_column,
    pack,
    path_column,
    text_column,
)
from forestcycle.publish.page import Drawing, OfflineMap, Page, render, script_json
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.text import plain
from forestcycle.settings.city import City

FOLDER = "maps"
CITY_PAGE = f"{FOLDER}/city.html"
STYLES = ["leaflet/leaflet.css", "site.css", "city.css"]
SCRIPTS = [
    "leaflet/leaflet.js",
    "tiny_inflate/index.js",
    "backdrop.js",
    "packing.js",
    "trees.js",
    "city.js",
]

AGE_CLASSES = ["young", "semi-mature", "mature", "old"]
RECALL_STATES = ["not yet due", "due", "overdue"]
RECALL_COLOURS = ["#56b4e9", "#e69f00", "#d55e00"]
"""Sky blue, orange and vermilion of M. Okabe and K. Ito, "Color Universal Design" (2008)."""

NOT_PLANNED_COLOUR = "#9a9a94"
PRIORITY_BANDS = 5
TEXTS = str.split("tree_id species common_name street address ward worst_defect work note cautions")
DATES = ("due", "deadline", "planned_on")
PRIORITY_PARTS = str.split("priority_waiting priority_overdue priority_target priority_request")
FINEST_PRIORITY = 8_000
"""Steps from nothing to the highest priority: three digits for all but the lowest."""


def write_city_map(edition: Edition) -> list[Path]:
    """Write ``maps/city.html``.

    Parameters
    ----------
    edition : Edition

    Returns
    -------
    list of Path
    """
    plan = edition.plan
    settings = settings_of(plan)
    trees = _neighbours_together(plan.trees)
    title = f"{plain(settings.city.name)}: trees and plan"
    page = Page(title, styles=STYLES, scripts=SCRIPTS, tile_address=settings.publish.tile_address)
    page.add_html(
        render(
            "city.html",
            title=title,
            city=plain(settings.city.name),
            trees=len(trees),
            years=_years(settings.city),
        )
    )
    shown = OfflineMap("city", tile_address=settings.publish.tile_address)
    page.add_child(shown)
    shown.add_child(Drawing("showCity", "about", "trees", "ground"))
    page.add_data("about", script_json(_about(trees, settings.publish.units)))
    page.add_data(
        "ground", script_json({**backdrop(ground_of(plan)), "units": settings.publish.units})
    )
    page.add_data("trees", pack(_columns(trees, settings.publish.units)), kind="text/plain")
    path = edition.folder / CITY_PAGE
    write_text_atomically(path, page.render())
    return [path]


def _years(city: City) -> str:
    first, last = city.year_start.year, city.year_end.year
    return f"{first}" if first == last else f"{first} to {last}"


def _neighbours_together(trees: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Along a Hilbert curve, where neighbours follow one another and pack into few bytes."""
    if trees.empty:
        return trees
    order = np.argsort(trees.hilbert_distance().to_numpy(), kind="stable")
    return trees.iloc[order].reset_index(drop=True)


def _columns(trees: gpd.GeoDataFrame, units: str) -> list[Column]:
    here = world_units(trees.geometry.x.to_numpy(), trees.geometry.y.to_numpy(), trees.crs)
    per_unit = CM_PER_INCH if units == "us" else 1.0
    finest = max(float(trees["priority"].max()), 1e-9) / FINEST_PRIORITY if len(trees) else 1.0
    return [
        path_column("x", here[:, 0]),
        path_column("y", here[:, 1]),
        number_column("dbh", trees["dbh_cm"].to_numpy() / per_unit, step=0.1),
        number_column("minutes", np.ceil(trees["minutes"].to_numpy() - 1e-6), step=1.0),
        number_column("visits_needed", trees["visits_needed"].to_numpy(dtype=float), step=1.0),
        number_column("prior", trees["defects_are_prior"].to_numpy(dtype=float), step=1.0),
        number_column("mandatory", trees["mandatory"].to_numpy(dtype=float), step=1.0),
        category_column("age_class", trees["age_class"], AGE_CLASSES),
        category_column("recall_state", trees["recall_state"], RECALL_STATES),
        category_column("condition", trees["condition"], []),
        category_column("skill", trees["skill"], []),
        number_column("band", priority_bands(trees["priority"].to_numpy())[0], step=1.0),
        *(number_column(name, trees[name].to_numpy(), step=finest) for name in PRIORITY_PARTS),
        *(number_column(name, share, step=1.0) for name, share in _percentages(trees).items()),
        *(date_column(name, trees[name]) for name in DATES),
        # Spans around the due date repeat, and so pack better than dates.
        days_column("early", (trees["due"] - trees["not_before"]).to_numpy()),
        days_column("late", (trees["overdue_after"] - trees["due"]).to_numpy()),
        *(text_column(name, trees[name]) for name in TEXTS),
        text_column("reason", trees["reason_text"]),
        text_column("crew", _crew(trees)),
        text_column("page", _crew_page(trees)),
    ]


def _percentages(trees: pd.DataFrame) -> dict[str, NDArray[np.float64]]:
    """Doses as the crew lists print them."""
    dose, limit = (trees[name].to_numpy(dtype=float) for name in ("dose", "dose_limit"))
    needed = trees["dose_needed"].to_numpy(dtype=float)
    return {
        "dose": dose_percent(dose, limit),
        "dose_limit": limit_percent(limit),
        "dose_needed": dose_percent(needed, np.ones_like(needed)),
    }


def priority_bands(
    priority: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cut priorities into fifths of the trees.

    Parameters
    ----------
    priority : (n,) float64

    Returns
    -------
    band : (n,) float64
        0 is the lowest fifth; trees of equal priority share a band.
    edges : (4,) float64
        Least priority of each further band.
    """
    shares = np.arange(1, PRIORITY_BANDS) / PRIORITY_BANDS
    edges = np.quantile(priority, shares) if len(priority) else np.zeros(PRIORITY_BANDS - 1)
    return np.searchsorted(edges, priority, side="right").astype(float), edges


def _crew(trees: pd.DataFrame) -> pd.Series:
    """Take the crew's name off a ``crew_day_id``: date, space, name."""
    return trees["crew_day_id"].astype(str).str[11:]


def _crew_page(trees: pd.DataFrame) -> pd.Series:
    """Where the tree's crew-week lies, seen from the city map."""
    codes, days = pd.factorize(trees["crew_day_id"].astype(str))
    pages = []
    for day in days:
        if not day:
            pages.append("")
            continue
        date = pd.Timestamp(day[:10]).date()
        name = Path(week_page(day[11:], date)).relative_to(Path(WEEK_FOLDER).parent)
        pages.append(f"{name.as_posix()}#{date.isoformat()}")
    return pd.Series(np.array([*pages, ""], dtype=object)[codes])


def _about(trees: gpd.GeoDataFrame, units: str) -> dict[str, Any]:
    """Legends: for each way of colouring, the column and one entry per class."""
    return {
        "units": units,
        "colourings": [
            _recall_colouring(),
            _age_colouring(),
            _priority_colouring(trees),
            _month_colouring(trees),
        ],
        "filters": [
            {"column": "ward", "label": "Ward"},
            {"column": "recall_state", "label": "Recall"},
            {"column": "age_class", "label": "Age class"},
            {"column": "crew", "label": "Crew", "empty": "not planned"},
            {"column": "species", "label": "Species"},
            {"column": "worst_defect", "label": "Defect", "empty": "none"},
        ],
    }


def _scale(name: str, classes: int, start: float, end: float) -> list[str]:
    """Evenly spaced colours of a published scale."""
    colours = mpl.colormaps[name]
    return [to_hex(colours(share)) for share in np.linspace(start, end, classes)]


def _recall_colouring() -> dict[str, Any]:
    return {
        "label": "Recall",
        "column": "recall_state",
        "classes": [
            {"label": label, "colour": colour, "shape": shape, "size": size}
            for label, colour, shape, size in zip(
                RECALL_STATES,
                RECALL_COLOURS,
                ["circle", "square", "triangle"],
                [0, 1, 4],  # what is overdue stands out from afar, in any eyes
                strict=True,
            )
        ],
    }


def _age_colouring() -> dict[str, Any]:
    """Viridis (S. van der Walt and N. Smith, 2015), from light to dark."""
    shapes = ["circle", "diamond", "square", "triangle"]
    return {
        "label": "Age class",
        "column": "age_class",
        "classes": [
            {"label": label, "colour": colour, "shape": shape, "size": size}
            for size, (label, colour, shape) in enumerate(
                zip(AGE_CLASSES, _scale("viridis", 4, 0.85, 0.0), shapes, strict=True)
            )
        ],
    }


def _priority_colouring(trees: gpd.GeoDataFrame) -> dict[str, Any]:
    edges = priority_bands(trees["priority"].to_numpy())[1]
    ranges = [
        f"lowest fifth: under {edges[0]:.3g}",
        *(f"{low:.3g} to {high:.3g}" for low, high in pairwise(edges)),
        f"highest fifth: from {edges[-1]:.3g}",
    ]
    return {
        "label": "Priority",
        "column": "band",
        "classes": [
            {"label": label, "colour": colour, "shape": "circle", "size": size}
            for size, (label, colour) in enumerate(
                zip(ranges, _scale("viridis", PRIORITY_BANDS, 0.88, 0.0), strict=True)
            )
        ],
    }


def _month_colouring(trees: gpd.GeoDataFrame) -> dict[str, Any]:
    """Viridis again; close up, the number of the month stands in the sign."""
    months = sorted(trees["planned_on"].dropna().dt.to_period("M").unique())
    planned = [
        {
            "label": f"{month.strftime('%B %Y')}",
            "short": month.strftime("%b"),
            "month": f"{month}",
            "mark": str(month.month),
            "colour": colour,
            "shape": "circle",
            "size": 2,
        }
        for month, colour in zip(months, _scale("viridis", len(months), 0.9, 0.0), strict=True)
    ]
    rest = {
        "label": "not planned",
        "month": "",
        "colour": NOT_PLANNED_COLOUR,
        "shape": "circle",
        "size": 0,
    }
    return {"label": "Planned month", "column": "planned_on", "classes": [rest, *planned]}


OUTPUT = Output(
    "city map",
    FOLDER,
    write_city_map,
    "city map",
    links=(
        Link(
            CITY_PAGE,
            "City map",
            "Every tree, what is planned for it and why. Search and filter.",
            rank=10,
        ),
    ),
)
