"""The tables of an outlook, as its page and the council's report show them."""

from dataclasses import dataclass
from typing import Any

import pandas as pd

BEST = "best visits"
PRESENT = "100 %"
CENTS = 100


@dataclass(frozen=True)
class OutlookFigures:
    """What the page shows.

    Attributes
    ----------
    city, currency : str
    facts : dict
        As in ``outlook.json``.
    summary, years, wards, crews, margins : DataFrame
        The tables beside the page.
    intervals, ward_intervals, summary_intervals, cycles : DataFrame or None
        Shown where they were worked out.
    """

    city: str
    currency: str
    facts: dict[str, Any]
    summary: pd.DataFrame
    years: pd.DataFrame
    wards: pd.DataFrame
    crews: pd.DataFrame
    margins: pd.DataFrame
    intervals: pd.DataFrame | None = None
    ward_intervals: pd.DataFrame | None = None
    summary_intervals: pd.DataFrame | None = None
    cycles: pd.DataFrame | None = None

    @property
    def reference(self) -> str:
        """The budget that others are held against: the present one, else the first."""
        return PRESENT if PRESENT in self.budgets else self.budgets[0]

    @property
    def budgets(self) -> list[str]:
        """The budgets in the order asked for."""
        return list(dict.fromkeys(self.summary["budget"]))

    @property
    def first_year(self) -> int:
        """Calendar year of the first year."""
        return int(self.facts["first_year"])

    @property
    def last_year(self) -> int:
        """Calendar year of the last year shown."""
        return self.first_year + int(self.facts["years"]) - 1

    def best(self) -> pd.DataFrame:
        """Return the yearly figures of the best visits, of every budget.

        Returns
        -------
        DataFrame
        """
        return self.years[self.years["choice"] == BEST]

    def money(self, cents: float) -> str:
        """Write money in whole units.

        Parameters
        ----------
        cents : float

        Returns
        -------
        str
            With the currency.
        """
        return f"{cents / CENTS:,.0f} {self.currency}"

    def row(self, budget: str, choice: str = BEST) -> "pd.Series[Any]":
        """Return a budget's line of the summary.

        Parameters
        ----------
        budget : str
        choice : str
            The best visits by default.

        Returns
        -------
        Series
        """
        table = self.summary
        return table[(table["budget"] == budget) & (table["choice"] == choice)].iloc[0]

    def interval(self, budget: str, figure: str) -> "pd.Series[Any] | None":
        """Return the interval of what all years of a budget come to, None without draws.

        Parameters
        ----------
        budget : str
        figure : str
            As in the table of intervals.

        Returns
        -------
        Series or None
        """
        table = self.summary_intervals
        if table is None:
            return None
        found = table[(table["budget"] == budget) & (table["figure"] == figure)]
        return None if found.empty else found.iloc[0]
