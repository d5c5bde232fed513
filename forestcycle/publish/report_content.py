"""What the council's report says, in either form."""

from dataclasses import dataclass

import pandas as pd

from forestcycle.publish.outlook_figures import OutlookFigures
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.plan_version import plan_version
from forestcycle.publish.report_chart import Chart
from forestcycle.publish.report_charts import (
    draw_coverage,
    draw_fairness,
    draw_months,
    draw_recall,
)
from forestcycle.publish.report_figures import Figures
from forestcycle.publish.report_method import method
from forestcycle.publish.report_outlook import YearsAhead, years_ahead
from forestcycle.publish.shares import percentage
from forestcycle.publish.text import plain

DEFERRED_COLUMNS = ("Why", "Trees", "Hours", "Cost now", "More in a year")


@dataclass(frozen=True)
class Report:
    """All that both forms of the report say; the years ahead where an outlook was given."""

    city: str
    span: str
    version: str
    paper: str
    headlines: list[tuple[str, str]]
    summary: list[str]
    money: list[tuple[str, str]]
    deferred: list[tuple[str, ...]]
    charts: dict[str, Chart]
    method: list[tuple[str, str]]
    ahead: YearsAhead | None = None


def report_content(
    plan: PlanFolder, figures: Figures, outlook: OutlookFigures | None = None
) -> Report:
    """Put a plan's figures into the report's words, tables and charts.

    Parameters
    ----------
    plan : PlanFolder
    figures : Figures
    outlook : OutlookFigures, optional

    Returns
    -------
    Report
    """
    settings = settings_of(plan)
    city = settings.city
    currency = city.currency
    return Report(
        city=plain(city.name),
        span=f"{city.year_start.isoformat()} to {city.year_end.isoformat()}",
        version=plan_version(plan),
        paper=settings.publish.paper,
        headlines=_headlines(figures, currency),
        summary=_summary(figures, currency),
        money=_money_table(figures, currency),
        deferred=_deferred_table(figures, currency),
        charts=_charts(plan, figures),
        method=method(plan, figures),
        ahead=None if outlook is None else years_ahead(outlook),
    )


def _money(cents: float, currency: str) -> str:
    return f"{cents / 100:,.0f} {currency}"


def _percent(share: float) -> str:
    return f"{percentage(share)} %"


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
    if len(wards) == 1:
        return f"The plan gives {_percent(most['served'])} of the minutes that the due trees need."
    return (
        f"Of the minutes that its due trees need, {most['ward']} gets {_percent(most['served'])}, "
        f"the most of all wards, and {least['ward']} {_percent(least['served'])}, the least."
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


def _charts(plan: PlanFolder, figures: Figures) -> dict[str, Chart]:
    last = pd.Timestamp(settings_of(plan).city.year_end)
    due = (plan.trees["due"] <= last) | plan.trees["planned_on"].notna()
    by_ward, by_age = figures.recall_by_ward, figures.recall_by_age_class
    ward_height = 1.2 + 0.42 * min(len(by_ward), 12)
    charts = [
        Chart(
            "recall_by_ward",
            _recall_words(by_ward, "ward"),
            (5.4, ward_height),
            lambda axes: draw_recall(axes, by_ward, "ward", "Within recall, by ward"),
        ),
        Chart(
            "recall_by_age_class",
            _recall_words(by_age, "age_class"),
            (5.4, 1.2 + 0.42 * len(by_age)),
            lambda axes: draw_recall(axes, by_age, "age_class", "Within recall, by age class"),
        ),
        Chart(
            "wards",
            "Share of need and of planned work by ward; the figures are in wards.csv.",
            (3.4, ward_height),
            lambda axes: draw_fairness(axes, figures.wards, "Fairness between wards"),
        ),
        Chart(
            "months",
            "Trees and crew-days by month; the figures are in months.csv.",
            (3.4, ward_height),
            lambda axes: draw_months(axes, figures.months, "The year's work by month"),
        ),
        Chart(
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
