"""What a revision changed, visit by visit, and why."""

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date

import numpy as np
import pandas as pd

from forestcycle.cycle.in_force import EMERGENCY, LOST, PlanInForce

STAYED, ORDER, DONE = "stayed", "another place in the day", "done"
CREW, DAY, BOTH = "moved to another crew", "moved to another day", "moved to another day and crew"
LEFT, CAME, ELSEWHERE = "left", "came", "done otherwise than planned"
MOVES = (DAY, CREW, BOTH)
KINDS = (*MOVES, LEFT, CAME, ELSEWHERE, ORDER, DONE, STAYED)
COLUMNS = str.split(
    "tree_id change from_day from_crew from_order to_day to_crew to_order worth why"
)
MOST_NAMED = 3


@dataclass(frozen=True)
class RevisionReport:
    """Figures of a revision.

    ``worth_before`` is that of the plan in force, ``worth_dropped_only`` that of
    the plan that only drops what can no longer be; ``worth_after`` is that of the
    revised plan, without visits done otherwise than planned, which have
    ``worth_done_otherwise``. ``paid`` is the price of the moves, at
    ``price_other_day`` and ``price_other_crew`` worth a visit. ``deadlines_missed``
    names mandatory trees that nobody has visited in time, with their deadlines.
    """

    from_day: str
    facts: str
    counts: dict[str, int]
    worth_before: float
    worth_dropped_only: float
    worth_after: float
    worth_done_otherwise: float
    paid: float
    paid_dropped_only: float
    price_other_day: float
    price_other_crew: float
    bound: float
    gap: float
    days_repacked: int
    deadlines_missed: list[str]
    reserve_days_opened: int
    rounds: int
    seconds: float

    def to_json(self) -> str:
        """Text of ``revision.json``."""
        return json.dumps(asdict(self), indent=2, ensure_ascii=False) + "\n"

    def main_figures(self) -> list[tuple[str, str]]:
        """Figures for the terminal, in words."""
        counts = [
            (f"visits: {kind}", f"{self.counts[kind]:,}") for kind in KINDS if self.counts.get(kind)
        ]
        prices = f"{self.price_other_day:g} a day and {self.price_other_crew:g} a crew"
        return [
            ("revised from", self.from_day),
            *counts,
            ("worth of the plan in force", f"{self.worth_before:,.0f}"),
            ("  of what is still possible of it", f"{self.worth_dropped_only:,.0f}"),
            ("  of the revised plan", f"{self.worth_after:,.0f}"),
            ("  of visits done otherwise than planned", f"{self.worth_done_otherwise:,.0f}"),
            (f"paid for moves, {prices}", f"{self.paid:,.0f}"),
            ("no revision can be worth more than", f"{self.bound:,.0f}"),
            ("gap to that bound", f"{100 * self.gap:.2f} %"),
            ("crew-days looked at again", f"{self.days_repacked:,}"),
            *[("deadline missed: tree, day", missed) for missed in self.deadlines_missed],
            *(
                [("storm reserve days opened", f"{self.reserve_days_opened:,}")]
                if self.reserve_days_opened
                else []
            ),
            ("seconds", f"{self.seconds:,.0f}"),
        ]


def compare(
    plan: PlanInForce,
    stops: pd.DataFrame,
    done: pd.DataFrame,
    lost: pd.DataFrame,
    reason_of: pd.Series,
    news: set[str],
    missed: Mapping[str, date],
    from_day: date,
) -> pd.DataFrame:
    """List every visit of the plan in force and of the revised one.

    Parameters
    ----------
    plan : PlanInForce
    stops : DataFrame
        Of the revised plan.
    done : DataFrame
        Visits done this year, as in the table ``done``.
    lost : DataFrame
        ``crew date use``.
    reason_of : Series of str
        By ``tree_id``: why a tree is not in the revised plan.
    news : set of str
        Trees that are worth more, or may be visited on more days, than before.
    missed : mapping of str to date
        Mandatory trees not visited by their deadline.
    from_day : date

    Returns
    -------
    DataFrame
        ``COLUMNS``; what changed comes first.
    """
    names = ["tree_id", "date", "crew", "stop_order", "priority"]
    both = plan.stops[names].merge(
        stops[names], on="tree_id", how="outer", suffixes=("_old", "_new")
    )
    both["change"] = _changes(both, done)
    why = _Why(plan, stops, done, lost, reason_of, news, missed, from_day)
    table = pd.DataFrame(
        {
            "tree_id": both["tree_id"],
            "change": both["change"],
            "from_day": both["date_old"].dt.strftime("%Y-%m-%d").fillna(""),
            "from_crew": both["crew_old"].fillna(""),
            "from_order": both["stop_order_old"].astype("Int64"),
            "to_day": both["date_new"].dt.strftime("%Y-%m-%d").fillna(""),
            "to_crew": both["crew_new"].fillna(""),
            "to_order": both["stop_order_new"].astype("Int64"),
            "worth": both["priority_new"].fillna(both["priority_old"]).round(2),
        }
    )
    table["why"] = [
        "" if change in (STAYED, DONE) else why.told(row)
        for change, row in zip(table["change"], table.itertuples(index=False), strict=True)
    ]
    rank = table["change"].map({kind: place for place, kind in enumerate(KINDS)})
    order = np.lexsort([table["from_order"].fillna(0), table["from_day"], rank])
    return table.iloc[order].reset_index(drop=True)[COLUMNS]


