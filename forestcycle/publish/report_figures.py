"""The figures of the council's report, one table each.

Every number that the report prints or draws comes from one of these tables,
and each is written as CSV beside it.
"""

from dataclasses import dataclass, fields

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.text import plain_column

AGE_CLASSES = ("young", "semi-mature", "mature", "old")
NO_WARD = "no ward"
DAYS_PER_YEAR = 365.25

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Figures:
    """The tables of the report; shares are 0 to 1, money is integer cents.

    Attributes
    ----------
    headline : DataFrame
        ``figure value unit``: the year in single numbers.
    recall_by_ward, recall_by_age_class : DataFrame
        ``ward`` or ``age_class``, ``trees within_today within_without_plan within_with_plan`` and
        the three as shares.
    deferred : DataFrame
        ``reason trees minutes cost_cents extra_minutes extra_cents``: trees due in the year and
        not planned, by reason; ``extra_`` is what a year's growth adds.
    wards : DataFrame
        ``ward trees due planned need_minutes planned_minutes share_of_need share_of_work
        served``: fairness.
    months : DataFrame
        ``month crew_days trees service_minutes cost_cents``.
    sensitivity : DataFrame
        ``weight share_changed``: share of the crews' minutes at trees that a choice by worth per
        minute alone would spend on other trees if that weight moved by a fifth; without rows
        where the plan does not say.
    """

    headline: pd.DataFrame
    recall_by_ward: pd.DataFrame
    recall_by_age_class: pd.DataFrame
    deferred: pd.DataFrame
    wards: pd.DataFrame
    months: pd.DataFrame
    sensitivity: pd.DataFrame

    def tables(self) -> dict[str, pd.DataFrame]:
        """Every table by its name.

        Returns
        -------
        dict of str to DataFrame
        """
        return {field.name: getattr(self, field.name) for field in fields(self)}

    def value(self, figure: str) -> float:
        """Look a headline figure up.

        Parameters
        ----------
        figure : str
            As in the column ``figure``.

        Returns
        -------
        float
            In the unit that stands beside it.
        """
        return float(self.headline.set_index("figure")["value"][figure])


@dataclass(frozen=True)
class _Year:
    """The trees of a plan with what all tables ask of them."""

    trees: pd.DataFrame
    ward: NDArray[np.object_]
    planned: Mask
    due: Mask
    within_today: Mask
    within_without: Mask
    minute_cents: float
    minutes_per_cm: float

    @property
    def within_with(self) -> Mask:
        return self.within_without | self.planned


def report_figures(plan: PlanFolder) -> Figures:
    """Compute the report's tables.

    Parameters
    ----------
    plan : PlanFolder

    Returns
    -------
    Figures
        A tree is within its recall on a day if that day is not past its ``overdue_after``, or if
        it has been visited in the year. It is due in the year if its ``due`` lies before the
        year's end.
    """
    year = _year(plan)
    deferred = _deferred(year)
    return Figures(
        headline=_headline(plan, year, deferred),
        recall_by_ward=_recall(year, "ward", pd.Series(year.ward)),
        recall_by_age_class=_recall(year, "age_class", _age_classes(year.trees)),
        deferred=deferred,
        wards=_wards(year),
        months=_months(plan),
        sensitivity=_sensitivity(plan),
    )


def _year(plan: PlanFolder) -> _Year:
    city = settings_of(plan).city
    trees = plan.trees
    first, last = pd.Timestamp(city.assessment_day), pd.Timestamp(city.year_end)
    direct = float(plan.stops["cost_cents"].sum())
    minutes = float(plan.stops["service_minutes"].sum())
    crews = float(plan.summary["cost_cents"]) - direct
    names = plain_column(trees["ward"])
    return _Year(
        trees=trees,
        ward=np.where(names == "", NO_WARD, names),
        planned=trees["planned_on"].notna().to_numpy(),
        due=(trees["due"] <= last).to_numpy(),
        within_today=~(trees["overdue_after"] < first).to_numpy(),
        within_without=~(trees["overdue_after"] < last).to_numpy(),
        minute_cents=max(crews, 0.0) / minutes if minutes else 0.0,
        minutes_per_cm=_minutes_per_cm(trees),
    )


def _minutes_per_cm(trees: pd.DataFrame) -> float:
    """Slope of the least-squares line of minutes over trunk diameter, never below 0."""
    known = trees[["dbh_cm", "minutes"]].dropna()
    if known["dbh_cm"].nunique() < 2:
        return 0.0
    slope = np.polyfit(known["dbh_cm"], known["minutes"], 1)[0]
    return max(float(slope), 0.0)


def _age_classes(trees: pd.DataFrame) -> pd.Series:
    return pd.Series(pd.Categorical(trees["age_class"].astype(str), AGE_CLASSES, ordered=True))


def _recall(year: _Year, column: str, groups: pd.Series) -> pd.DataFrame:
    counts = pd.DataFrame(
        {
            column: groups.to_numpy() if groups.dtype == object else groups,
            "trees": 1,
            "within_today": year.within_today,
            "within_without_plan": year.within_without,
            "within_with_plan": year.within_with,
        }
    )
    table = counts.groupby(column, observed=True, sort=True).sum().reset_index()
    table[column] = table[column].astype(str)
    for name in ("today", "without_plan", "with_plan"):
        table[f"share_{name}"] = (table[f"within_{name}"] / table["trees"]).round(4)
    return table


