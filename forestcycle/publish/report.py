"""The council's report: two pages, one map and a page on the method, as HTML and PDF."""

import io
import textwrap
from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from forestcycle.inventory.atomic import write_bytes_atomically, write_text_atomically
from forestcycle.practice.branch_failures import expected_branch_failures
from forestcycle.publish.crew_lists import write_csv
from forestcycle.publish.page import render
from forestcycle.publish.pdf_text import printable
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.plan_version import plan_version
from forestcycle.publish.report_charts import (
    chart_style,
    draw_coverage,
    draw_fairness,
    draw_months,
    draw_recall,
)
from forestcycle.publish.report_figures import Figures, report_figures
from forestcycle.publish.text import inert_cells, plain

METHOD_FILE = "report_method.txt"
POINTS_PER_INCH = 72.0
PAPER_INCHES = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
RASTER_DPI = 200
SVG_METADATA = {"Date": None, "Creator": "forestcycle"}


@dataclass(frozen=True)
class _Chart:
    """One chart: its words for those who cannot see it, its size in inches, how to draw it."""

    name: str
    words: str
    size: tuple[float, float]
    draw: Callable[[Axes], None]


@dataclass(frozen=True)
class _Report:
    """All that both forms of the report say."""

    city: str
    span: str
    version: str
    paper: str
    headlines: list[tuple[str, str]]
    summary: list[str]
    money: list[tuple[str, str]]
    deferred: list[tuple[str, ...]]
    charts: dict[str, _Chart]
    method: list[tuple[str, str]]


def write_report(plan: PlanFolder, folder: Path) -> list[Path]:
    """Write ``report/report.html``, ``report/report.pdf`` and ``report/figures/*.csv``.

    Parameters
    ----------
    plan : PlanFolder
    folder : Path
        The plan's folder, or another to write into.

    Returns
    -------
    list of Path
        The HTML first.
    """
    figures = report_figures(plan)
    report = _report(plan, figures)
    page, paper = folder / "report" / "report.html", folder / "report" / "report.pdf"
    with chart_style():
        write_text_atomically(page, _html(report))
        write_bytes_atomically(paper, _pdf(report))
    written = [page, paper]
    for name, table in figures.tables().items():
        path = folder / "report" / "figures" / f"{name}.csv"
        texts = table.select_dtypes(exclude="number").columns.difference(["value"])
        write_csv(path, table.assign(**{text: inert_cells(table[text]) for text in texts}))
        written.append(path)
    return written


def _report(plan: PlanFolder, figures: Figures) -> _Report:
    settings = settings_of(plan)
    city = settings.city
    currency = city.currency
    return _Report(
        city=plain(city.name),
        span=f"{city.year_start.isoformat()} to {city.year_end.isoformat()}",
        version=plan_version(plan),
        paper=settings.publish.paper,
        headlines=_headlines(figures, currency),
        summary=_summary(figures, currency),
        money=_money_table(figures, currency),
        deferred=_deferred_table(figures, currency),
        charts=_charts(plan, figures),
        method=_method(plan, figures),
    )


def _money(cents: float, currency: str) -> str:
    return f"{cents / 100:,.0f} {currency}"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _headlines(figures: Figures, currency: str) -> list[tuple[str, str]]:
    value = figures.value
    without = _percent(value("within recall at year end without the plan"))
    return [
        (f"{value('trees planned'):,.0f}", "trees pruned this year"),
        (
            _percent(value("within recall at year end with the plan")),
            f"within recall at year end; {without} without the plan",
        ),
        (_money(value("cost of the plan"), currency), "cost of the plan"),
        (f"{value('trees due and deferred'):,.0f}", "trees due but deferred"),
    ]


def _summary(figures: Figures, currency: str) -> list[str]:
    return [_work_done(figures, currency), _work_left(figures, currency), _fairness(figures)]


def _work_done(figures: Figures, currency: str) -> str:
    value = figures.value
    return (
        f"{value('trees due in the year'):,.0f} of {value('trees'):,.0f} trees are due this year. "
        f"The plan visits {value('trees planned'):,.0f} of them on "
        f"{value('crew-days used'):,.0f} of {value('crew-days available'):,.0f} crew-days, for "
        f"{value('cost per tree') / 100:,.2f} {currency} a tree."
    )