def _changes(both: pd.DataFrame, done: pd.DataFrame) -> "np.typing.NDArray[np.object_]":
    old, new = both["date_old"].notna(), both["date_new"].notna()
    in_plan = both["tree_id"].isin(done.loc[done["in_plan"], "tree_id"])
    elsewhere = both["tree_id"].isin(done.loc[~done["in_plan"], "tree_id"])
    day, crew = both["date_old"] != both["date_new"], both["crew_old"] != both["crew_new"]
    order = _reordered(both)
    conditions = [in_plan, elsewhere, ~old, ~new, day & crew, day, crew, order]
    kinds = [DONE, ELSEWHERE, CAME, LEFT, BOTH, DAY, CREW, ORDER]
    return np.select([c.to_numpy(bool) for c in conditions], kinds, default=STAYED).astype(object)


def _reordered(both: pd.DataFrame) -> pd.Series:
    """Whether a visit stands elsewhere among those that stay on its crew-day."""
    stay = (both["date_old"] == both["date_new"]) & (both["crew_old"] == both["crew_new"])
    by_day = both[stay].groupby(["date_new", "crew_new"])
    moved = by_day["stop_order_old"].rank() != by_day["stop_order_new"].rank()
    return moved.reindex(both.index, fill_value=False)


class _Why:
    """Reasons of changes."""

    def __init__(
        self,
        plan: PlanInForce,
        stops: pd.DataFrame,
        done: pd.DataFrame,
        lost: pd.DataFrame,
        reason_of: pd.Series,
        news: set[str],
        missed: Mapping[str, date],
        from_day: date,
    ) -> None:
        self._from_day = from_day
        self._lost = {
            f"{day:%Y-%m-%d} {crew}": str(use)
            for crew, day, use in lost[["crew", "date", "use"]].itertuples(index=False)
        }
        self._reason = reason_of
        self._news = news
        self._missed = missed
        self._done = {
            str(row.tree_id): f"done on {row.visited_on:%Y-%m-%d} by {row.crew}"
            for row in done[~done["in_plan"]].itertuples(index=False)
        }
        before = set(zip(plan.stops["crew_day_id"], plan.stops["tree_id"], strict=True))
        self._came: dict[str, list[str]] = {}
        for crew_day, tree in zip(stops["crew_day_id"], stops["tree_id"], strict=True):
            if (crew_day, tree) not in before:
                self._came.setdefault(str(crew_day), []).append(str(tree))
        self._still = set(plan.crew_days.index)
        self._gone: dict[str, str] = {}

    def told(self, row: object) -> str:
        """Say why a visit changed."""
        tree = str(row.tree_id)  # type: ignore[attr-defined]
        missed = self._missed.get(tree)
        late = f"its deadline {missed} has passed without a return; " if missed else ""
        return late + self._because(tree, row)

    def _because(self, tree: str, row: object) -> str:
        change = str(row.change)  # type: ignore[attr-defined]
        if change == ELSEWHERE:
            return self._done.get(tree, "done")
        if change == CAME:
            return (
                "worth more than the plan knew, or asked for anew"
                if tree in self._news
                else "room came free"
            )
        if change == ORDER:
            return "a shorter way round its crew-day with those that came"
        crew_day = f"{row.from_day} {row.from_crew}"  # type: ignore[attr-defined]
        forced = self._forced(crew_day, str(row.from_day))  # type: ignore[attr-defined]
        if forced and change == LEFT:
            return f"{forced}; no other was found: {self._left_out(tree)}"
        return forced or self._chosen(tree, crew_day, change)

    def _forced(self, crew_day: str, day: str) -> str:
        if self._lost.get(crew_day) == EMERGENCY:
            return "its day was given to emergency work"
        if self._lost.get(crew_day) == LOST:
            return "its crew-day is lost"
        if date.fromisoformat(day) < self._from_day:
            return "no return says that it was done on its day"
        return ""

    def _chosen(self, tree: str, crew_day: str, change: str) -> str:
        came = self._came.get(crew_day, [])
        if came:
            named = ", ".join(came[:MOST_NAMED])
            more = f" and {len(came) - MOST_NAMED} more" if len(came) > MOST_NAMED else ""
            return f"made room for {named}{more}"
        if change == LEFT:
            return self._left_out(tree)
        return "its crew-day has no room for it any more"

    def _left_out(self, tree: str) -> str:
        return str(self._reason.get(tree, "no longer a usable tree of the inventory"))


def count_changes(table: pd.DataFrame) -> dict[str, int]:
    """Count visits by kind of change."""
    counts = Counter(table["change"].tolist())
    return {kind: counts.get(kind, 0) for kind in KINDS}
