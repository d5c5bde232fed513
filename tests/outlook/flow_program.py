"""The horizon as one large linear program for HiGHS, in a formulation of its own.

Trees in each state, ward and year are a stock; a part of it is visited by
skill; what a year leaves and moves is next year's stock. Only states that can
be reached are written down. Whole crews are tried out, combination by
combination. It shares the transition matrices and the figures
of states with the product, but neither prices, courses nor recursions.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from forestcycle.outlook import Budget, CrewTerms, Horizon
from forestcycle.outlook.trajectory import MEASURE

SKILLS = 4
OPTIMAL, INFEASIBLE = 0, 2
UNDONE = MEASURE["worth_undone"]


@dataclass
class _Program:
    columns: int = 0

    def __post_init__(self):
        self.cost, self.least, self.top = [], [], []
        self.entries, self.low, self.high = [], [], []

    def variable(self, cost=0.0, low=0.0, top=np.inf):
        self.cost.append(cost)
        self.least.append(low)
        self.top.append(top)
        self.columns += 1
        return self.columns - 1

    def row(self, terms, low=-np.inf, high=np.inf):
        number = len(self.low)
        self.entries += [(number, column, weight) for column, weight in terms]
        self.low.append(low)
        self.high.append(high)

    def solve(self):
        """Return the least cost, infinite where nothing is feasible."""
        row, column, weight = zip(*self.entries, strict=True)
        matrix = coo_array((weight, (row, column)), shape=(len(self.low), self.columns))
        found = milp(
            np.array(self.cost),
            constraints=LinearConstraint(matrix.tocsr(), self.low, self.high),
            bounds=Bounds(self.least, self.top),
        )
        assert found.status in {OPTIMAL, INFEASIBLE}, found.message
        return float(found.fun) if found.status == OPTIMAL else np.inf


def least_loss(
    horizon: Horizon,
    budget: Budget,
    years: int,
    *,
    terms: CrewTerms,
    crews: "np.ndarray | None" = None,
    more_days: "dict[tuple[int, int], float] | None" = None,
) -> float:
    """Least worth undone over all years; with given crews by term and kind, or parts of crews.

    ``more_days`` are unpaid crew-days, or days lost where below 0, by year and kind.
    """
    program = _Program()
    spent = [[] for _ in range(years)]
    worked = [[[] for _ in range(SKILLS)] for _ in range(years)]
    constant = _first_year(program, horizon, spent[0], worked[0])
    stock = constant.stock
    for year in range(1, years):
        stock = _later_year(program, horizon, stock, spent[year], worked[year])
    _crews(program, horizon, budget, terms, spent, worked, crews, more_days or {})
    return constant.cost + program.solve()


def least_loss_with_whole_crews(
    horizon: Horizon, budget: Budget, years: int, *, terms: CrewTerms, most: int
) -> float:
    """Least worth undone over all combinations of at most so many crews of each kind."""
    kinds = horizon.stock.crew_kinds
    count = 2 + (years - 2) // terms.years
    tops = [kind.now for kind in kinds] + [most] * (len(kinds) * (count - 1))
    combinations = product(*(range(top + 1) for top in tops))
    tried = [np.array(crews, dtype=float).reshape(count, -1) for crews in combinations]
    if budget.most_crews is not None:
        tried = [crews for crews in tried if (crews.sum(axis=1) <= budget.most_crews).all()]
    return min(least_loss(horizon, budget, years, terms=terms, crews=crews) for crews in tried)


@dataclass
class _Stock:
    """Trees per state and ward as sums of variables, and the part that is given."""

    cost: float
    stock: dict


def _first_year(program, horizon, spent, worked):
    cells, effects = horizon.stock.cells, horizon.first_year
    given, stock = 0.0, {}
    for cell in range(len(cells.state)):
        trees, ward = cells.trees[cell], cells.ward[cell]
        undone = effects.waiting[UNDONE, cell]
        given += trees * undone
        _move(stock, horizon.waiting, cells.state[cell], ward, None, trees)
        if not cells.open[cell]:
            continue
        visits = program.variable(cost=-undone, top=trees)
        _move(stock, horizon.waiting, cells.state[cell], ward, visits, -1.0)
        _move(stock, horizon.visiting, cells.state[cell], ward, visits, 1.0)
        minutes = effects.minutes[cell, 0] + horizon.stock.overhead[ward]
        worked[cells.skill[cell]].append((visits, minutes))
        spent.append((visits, effects.cents[cell, 0]))
    return _Stock(given, stock)


def _later_year(program, horizon, stock, spent, worked):
    effects, after = horizon.later, {}
    for (state, ward), (terms, constant) in stock.items():
        undone = effects.waiting[UNDONE, state]
        trees = program.variable(cost=undone)
        program.row([(trees, 1.0), *((v, -w) for v, w in terms.items())], constant, constant)
        _move(after, horizon.waiting, state, ward, trees, 1.0)
        if not effects.open[state]:
            continue
        for skill in range(SKILLS):
            share = effects.skill_share[state, skill]
            if share <= 0:
                continue
            visits = program.variable(cost=-undone)
            program.row([(visits, 1.0), (trees, -share)], high=0.0)
            _move(after, horizon.waiting, state, ward, visits, -1.0)
            _move(after, horizon.visiting, state, ward, visits, 1.0)
            minutes = effects.minutes[state, skill] + horizon.stock.overhead[ward]
            worked[skill].append((visits, minutes))
            spent.append((visits, effects.cents[state, skill]))
    return after


def _move(stock, matrix, state, ward, variable, weight):
    begin, end = matrix.indptr[state], matrix.indptr[state + 1]
    for to, share in zip(matrix.indices[begin:end], matrix.data[begin:end], strict=True):
        terms, constant = stock.setdefault((int(to), int(ward)), ({}, 0.0))
        if variable is None:
            stock[int(to), int(ward)] = (terms, constant + weight * share)
        else:
            terms[variable] = terms.get(variable, 0.0) + weight * share


def _crews(program, horizon, budget, terms, spent, worked, given, more_days):
    kinds, years = horizon.stock.crew_kinds, len(spent)
    cents = budget.of_years(years)
    hired = {}
    for year in range(years):
        term = 0 if year == 0 else 1 + (year - 1) // terms.years
        lost = horizon.chances.storm_days if year else 0.0
        paid = []
        for number, kind in enumerate(kinds):
            if (term, number) not in hired:
                low, top = 0.0, kind.now if year == 0 else np.inf
                if given is not None:
                    low = top = given[term, number]
                hired[term, number] = program.variable(low=low, top=top)
            crews = hired[term, number]
            days = program.variable()
            least = terms.least_paid if year else 0.0
            program.row([(days, 1.0), (crews, -kind.days)], high=0.0)
            program.row([(days, 1.0), (crews, -least * kind.days)], low=0.0)
            paid.append((days, kind.day_cost_cents))
            lent = [
                (skill, program.variable()) for skill in range(SKILLS) if kind.skill >> skill & 1
            ]
            minutes = kind.minutes_per_day * (1 - lost)
            more = minutes * more_days.get((year, number), 0.0)
            program.row([*((v, 1.0) for _, v in lent), (days, -minutes)], high=more)
            for skill, variable in lent:
                worked[year][skill].append((variable, -1.0))
        _close_year(program, worked[year], [*paid, *spent[year]], cents[year])
    if budget.most_crews is not None:
        for term in {term for term, _ in hired}:
            row = [(variable, 1.0) for (of, _), variable in hired.items() if of == term]
            program.row(row, high=budget.most_crews)


def _close_year(program, worked, spent, cents):
    for entries in worked:
        if entries:
            program.row(entries, high=0.0)
    if np.isfinite(cents):
        program.row(spent, high=cents)
