"""The report's charts, drawn on matplotlib axes for screen and paper alike.

Colours: Okabe and Ito, "Color Universal Design" (2008). They are ordered by
lightness and bars carry their values, so that a grey copy says the same.
"""

import logging
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from importlib.resources import as_file
from typing import Any

import geopandas as gpd
import matplotlib as mpl
import numpy as np
import pandas as pd
import shapely
from matplotlib import font_manager
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from forestcycle.publish.pdf_text import BOLD, FALLBACKS, FONTS, REGULAR, printable
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.shares import percentage
from forestcycle.publish.text import plain

PALE, LIGHT, MIDDLE, DARK, WARM = "#EEEEEE", "#BBBBBB", "#56B4E9", "#0072B2", "#D55E00"
MOST_BARS = 12
LONGEST_LABEL = 24
MOST_STREET_LINES = 60_000


@cache
def _families() -> list[str]:
    names = []
    for name in (REGULAR, BOLD, *FALLBACKS):
        with as_file(FONTS / f"{name}.ttf") as path:
            font_manager.fontManager.addfont(path)
            names.append(font_manager.get_font(path).family_name)
    return list(dict.fromkeys(names))


@contextmanager
def chart_style() -> Iterator[None]:
    """Set fonts and lines for the charts inside the block; text is never read as formulas."""
    settings: Any = {
        "font.family": _families(),
        "font.stretch": "condensed",
        "font.size": 8,
        "axes.titlesize": 9.5,
        "axes.titleweight": "bold",
        "axes.titlelocation": "left",
        "axes.spines.top": False,
        "axes.spines.right": False,
        "text.parse_math": False,
        "svg.hashsalt": "forestcycle",
        "svg.fonttype": "path",
        "pdf.fonttype": 42,
    }
    log = logging.getLogger("matplotlib.font_manager")
    level = log.level
    log.setLevel(logging.ERROR)  # fallback fonts have one weight, which is no news
    try:
        with mpl.rc_context(settings):
            yield
    finally:
        log.setLevel(level)