def _deferred(year: _Year) -> pd.DataFrame:
    left = year.due & ~year.planned
    trees = year.trees[left]
    minutes = trees["minutes"].to_numpy()
    growth = trees["growth_cm_per_year"].fillna(0.0).to_numpy()
    extra = growth * year.minutes_per_cm
    rows = pd.DataFrame(
        {
            "reason": plain_column(trees["reason"]),
            "trees": 1,
            "minutes": minutes,
            "cost_cents": trees["cost_cents"].to_numpy() + minutes * year.minute_cents,
            "extra_minutes": extra,
            "extra_cents": extra * year.minute_cents,
        }
    )
    table = rows.groupby("reason", sort=False).sum().reset_index()
    whole = ["minutes", "cost_cents", "extra_minutes", "extra_cents"]
    table[whole] = table[whole].round().astype(np.int64)
    return table.sort_values("trees", ascending=False, ignore_index=True)


def _headline(plan: PlanFolder, year: _Year, deferred: pd.DataFrame) -> pd.DataFrame:
    use = plan.crew_days["use"].astype(str)
    cost = int(plan.summary["cost_cents"])
    budget = plan.summary.get("budget_cents")
    planned = int(year.planned.sum())
    n = len(year.trees)
    need = int(cost + deferred["cost_cents"].sum())
    rows: list[tuple[str, float, str]] = [
        ("trees", n, "trees"),
        ("trees due in the year", int((year.due | year.planned).sum()), "trees"),
        ("trees planned", planned, "trees"),
        ("trees due and deferred", int(deferred["trees"].sum()), "trees"),
        ("within recall today", _share(year.within_today), "share"),
        ("within recall at year end without the plan", _share(year.within_without), "share"),
        ("within recall at year end with the plan", _share(year.within_with), "share"),
        ("crew-days available", int((use != "storm reserve").sum()), "crew-days"),
        ("crew-days used", int((use == "planned").sum()), "crew-days"),
        ("crew-days kept for storms", int((use == "storm reserve").sum()), "crew-days"),
        ("hours at trees", round(plan.summary["minutes_service"] / 60), "hours"),
        ("hours driving and parking", round(plan.summary["minutes_travel"] / 60), "hours"),
        ("cost of the plan", cost, "cents"),
        ("cost per tree", round(cost / planned) if planned else 0, "cents"),
        ("cost of all trees due", need, "cents"),
        ("extra cost if the deferred wait a year", int(deferred["extra_cents"].sum()), "cents"),
        ("minutes more per cm of trunk diameter", round(year.minutes_per_cm, 2), "minutes"),
    ]
    if budget is not None:
        rows.insert(14, ("budget", int(budget), "cents"))
    figure, value, unit = zip(*rows, strict=True)
    return pd.DataFrame({"figure": figure, "value": pd.Series(value, dtype=object), "unit": unit})


def _share(mask: Mask) -> float:
    return round(float(mask.mean()), 4) if len(mask) else 0.0


def _wards(year: _Year) -> pd.DataFrame:
    minutes = year.trees["minutes"].to_numpy()
    needed = year.due | year.planned
    rows = pd.DataFrame(
        {
            "ward": year.ward,
            "trees": 1,
            "due": needed,
            "planned": year.planned,
            "need_minutes": np.where(needed, minutes, 0.0),
            "planned_minutes": np.where(year.planned, minutes, 0.0),
        }
    )
    table = rows.groupby("ward", sort=True).sum().reset_index()
    table["share_of_need"] = _of_all(table["need_minutes"])
    table["share_of_work"] = _of_all(table["planned_minutes"])
    served = table["planned_minutes"] / table["need_minutes"].where(table["need_minutes"] > 0)
    table["served"] = served.fillna(1.0).round(4)
    return table.round({"need_minutes": 0, "planned_minutes": 0})


def _of_all(values: pd.Series) -> pd.Series:
    whole = float(values.sum())
    return (values / whole).round(4) if whole else values * 0.0


def _sensitivity(plan: PlanFolder) -> pd.DataFrame:
    shares = plan.summary.get("sensitivity", {})
    share_changed = pd.Series(list(shares.values()), dtype="float64")
    return pd.DataFrame({"weight": list(shares), "share_changed": share_changed})


def _months(plan: PlanFolder) -> pd.DataFrame:
    city = settings_of(plan).city
    used = plan.crew_days[plan.crew_days["use"].astype(str) == "planned"]
    days = used.assign(month=used["date"].dt.strftime("%Y-%m")).groupby("month", sort=True)
    table = days.agg(
        crew_days=("crew_day_id", "size"),
        trees=("stops", "sum"),
        service_minutes=("service_minutes", "sum"),
        cost_cents=("cost_cents", "sum"),
    )
    span = pd.period_range(city.year_start, city.year_end, freq="M").strftime("%Y-%m")
    every: pd.DataFrame = table.reindex(span, fill_value=0).rename_axis("month").reset_index()
    return every.round({"service_minutes": 0})
