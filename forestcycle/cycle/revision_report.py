"""Figures of a revision."""

import json
from dataclasses import asdict, dataclass

from forestcycle.cycle.revision_kinds import KINDS


@dataclass(frozen=True)
class RevisionReport:
    """Figures of a revision.

    ``worth_before`` is that of the plan in force, ``worth_dropped_only`` that of
    the plan that only drops what can no longer be; ``worth_after`` is that of the
    revised plan, without visits done otherwise than planned, which have
    ``worth_done_otherwise``. ``paid`` is the price of the moves, at
    ``price_other_day`` and ``price_other_crew`` worth a visit. ``deadlines_missed``
    names mandatory trees that nobody has visited in time, with their deadlines.
    ``interrupted`` says that the user ended the search.
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
    interrupted: bool
    seconds: float

    def to_json(self) -> str:
        """Text of ``revision.json``.

        Returns
        -------
        str
        """
        return json.dumps(asdict(self), indent=2, ensure_ascii=False) + "\n"

    def main_figures(self) -> list[tuple[str, str]]:
        """Figures for the terminal, in words.

        Returns
        -------
        list of (str, str)
            What, and how much.
        """
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