def _work_left(figures: Figures, currency: str) -> str:
    need = _money(figures.value("cost of all trees due"), currency)
    more = _money(figures.value("extra cost if the deferred wait a year"), currency)
    return (
        f"To visit every tree that is due would cost about {need}. If the "
        f"{figures.value('trees due and deferred'):,.0f} deferred trees wait a year, their growth "
        f"alone makes them cost about {more} more."
    )


def _fairness(figures: Figures) -> str:
    wards = figures.wards.sort_values("served", kind="stable").to_dict("records")
    least, most = wards[0], wards[-1]
    return (
        f"The plan meets {_percent(most['served'])} of the need of {most['ward']} and "
        f"{_percent(least['served'])} of the need of {least['ward']}."
    )


def _money_table(figures: Figures, currency: str) -> list[tuple[str, str]]:
    shown = figures.headline.set_index("figure")
    rows = [
        (f"Crew-days {words}", f"{figures.value(f'crew-days {words}'):,.0f}")
        for words in ("available", "used", "kept for storms")
    ]
    rows += [
        (f"Hours {words}", f"{figures.value(f'hours {words}'):,.0f}")
        for words in ("at trees", "driving and parking")
    ]
    rows += [
        (name.capitalize(), _money(figures.value(name), currency))
        for name in ("cost of the plan", "budget", "cost of all trees due")
        if name in shown.index
    ]
    rows.append(("Cost per tree", f"{figures.value('cost per tree') / 100:,.2f} {currency}"))
    return rows


def _deferred_table(figures: Figures, currency: str) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [
        (
            str(row["reason"]),
            f"{row['trees']:,}",
            f"{row['minutes'] / 60:,.0f}",
            _money(row["cost_cents"], currency),
            _money(row["extra_cents"], currency),
        )
        for row in figures.deferred.to_dict("records")
    ]
    totals = figures.deferred.drop(columns="reason").sum()
    rows.append(
        (
            "all",
            f"{totals['trees']:,.0f}",
            f"{totals['minutes'] / 60:,.0f}",
            _money(totals["cost_cents"], currency),
            _money(totals["extra_cents"], currency),
        )
    )
    return rows


DEFERRED_COLUMNS = ("Why", "Trees", "Hours", "Cost now", "More in a year")


def _charts(plan: PlanFolder, figures: Figures) -> dict[str, _Chart]:
    last = pd.Timestamp(settings_of(plan).city.year_end)
    due = (plan.trees["due"] <= last) | plan.trees["planned_on"].notna()
    by_ward, by_age = figures.recall_by_ward, figures.recall_by_age_class
    ward_height = 1.2 + 0.42 * min(len(by_ward), 12)
    charts = [
        _Chart(
            "recall_by_ward",
            _recall_words(by_ward, "ward"),
            (5.4, ward_height),
            lambda axes: draw_recall(axes, by_ward, "ward", "Within recall, by ward"),
        ),
        _Chart(
            "recall_by_age_class",
            _recall_words(by_age, "age_class"),
            (5.4, 1.2 + 0.42 * len(by_age)),
            lambda axes: draw_recall(axes, by_age, "age_class", "Within recall, by age class"),
        ),
        _Chart(
            "wards",
            "Share of need and of planned work by ward; the figures are in wards.csv.",
            (3.4, ward_height),
            lambda axes: draw_fairness(axes, figures.wards, "Fairness between wards"),
        ),
        _Chart(
            "months",
            "Trees and crew-days by month; the figures are in months.csv.",
            (3.4, ward_height),
            lambda axes: draw_months(axes, figures.months, "The year's work by month"),
        ),
        _Chart(
            "coverage",
            "Map of all trees: planned, due and deferred, and not due this year.",
            (6.9, 6.0),
            lambda axes: draw_coverage(axes, plan, due),
        ),
    ]
    return {chart.name: chart for chart in charts}


def _recall_words(table: pd.DataFrame, column: str) -> str:
    rows = [
        f"{row[column]}: {_percent(row['share_today'])} today, "
        f"{_percent(row['share_without_plan'])} at year end without the plan, "
        f"{_percent(row['share_with_plan'])} with it"
        for row in table.head(12).to_dict("records")
    ]
    return f"Share of trees within recall. {'; '.join(rows)}."


