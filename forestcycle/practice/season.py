"""Season: days on which a kind of tree had better not be cut.

Rules are rows of the table ``seasons``: a named rule, the species group it
protects and the span of the year it closes, both ends inclusive. A city puts
rules in force by name. Where several apply to a tree, the tree is closed when
any of them closes it: the stricter wins. One exception is written into the
table: a rule that ``yields_to_disease`` falls away for trees that a disease
rule protects. Elms bleed least when bark beetles fly; the beetle rule decides.

Local law comes first: every date here is advice of one place and one year,
and a city should put its own in a table of its own.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.errors import Fault, SettingsError, nearest_name
from forestcycle.practice.assessment import Closure
from forestcycle.practice.species import EVERY_TREE, SpeciesMatch
from forestcycle.practice.tables import Column, load_table

SEASON_COLUMNS = {
    "rule": Column(),
    "region": Column(),
    "species_group": Column(),
    "closed_from": Column("month_day"),
    "closed_until": Column("month_day"),
    "kind": Column(words=("disease", "nesting", "tree health")),
    "yields_to_disease": Column("flag"),
    "mark": Column(words=("seen", "second hand", "from memory", "modelling choice")),
}


def closed_windows(
    match: SpeciesMatch,
    *,
    rules: Sequence[str],
    start: date,
    end: date,
    folder: Path | None = None,
) -> tuple[NDArray[np.int64], list[list[Closure]]]:
    """Return when each tree is closed to pruning within the planning span.

    Parameters
    ----------
    match : SpeciesMatch
    rules : sequence of str
        Names of the rules in force.
    start, end : date
        First and last day of the planning span.
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    group : ndarray of int64, shape (n,)
        Season group of each tree.
    closed : list of list of (date, date, str)
        For each group its closed spans, clipped to the planning span, both
        ends inclusive, each with the rule that closes it. Spans of different
        rules may overlap: a day is closed if any of them holds it.

    Raises
    ------
    SettingsError
        With one fault per unknown rule, and per group without members.
    """
    in_force = _in_force(load_table("seasons", SEASON_COLUMNS, folder=folder), rules, match)
    applies = _applies(in_force, match)
    used, row_in_used = np.unique(match.row, return_inverse=True)
    patterns, pattern = np.unique(applies[used], axis=0, return_inverse=True)
    closed = [_closures(in_force[chosen], start, end) for chosen in patterns]
    return pattern.reshape(-1).astype(np.int64)[row_in_used.reshape(-1)], closed


def expand(closed_from: str, closed_until: str, start: date, end: date) -> list[tuple[date, date]]:
    """Return the spans that a yearly window closes between two days.

    Parameters
    ----------
    closed_from, closed_until : str
        Days of the year as ``MM-DD``, inclusive. A window that ends before it
        begins runs over New Year. In years without a 29 February a window
        from that day begins on 1 March, and one until it ends on 28 February.
    start, end : date
        The span to clip to, inclusive.

    Returns
    -------
    list of (date, date)
        In order; both days inclusive.
    """
    over_new_year = closed_until < closed_from
    spans = []
    for year in range(start.year - 1, end.year + 1):
        first = _day(year, closed_from, forward=True)
        last = _day(year + over_new_year, closed_until, forward=False)
        first, last = max(first, start), min(last, end)
        if first <= last:
            spans.append((first, last))
    return spans


def _day(year: int, month_day: str, *, forward: bool) -> date:
    if month_day == "02-29":
        eve_of_march = date(year, 3, 1) - timedelta(days=1)
        return date(year, 3, 1) if forward and eve_of_march.day == 28 else eve_of_march
    return date(year, int(month_day[:2]), int(month_day[3:]))


def _in_force(table: pd.DataFrame, rules: Sequence[str], match: SpeciesMatch) -> pd.DataFrame:
    known = list(table["rule"].unique())
    faults = [
        Fault(f"unknown season rule {rule!r}", "practice.seasons", nearest_name(rule, known))
        for rule in rules
        if rule not in known
    ]
    groups = {EVERY_TREE, *match.groups["species_group"]}
    for group in sorted(set(table["species_group"]) - groups):
        what = f"the species group {group!r} has no members"
        faults.append(Fault(what, "seasons.csv", "add members to species_groups.csv"))
    if faults:
        raise SettingsError(faults)
    return table[table["rule"].isin(list(rules))].reset_index(drop=True)


def _applies(in_force: pd.DataFrame, match: SpeciesMatch) -> NDArray[np.bool_]:
    """Return which rules (columns) apply to which rows of the species table."""
    if in_force.empty:
        return np.zeros((len(match.table), 0), dtype=bool)
    applies = np.column_stack([match.rows_in_group(group) for group in in_force["species_group"]])
    is_disease = (in_force["kind"] == "disease").to_numpy(dtype=bool)
    disease = applies[:, is_disease].any(axis=1, keepdims=True)
    yields = in_force["yields_to_disease"].to_numpy(dtype=bool)
    return np.asarray(applies & ~(disease & yields), dtype=np.bool_)


def _closures(rows: pd.DataFrame, start: date, end: date) -> list[Closure]:
    return sorted(
        (first, last, str(rule))
        for rule, closed_from, closed_until in zip(
            rows["rule"], rows["closed_from"], rows["closed_until"], strict=True
        )
        for first, last in expand(closed_from, closed_until, start, end)
    )