def label(text: str) -> str:
    """Shorten a text from outside to what a chart has room for.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    shown = printable(text)
    return shown if len(shown) <= LONGEST_LABEL else f"{shown[: LONGEST_LABEL - 1]}…"


def draw_recall(axes: Axes, table: pd.DataFrame, column: str, title: str) -> None:
    """Draw the share of trees within recall: today, and at year end without and with the plan.

    Parameters
    ----------
    axes : Axes
    table : DataFrame
        ``Figures.recall_by_ward`` or ``recall_by_age_class``.
    column : str
        What a bar stands for.
    title : str
    """
    shown = _most_trees(table)
    series = (
        ("share_today", "today", MIDDLE),
        ("share_without_plan", "at year end, without the plan", PALE),
        ("share_with_plan", "at year end, with the plan", DARK),
    )
    _draw_shares(axes, shown, column, series)
    axes.set_xlim(0, 112)
    axes.set_xticks(range(0, 101, 25))
    axes.set_xlabel("% of trees within their recall")
    axes.set_title(title)


def draw_fairness(axes: Axes, wards: pd.DataFrame, title: str) -> None:
    """Draw each ward's share of the need beside its share of the planned work.

    Parameters
    ----------
    axes : Axes
    wards : DataFrame
        ``Figures.wards``.
    title : str
    """
    shown = _most_trees(wards)
    series = (
        ("share_of_need", "of the year's need", PALE),
        ("share_of_work", "of the planned work", DARK),
    )
    _draw_shares(axes, shown, "ward", series)
    axes.margins(x=0.12)
    axes.set_xlabel("% of minutes at trees")
    axes.set_title(title)


def _draw_shares(
    axes: Axes, table: pd.DataFrame, column: str, series: Sequence[tuple[str, str, str]]
) -> None:
    """Draw shares side by side for each row: column, words in the legend, colour of each."""
    places, thick = np.arange(len(table)), 0.78 / len(series)
    for k, (share, words, colour) in enumerate(series):
        bars = axes.barh(
            places + (k - (len(series) - 1) / 2) * thick,
            100 * table[share],
            thick,
            color=colour,
            label=words,
            edgecolor="black",
            linewidth=0.4,
        )
        figures = [percentage(value) for value in table[share]]
        axes.bar_label(bars, labels=figures, padding=2, fontsize=6.5)
    axes.set_yticks(places, [label(str(name)) for name in table[column]])
    axes.invert_yaxis()
    axes.legend(
        loc="upper center",
        bbox_to_anchor=(0.4, -0.2),
        ncols=len(series),
        frameon=False,
        fontsize=7,
        handlelength=1.2,
        columnspacing=1.0,
    )


def draw_months(axes: Axes, months: pd.DataFrame, title: str) -> None:
    """Draw the trees planned by month, with the crew-days written on top.

    Parameters
    ----------
    axes : Axes
    months : DataFrame
        ``Figures.months``.
    title : str
    """
    bars = axes.bar(
        np.arange(len(months)), months["trees"], 0.7, color=DARK, edgecolor="black", linewidth=0.4
    )
    axes.bar_label(bars, [str(days or "") for days in months["crew_days"]], padding=1, fontsize=6.5)
    dates = pd.to_datetime(months["month"] + "-01")
    axes.set_xticks(np.arange(len(months)), [f"{date:%b}" for date in dates], fontsize=6.5)
    axes.set_ylabel("trees")
    axes.set_xlabel("figure on each bar: crew-days")
    axes.set_title(title)


def draw_coverage(axes: Axes, plan: PlanFolder, due: pd.Series) -> None:
    """Draw every tree: planned, due and deferred, or not due; with wards and streets.

    Parameters
    ----------
    axes : Axes
    plan : PlanFolder
    due : Series of bool
        Which trees are due in the year.
    """
    planned = plan.trees["planned_on"].notna()
    points = shapely.get_coordinates(plan.trees.geometry.array)
    size = float(np.clip(2.5e4 / max(len(points), 1), 0.3, 8))
    _draw_lines(axes, plan.streets)
    for mask, colour, factor, marker, words in (
        (~planned & ~due, LIGHT, 0.5, "o", "not due this year"),
        (~planned & due, WARM, 0.9, "v", "due, deferred"),
        (planned, DARK, 1.2, "o", "planned this year"),
    ):
        chosen = mask.to_numpy()
        axes.scatter(
            points[chosen, 0],
            points[chosen, 1],
            s=size * factor,
            c=colour,
            marker=marker,
            linewidths=0,
            rasterized=True,
            label=f"{words} ({chosen.sum():,})",
        )
    _draw_wards(axes, plan.wards)
    low, high = points.min(axis=0), points.max(axis=0)
    margin = 0.03 * (high - low).max() + 1.0
    axes.set_xlim(low[0] - margin, high[0] + margin)
    axes.set_ylim(low[1] - margin, high[1] + margin)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.legend(
        loc="upper center",
        bbox_to_anchor=(0.5, 0.0),
        ncols=3,
        frameon=False,
        fontsize=7.5,
        markerscale=max(1.0, 4 / size**0.5),
        handletextpad=0.2,
    )


def _draw_lines(axes: Axes, streets: gpd.GeoDataFrame | None) -> None:
    if streets is None or len(streets) > MOST_STREET_LINES:
        return
    parts = [shapely.get_coordinates(line) for line in streets.geometry if line is not None]
    lines = LineCollection(parts, colors="#DDDDDD", linewidths=0.5, rasterized=True)
    axes.add_collection(lines)


def _draw_wards(axes: Axes, wards: gpd.GeoDataFrame | None) -> None:
    if wards is None:
        return
    outlines = wards.geometry.boundary.explode(index_parts=False)
    rings = [shapely.get_coordinates(ring) for ring in outlines if ring is not None]
    axes.add_collection(LineCollection(rings, colors="#222222", linewidths=1.0))
    for name, spot in zip(wards["ward"], wards.geometry.representative_point(), strict=True):
        text = axes.annotate(
            label(plain(str(name))), (spot.x, spot.y), ha="center", fontsize=8, annotation_clip=True
        )
        text.set_fontweight("bold")
        text.set_bbox({"facecolor": "white", "alpha": 0.8, "edgecolor": "none", "pad": 1.5})


def _most_trees(table: pd.DataFrame) -> pd.DataFrame:
    """At most so many rows as a chart can hold, those with most trees; the CSV has all."""
    if len(table) <= MOST_BARS:
        return table
    return table.loc[table["trees"].nlargest(MOST_BARS).index.sort_values()]