def _method(plan: PlanFolder, figures: Figures) -> list[tuple[str, str]]:
    """Headings and texts; the last ones say what was in force and what came out for this plan."""
    text = (files("forestcycle.publish") / METHOD_FILE).read_text(encoding="utf-8")
    paragraphs = [line.split(". ", 1) for line in text.splitlines()]
    return [
        *((heading, body) for heading, body in paragraphs),
        ("Branch failures", _branch_failures(int(figures.value("trees")))),
        *_sensitivity(figures.sensitivity),
        ("Sources", _sources(plan)),
        ("This plan", _proof(plan)),
    ]


def _branch_failures(trees: int) -> str:
    expected = expected_branch_failures(trees)
    counts = " or ".join(f"{count:,.0f} by {counted}" for counted, count in expected.items())
    return (
        f"At the rate of one city whose records were published (Rochester NY, Luley, Sisinni and "
        f"Pleninger 2002), {trees:,} trees have this many branch failures a year: {counts}. "
        "There, pruned units had fewer service requests but failed no less often over eight years: "
        "this plan promises no reduction."
    )


def _sensitivity(sensitivity: pd.DataFrame) -> list[tuple[str, str]]:
    """Say how much hangs on each weight, where the plan says so."""
    rows = zip(sensitivity["weight"], sensitivity["share_changed"], strict=True)
    shares = ", ".join(f"{weight} {100 * share:.1f} %" for weight, share in rows)
    if not shares:
        return []
    body = (
        "The weights of the four parts of a tree's priority are judgements. If one of them were a "
        "fifth larger or smaller, a choice by worth per minute alone would spend this share of "
        f"the hours at trees on other trees: {shares}. Small shares mean that the choice does "
        "not hang on the exact weight."
    )
    return [("Weights", body)]


def _sources(plan: PlanFolder) -> str:
    practice = settings_of(plan).practice
    seasons = ", ".join(practice.seasons) or "none"
    return (
        f"Dose limits in force: {plain(practice.dose_limits)}. Growth: "
        f"{plain(practice.growth_region or 'mean over all regions')}. Closed seasons: "
        f"{plain(seasons)}. Each table names the publication that each of its rows comes from, "
        "and 'forestcycle explain' prints rule and source of every number of a tree."
    )


def _proof(plan: PlanFolder) -> str:
    summary = plan.summary
    word = "no plan can be worth more than" if summary.get("certified", True) else "estimated limit"
    checked = "found no fault" if summary["verified"] else "FOUND FAULTS; see summary.json"
    unused = summary["trees_in_inventory"] - summary["trees_usable"]
    return (
        f"Worth of the plan {summary['worth']:,.0f}; {word} {summary['bound']:,.0f}, a gap of "
        f"{100 * summary['gap']:.1f} %. An independent check of hours, dates, doses and budget "
        f"{checked}. {unused:,} rows of the inventory could not be used and are listed with "
        "their reasons in plan.gpkg."
    )


def _html(report: _Report) -> str:
    svgs = {name: _svg(chart) for name, chart in report.charts.items()}
    return render("report.html", report=report, svgs=svgs, deferred_columns=DEFERRED_COLUMNS)


def _svg(chart: _Chart) -> str:
    """Draw a chart as an SVG image in a data address: it can run nothing."""
    figure = Figure(figsize=chart.size, layout="constrained")
    chart.draw(figure.add_subplot())
    content = io.BytesIO()
    figure.savefig(content, format="svg", dpi=RASTER_DPI, metadata=SVG_METADATA)
    return f"data:image/svg+xml;base64,{b64encode(content.getvalue()).decode('ascii')}"


def _pdf(report: _Report) -> bytes:
    content = io.BytesIO()
    metadata = {
        "Title": f"{report.city}, {report.span}",
        "Creator": "forestcycle",
        "Producer": None,
        "CreationDate": None,
    }
    with PdfPages(content, metadata=metadata) as pages:
        for number, draw_page in enumerate((_first_page, _second_page, _method_page), start=1):
            figure = Figure(figsize=PAPER_INCHES[report.paper])
            draw_page(figure, report)
            _foot(figure, report, number)
            pages.savefig(figure, dpi=RASTER_DPI)
    return content.getvalue()


LEFT, RIGHT, TOP, BOTTOM = 0.08, 0.93, 0.955, 0.05


