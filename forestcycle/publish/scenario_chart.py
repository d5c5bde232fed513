"""The chart that sets scenarios side by side."""

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from forestcycle.publish.report_charts import MIDDLE, PALE, WARM, chart_style, label

INCHES_PER_SCENARIO, INCHES_ROUND_IT, WIDTH = 0.24, 1.1, 10.5
CENTS = 100

BoolArray = NDArray[np.bool_]


def write_scenario_chart(table: pd.DataFrame, path: Path, *, currency: str) -> None:
    """Draw worth, trees and cost of every scenario, one line each.

    Parameters
    ----------
    table : DataFrame
        With the columns ``scenario worth bound trees_planned overdue_planned
        overdue_left crew_days_not_packed cost_cents outcome``.
    path : Path
        An SVG file.
    currency : str
        ISO 4217 code.
    """
    height = INCHES_ROUND_IT + INCHES_PER_SCENARIO * max(len(table), 2)
    with chart_style():
        figure = Figure(figsize=(WIDTH, height), layout="constrained")
        axes = figure.subplots(1, 4, sharey=True)
        places = np.arange(len(table))
        bound = table["bound"].to_numpy(np.float64)
        planned = (table["outcome"] == "planned").to_numpy()
        for panel, (title, values, colour) in zip(axes, _panels(table, currency), strict=True):
            _draw(panel, title, values, colour, planned)
        axes[0].vlines(
            bound[planned],
            places[planned] - 0.45,
            places[planned] + 0.45,
            color=WARM,
            linewidth=1.2,
        )
        names = [label(str(name)) for name in table["scenario"]]
        remarks = [_remark(row) for _, row in table.iterrows()]
        axes[0].set_yticks(places, map("".join, zip(names, remarks, strict=True)))
        axes[0].invert_yaxis()
        figure.savefig(path, format="svg", metadata={"Date": None})


def _remark(row: "pd.Series[Any]") -> str:
    """Say behind its name what a scenario's bars do not show."""
    if row["outcome"] != "planned":
        return " (no plan)"
    empty = int(row["crew_days_not_packed"])
    return f" ({empty:,} crew-days not packed)" if empty else ""


def _panels(table: pd.DataFrame, currency: str) -> list[tuple[str, pd.Series, str]]:
    """Title, values and colour of each panel."""
    return [
        ("Worth, and the most there could be", table["worth"], MIDDLE),
        ("Trees planned", table["trees_planned"], MIDDLE),
        ("Overdue trees left out", table["overdue_left"], PALE),
        (f"Cost, {currency}", table["cost_cents"] / CENTS, MIDDLE),
    ]


def _draw(axes: Axes, title: str, values: pd.Series, colour: str, planned: BoolArray) -> None:
    places = np.arange(len(values))
    bars = axes.barh(places, values, 0.7, color=colour, edgecolor="black", linewidth=0.4)
    texts = [
        f" {value:,.0f}" if there else "" for value, there in zip(values, planned, strict=True)
    ]
    for bar, text in zip(bars, texts, strict=True):
        axes.annotate(
            text, (0, bar.get_y() + bar.get_height() / 2), ha="left", va="center", fontsize=7
        )
    axes.set_title(title, fontsize=8)
    axes.xaxis.set_major_formatter("{x:,.0f}")
    axes.locator_params(axis="x", nbins=3)
