"""Why a revision changed a visit."""

from collections.abc import Mapping
from datetime import date
from typing import NamedTuple

import pandas as pd

from forestcycle.cycle.in_force import EMERGENCY, LOST, PlanInForce
from forestcycle.cycle.revision_kinds import CAME, ELSEWHERE, LEFT, ORDER

MOST_NAMED = 3
GONE = "no longer a usable tree of the inventory"


class Change(NamedTuple):
    """What became of a visit.

    Attributes
    ----------
    tree_id : str
    change : str
        One of :data:`forestcycle.cycle.revision_kinds.KINDS`.
    from_day, from_crew : str
        Where it stood; empty if nowhere.
    """

    tree_id: str
    change: str
    from_day: str
    from_crew: str


class Why:
    """Reasons of changes.

    Parameters
    ----------
    plan, stops, done, lost, reason_of, barred, news, missed, from_day
        As for :func:`forestcycle.cycle.revision_changes.compare`.
    """

    def __init__(
        self,
        plan: PlanInForce,
        stops: pd.DataFrame,
        done: pd.DataFrame,
        lost: pd.DataFrame,
        reason_of: pd.Series,
        barred: Mapping[str, str],
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
        self._barred = barred
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

    def told(self, change: Change) -> str:
        """Say why a visit changed.

        Parameters
        ----------
        change : Change

        Returns
        -------
        str
        """
        missed = self._missed.get(change.tree_id)
        late = f"its deadline {missed} has passed without a return; " if missed else ""
        return late + self._because(change)

    def _because(self, change: Change) -> str:
        tree = change.tree_id
        if change.change == ELSEWHERE:
            felled = "" if tree in self._reason.index else f"; now {GONE}"
            return self._done.get(tree, "done") + felled
        if change.change == CAME:
            return self._came_because(tree)
        crew_day = f"{change.from_day} {change.from_crew}"
        if change.change == ORDER:
            others = "with those that came" if crew_day in self._came else "without those that left"
            return f"a shorter way round its crew-day {others}"
        if change.change == LEFT and tree not in self._reason.index:
            return GONE
        forced = self._forced(crew_day, change.from_day) or self._barred.get(tree, "")
        if forced and change.change == LEFT and forced != self._left_out(tree):
            return f"{forced}; no other was found: {self._left_out(tree)}"
        return forced or self._chosen(tree, crew_day, change.change)

    def _came_because(self, tree: str) -> str:
        if tree in self._barred:
            return self._barred[tree]
        if tree in self._news:
            return "worth more than the plan knew, or asked for anew"
        return "room came free"

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
        return "its move gains more than it costs"

    def _left_out(self, tree: str) -> str:
        return str(self._reason[tree])
