"""The side of the crews: what can be hired for a budget, and what that is worth at prices."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from scipy.sparse import block_array, csr_array

from forestcycle.errors import Fault, PlanError
from forestcycle.outlook.budget import AS_PLANNED, Budget, CrewKind, CrewTerms
from forestcycle.outlook.states import BoolArray, FloatArray, IntArray
from forestcycle.practice.assessment import SKILLS

SKILL_COUNT = len(SKILLS)


def has_skill(crew_kinds: Sequence[CrewKind]) -> BoolArray:
    """Return whether a crew of each kind (second axis) has each skill (first axis).

    Parameters
    ----------
    crew_kinds : sequence of CrewKind

    Returns
    -------
    (skills, kinds) bool
    """
    bits = np.array([kind.skill for kind in crew_kinds])
    return np.asarray((bits >> np.arange(SKILL_COUNT)[:, None]) & 1, dtype=np.bool_)


@dataclass(frozen=True)
class Supply:
    """Crews and money over the years, as columns and rows of a linear program.

    A crew-day is paid when it is worked, as in the plan. From the second year
    on a crew that was hired is paid for ``least_paid`` of its days in any
    case; it is hired whole and stays for a term.

    Variables: crew minutes by year, skill and crew kind (of those that have
    the skill); paid crew-days by year and kind; crews by term and kind.
    Rows, all ``<=``: minutes by year and skill; minutes by year and kind; most
    and least crew-days by year and kind; crews by term; least crews by term
    and kind; money by year.

    Attributes
    ----------
    crew_kinds : tuple of CrewKind
    term_of_year : (years,) int64
        Term in which each year lies; the first year is a term of its own.
    least_paid : (years,) float64
        Share of a crew's days that is paid whether worked or not.
    worked : (years,) float64
        Share of the paid days on which trees are visited: storms take the rest.
    least_crews, most_crews : (terms, kinds) float64
        Limits on crews of each kind.
    most_together : (terms,) float64
        Over all kinds, may be infinite.
    cents : (years,) float64
        Money of each year, may be infinite.
    """

    crew_kinds: tuple[CrewKind, ...]
    term_of_year: IntArray
    least_paid: FloatArray
    worked: FloatArray
    least_crews: FloatArray
    most_crews: FloatArray
    most_together: FloatArray
    cents: FloatArray

    @property
    def years(self) -> int:
        """Number of years."""
        return len(self.cents)

    @property
    def terms(self) -> int:
        """Number of terms."""
        return len(self.most_together)

    @property
    def minutes_per_day(self) -> FloatArray:
        """Working minutes of a crew-day, by kind."""
        return np.array([kind.minutes_per_day for kind in self.crew_kinds])

    @property
    def day_cents(self) -> FloatArray:
        """Cost of a crew-day, by kind."""
        return np.array([kind.day_cost_cents for kind in self.crew_kinds], dtype=np.float64)

    @property
    def has_skill(self) -> BoolArray:
        """Whether a crew of a kind (second axis) has a skill (first axis)."""
        return has_skill(self.crew_kinds)

    @property
    def unserved(self) -> BoolArray:
        """Whether no crew that has a skill can be hired, shape (years, skills)."""
        minutes = self.most_crews * self.days * self.minutes_per_day
        served = minutes[self.term_of_year] @ self.has_skill.T.astype(np.float64)
        return np.asarray(served <= 0, dtype=np.bool_)

    def revenue(self, minute: FloatArray, cent: FloatArray) -> float:
        """Return the most that crews can earn at prices, the money itself included.

        Whole crews or parts of them: each term hires all it may of a kind
        that earns more than it costs, the best first where there is a limit
        over all kinds. So the figure bounds both.

        Parameters
        ----------
        minute : (years, skills) float64
        cent : (years,) float64

        Returns
        -------
        float
        """
        per_crew = self.earned_per_crew(minute, cent)
        total = self.money_worth(cent)
        total += float((per_crew * self.least_crews).sum())
        more = self.most_crews - self.least_crews
        left = self.most_together - self.least_crews.sum(axis=1)
        for gains, most, together in zip(np.maximum(per_crew, 0), more, left, strict=True):
            order = np.argsort(-gains, kind="stable")
            before = np.cumsum(most[order]) - most[order]
            hired = np.clip(together - before, 0, most[order])
            total += float((gains[order] * hired).sum())
        return total

    def earned_per_crew(self, minute: FloatArray, cent: FloatArray) -> FloatArray:
        """Return what a crew earns in a term at prices, less what it is paid.

        Parameters
        ----------
        minute : (years, skills) float64
        cent : (years,) float64

        Returns
        -------
        (terms, kinds) float64
            Below 0 where a crew must be paid that earns less.
        """
        best = np.where(self.has_skill, minute[:, :, None], 0.0).max(axis=1)
        per_day = best * self.minutes_per_day * self.worked[:, None]
        per_day = (per_day - cent[:, None] * self.day_cents) * self.days
        earned = np.where(per_day > 0, per_day, per_day * self.least_paid[:, None])
        per_crew = np.zeros((self.terms, len(self.crew_kinds)))
        np.add.at(per_crew, self.term_of_year, earned)
        return per_crew

    def money_worth(self, cent: FloatArray) -> float:
        """Return what the money of all years is worth at prices.

        Parameters
        ----------
        cent : (years,) float64
            Price of a cent in each year.

        Returns
        -------
        float
            Years with a price of 0 and money without end count nothing.
        """
        return float(cent @ np.where(cent > 0, self.cents, 0.0))

    @property
    def days(self) -> FloatArray:
        """Crew-days of one crew in a year, by kind."""
        return np.array([float(kind.days) for kind in self.crew_kinds])

    def columns(self) -> tuple[csr_array, FloatArray]:
        """Return the rows' coefficients of all variables, and the variables' upper limits.

        Returns
        -------
        rows : csr_array
        most : (variables,) float64
        """
        kinds, years = len(self.crew_kinds), self.years
        skill, kind = (part.astype(np.int64) for part in np.nonzero(self.has_skill))
        by_year, one = np.eye(years), np.eye(kinds)
        pairs = len(skill)
        gives = np.zeros((SKILL_COUNT, pairs))
        gives[skill, np.arange(pairs)] = -1
        takes = np.zeros((kinds, pairs))
        takes[kind, np.arange(pairs)] = 1
        in_term = np.eye(self.terms)[self.term_of_year]
        works = np.kron(np.diag(-self.worked), np.diag(self.minutes_per_day))
        most = np.kron(-in_term, np.diag(self.days))
        least = np.kron(in_term * self.least_paid[:, None], np.diag(self.days))
        rows = block_array(
            [
                [csr_array(np.kron(by_year, gives)), None, None],
                [csr_array(np.kron(by_year, takes)), csr_array(works), None],
                [None, csr_array(np.kron(by_year, one)), csr_array(most)],
                [None, csr_array(np.kron(-by_year, one)), csr_array(least)],
                [None, None, csr_array(np.kron(np.eye(self.terms), np.ones(kinds)))],
                [None, None, csr_array(-np.eye(self.terms * kinds))],
                [None, csr_array(np.kron(by_year, self.day_cents)), None],
            ],
            format="csr",
        )
        crews = self.most_crews.ravel()
        return csr_array(rows), np.append(np.full(rows.shape[1] - len(crews), np.inf), crews)

    def limits(self) -> FloatArray:
        """Return the right sides of the rows.

        Returns
        -------
        (rows,) float64
        """
        free = self.years * (SKILL_COUNT + 3 * len(self.crew_kinds))
        return np.concatenate(
            [np.zeros(free), self.most_together, -self.least_crews.ravel(), self.cents]
        )

    def with_crews(self, crews: FloatArray) -> Self:
        """Return the supply with given crews by term and kind.

        Parameters
        ----------
        crews : (terms, kinds) float64

        Returns
        -------
        Supply
        """
        return replace(self, least_crews=crews, most_crews=crews)


def supply(
    crew_kinds: tuple[CrewKind, ...],
    budget: Budget,
    *,
    years: int,
    terms: CrewTerms = AS_PLANNED,
    storm_days: float = 0.0,
) -> Supply:
    """Lay out what a budget can hire.

    Parameters
    ----------
    crew_kinds : tuple of CrewKind
    budget : Budget
    years : int
        Counted years, those beyond the horizon's end included.
    terms : CrewTerms
    storm_days : float
        Share of crew-days lost from the second year on.

    Returns
    -------
    Supply

    Raises
    ------
    PlanError
        Where nothing limits the crews.
    """
    term = np.concatenate([[0], 1 + np.arange(years - 1) // terms.years]).astype(np.int64)
    count = int(term[-1]) + 1
    days = np.array([float(kind.days) for kind in crew_kinds])
    least = np.where(np.arange(years) > 0, terms.least_paid, 0.0)
    worked = np.where(np.arange(years) > 0, 1 - storm_days, 1.0)
    cents = budget.of_years(years)
    together = np.inf if budget.most_crews is None else float(budget.most_crews)
    cost = days * np.array([float(kind.day_cost_cents) for kind in crew_kinds])
    whole = np.floor if terms.least_paid >= 1 else np.ceil
    affordable = np.where(cost > 0, whole(float(cents.max()) / np.maximum(cost, 1)), np.inf)
    most = np.tile(np.minimum(affordable, together), (count, 1))
    most[0] = np.minimum([float(kind.now) for kind in crew_kinds], together)
    if not np.isfinite(most).all():
        raise PlanError(
            Fault(
                f"budget {budget.name!r} limits neither money nor crews",
                "[[crews]]",
                "give day_cost_cents to every crew, or say how many crews: --budgets '3 crews'",
            )
        )
    return Supply(
        crew_kinds=crew_kinds,
        term_of_year=term,
        least_paid=least,
        worked=worked,
        least_crews=np.zeros_like(most),
        most_crews=most,
        most_together=np.full(count, together),
        cents=cents,
    )
