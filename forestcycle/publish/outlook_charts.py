"""The outlook's charts: years along the bottom, one line per budget or choice.

Colours as in :mod:`forestcycle.publish.report_charts`; lines differ in their
strokes and markers too, so that a grey copy says the same.
"""

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator, StrMethodFormatter

from forestcycle.publish.report_charts import DARK, LIGHT, MIDDLE, WARM, label
from forestcycle.publish.shares import percentage

COLOURS = (WARM, DARK, MIDDLE, "#009E73", "#CC79A7", "#000000", LIGHT)
STROKES = ("-", "--", "-.", ":")
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
MOST_WARDS = 16
CENTS = 100
PERCENT, ROOM_ABOVE_ALL = 100, 103
DARK_BELOW = 0.3
LEAST_TOP = 1.0
"""An axis reaches at least so far: noise around nothing looks like nothing."""


def draw_lines(
    axes: Axes,
    table: pd.DataFrame,
    *,
    by: str,
    column: str,
    title: str,
    unit: str,
    percent: bool = False,
) -> None:
    """Draw a figure over the years, one line per budget or choice.

    Parameters
    ----------
    axes : Axes
    table : DataFrame
        ``year``, the column ``by`` and the figure.
    by : str
        ``budget`` or ``choice``.
    column : str
    title, unit : str
    percent : bool
        The figure is a share to show in percent, from 0 to 100.
    """
    for number, (name, part) in enumerate(table.groupby(by, sort=False)):
        axes.plot(
            part["year"],
            part[column] * (100 if percent else 1),
            color=COLOURS[number % len(COLOURS)],
            linestyle=STROKES[number % len(STROKES)],
            marker=MARKERS[number % len(MARKERS)],
            markersize=3.5,
            linewidth=1.6,
            label=label(str(name)),
        )
    _years_and_figures(axes, title, unit, percent=percent)


def draw_interval(axes: Axes, *, table: pd.DataFrame, title: str, unit: str, scale: float) -> None:
    """Draw what is expected as a line, and where nine draws in ten lie as a band.

    Parameters
    ----------
    axes : Axes
    table : DataFrame
        ``year expected low middle high`` of one figure.
    title, unit : str
    scale : float
        Factor on the figures: 100 for shares in percent.
    """
    low, high = scale * table["low"], scale * table["high"]
    axes.fill_between(table["year"], low, high, color=MIDDLE, alpha=0.45, label="9 draws in 10")
    axes.plot(table["year"], scale * table["middle"], color=DARK, linestyle="--", label="middle")
    axes.plot(table["year"], scale * table["expected"], color="black", label="expected")
    _years_and_figures(axes, title, unit, percent=scale == PERCENT)


def draw_cycles(axes: Axes, *, table: pd.DataFrame, currency: str) -> None:
    """Draw cost, what waiting costs and their sum by length of the pruning cycle.

    Parameters
    ----------
    axes : Axes
    table : DataFrame
        From :func:`forestcycle.outlook.interval_study.interval_study`.
    currency : str
    """
    for column, words, colour, stroke, marker in (
        ("total_cents", "in all", "black", "-", "o"),
        ("cost_cents", "crews and direct costs", DARK, "--", "s"),
        ("loss_cents", "work that waits", WARM, "-.", "^"),
    ):
        axes.plot(
            table["cycle_years"],
            table[column] / CENTS,
            color=colour,
            linestyle=stroke,
            marker=marker,
            markersize=3.5,
            label=words,
        )
    title = "Length of the pruning cycle and what it costs a year"
    _years_and_figures(axes, title, currency, percent=False)
    axes.set_xlabel("years from visit to visit")
    axes.set_xticks(table["cycle_years"])
    axes.legend(frameon=False, fontsize=7)


def _years_and_figures(axes: Axes, title: str, unit: str, *, percent: bool) -> None:
    """Label the axes: whole years, figures from 0 at steps that are written as they are."""
    axes.set_title(title)
    axes.set_ylabel(unit)
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.yaxis.set_major_locator(MaxNLocator("auto", steps=[1, 2, 5, 10]))
    axes.yaxis.set_major_formatter(StrMethodFormatter("{x:,.10g}"))
    if percent:
        axes.set_ylim(0, ROOM_ABOVE_ALL)
    else:
        axes.set_ylim(0, max(axes.get_ylim()[1], LEAST_TOP))
    axes.grid(axis="y", color="#DDDDDD", linewidth=0.6)
    axes.legend(frameon=False, fontsize=7, ncols=3, loc="upper center", bbox_to_anchor=(0.5, -0.14))


def draw_wards(axes: Axes, table: pd.DataFrame, title: str) -> None:
    """Draw the share of trees on recall by ward and year, as shaded cells with their values.

    Parameters
    ----------
    axes : Axes
    table : DataFrame
        ``ward year trees on_recall_share`` of one budget and choice.
    title : str
    """
    largest = table.groupby("ward")["trees"].max().sort_values(ascending=False).index[:MOST_WARDS]
    shown = table[table["ward"].isin(largest)]
    grid = shown.pivot_table(index="ward", columns="year", values="on_recall_share")
    axes.imshow(grid.to_numpy(), aspect="auto", cmap="Blues_r", vmin=0, vmax=1)
    for (row, column), value in np.ndenumerate(grid.to_numpy()):
        ink = "white" if value < DARK_BELOW else "black"
        axes.text(column, row, percentage(value), ha="center", va="center", color=ink, fontsize=6.5)
    axes.set_yticks(np.arange(len(grid)), [label(str(ward)) for ward in grid.index])
    axes.set_xticks(np.arange(grid.shape[1]), [str(year) for year in grid.columns])
    axes.tick_params(length=0)
    axes.set_title(title)
    for side in axes.spines.values():
        side.set_visible(False)