def _foot(figure: Figure, report: _Report, number: int) -> None:
    figure.text(LEFT, 0.025, f"{printable(report.city)} · {report.span}", fontsize=7)
    figure.text(RIGHT, 0.025, f"plan {report.version} · page {number} of 3", fontsize=7, ha="right")


def _first_page(figure: Figure, report: _Report) -> None:
    figure.text(
        LEFT, TOP - 0.012, "Structural pruning of the city's trees", fontsize=18, weight="bold"
    )
    figure.text(LEFT, TOP - 0.036, f"{printable(report.city)} · {report.span}", fontsize=11)
    for k, (value, words) in enumerate(report.headlines):
        x = LEFT + k * (RIGHT - LEFT) / 4
        figure.text(x, TOP - 0.085, value, fontsize=17, weight="bold")
        figure.text(x, TOP - 0.095, textwrap.fill(words, 28), fontsize=8, va="top")
    y = TOP - 0.145
    for paragraph in report.summary:
        y = _paragraph(figure, paragraph, y, 10) - 0.006
    rows = (report.charts["recall_by_ward"], report.charts["recall_by_age_class"])
    heights = [chart.size[1] / figure.get_figheight() for chart in rows]
    shrink = min(1.25, (y - BOTTOM - 0.04) / sum(heights))
    for chart, height in zip(rows, heights, strict=True):
        y -= height * shrink
        axes = figure.add_axes(
            (LEFT + 0.14, y + 0.065 * shrink, RIGHT - LEFT - 0.14, (height - 0.09) * shrink)
        )
        chart.draw(axes)


def _second_page(figure: Figure, report: _Report) -> None:
    y = TOP
    figure.text(
        LEFT, y - 0.012, "What is deferred, money, and fairness", fontsize=14, weight="bold"
    )
    y = _table(figure, [DEFERRED_COLUMNS, *report.deferred], y - 0.04, (0.0, 0.42, 0.56, 0.76, 1.0))
    pairs = report.money
    half = (len(pairs) + 1) // 2
    y -= 0.02
    for k, (words, value) in enumerate(pairs):
        x = LEFT + (k // half) * 0.45
        line = y - (k % half) * 0.017
        figure.text(x, line, words, fontsize=8.5)
        figure.text(x + 0.38, line, value, fontsize=8.5, weight="bold", ha="right")
    y -= half * 0.017 + 0.012
    for k, name in enumerate(("wards", "months")):
        left = LEFT + (0.13 if k == 0 else 0.53)
        report.charts[name].draw(figure.add_axes((left, y - 0.19, 0.3, 0.17)))
    y -= 0.265
    figure.text(LEFT, y, "Where", fontsize=9.5, weight="bold")
    report.charts["coverage"].draw(
        figure.add_axes((LEFT, BOTTOM + 0.035, RIGHT - LEFT, y - BOTTOM - 0.045))
    )


def _method_page(figure: Figure, report: _Report) -> None:
    figure.text(LEFT, TOP - 0.012, "How these figures came about", fontsize=14, weight="bold")
    y = TOP - 0.045
    for heading, body in report.method:
        figure.text(LEFT, y, heading, fontsize=10, weight="bold")
        y = _paragraph(figure, body, y - 0.017, 9) - 0.012


def _paragraph(figure: Figure, text: str, top: float, size: float) -> float:
    """Print a text over the page's width and return where it ends."""
    per_line = int((RIGHT - LEFT) * figure.get_figwidth() * POINTS_PER_INCH / (0.455 * size))
    leading = 1.35 * size / POINTS_PER_INCH / figure.get_figheight()
    for line in textwrap.wrap(printable(text), per_line):
        figure.text(LEFT, top, line, fontsize=size)
        top -= leading
    return top


def _table(
    figure: Figure, rows: list[tuple[str, ...]], top: float, columns: tuple[float, ...]
) -> float:
    """Print a table, the first column to the left and the others to the right of theirs."""
    for k, row in enumerate(rows):
        weight = "bold" if k in {0, len(rows) - 1} else "normal"
        for column, cell in zip(columns, row, strict=True):
            figure.text(
                LEFT + column * (RIGHT - LEFT),
                top,
                printable(cell),
                fontsize=8.5,
                weight=weight,
                ha="left" if column == 0 else "right",
            )
        top -= 0.017
    return top
