"""``summary.json``: the figures of a plan."""

import json
from dataclasses import asdict, dataclass
from importlib.metadata import version

from forestcycle.version import VERSION

PACKAGES = ("ortools", "numpy", "scipy", "pandas", "geopandas", "shapely", "pyogrio")


@dataclass(frozen=True)
class Summary:
    """What a plan comes to.

    Money is integer cents, times are minutes; ``gap`` is 1 - worth / bound.
    ``verified`` is the independent verifier's word on the written files and
    ``certified`` says whether the bound's conditions hold. ``sensitivity`` is the
    share of minutes that a choice by worth per minute alone would spend on
    other trees if that weight of the priority were a fifth larger or smaller.
    """

    city: str
    year_start: str
    year_end: str
    currency: str
    trees_in_inventory: int
    trees_usable: int
    trees_set_aside: int
    trees_eligible: int
    trees_planned: int
    trees_mandatory: int
    crew_days_available: int
    crew_days_storm_reserve: int
    crew_days_used: int
    worth: float
    bound: float
    gap: float
    certified: bool
    minutes_service: float
    minutes_travel: float
    cost_cents: int
    budget_cents: int | None
    unplanned_reasons: dict[str, int]
    sensitivity: dict[str, float]
    travel: str
    notes: list[str]
    verified: bool
    verification_faults: list[str]
    interrupted: bool
    rounds: int
    seconds: float
    seed: int
    input_sha256: str
    versions: dict[str, str]

    def to_json(self) -> str:
        """Text of ``summary.json``.

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
        budget = "none" if self.budget_cents is None else self._money(self.budget_cents)
        return [
            ("trees in the inventory", f"{self.trees_in_inventory:,}"),
            ("  usable", f"{self.trees_usable:,}"),
            ("  that could be visited this year", f"{self.trees_eligible:,}"),
            ("trees planned", f"{self.trees_planned:,}"),
            (
                "crew-days used / available",
                f"{self.crew_days_used:,} / {self.crew_days_available:,}",
            ),
            ("crew-days kept for storms", f"{self.crew_days_storm_reserve:,}"),
            ("hours at trees", f"{self.minutes_service / 60:,.0f}"),
            ("hours driving and parking", f"{self.minutes_travel / 60:,.0f}"),
            ("cost", self._money(self.cost_cents)),
            ("budget", budget),
            ("worth of the plan", f"{self.worth:,.0f}"),
            (
                "no plan can be worth more than"
                if self.certified
                else "estimated limit on any plan",
                f"{self.bound:,.0f}",
            ),
            ("gap to that bound", f"{100 * self.gap:.2f} %"),
            ("hours that move if a weight changes by a fifth", self._sensitivities()),
            ("checked independently", "yes" if self.verified else "FAULTS FOUND"),
            ("seconds", f"{self.seconds:,.0f}"),
            *[("note", note) for note in self.notes],
            *[("fault", fault) for fault in self.verification_faults],
        ]

    def reason_counts(self) -> list[tuple[str, int]]:
        """Why trees are left out, the most frequent reason first.

        Returns
        -------
        list of (str, int)
        """
        return sorted(self.unplanned_reasons.items(), key=lambda item: -item[1])

    def _sensitivities(self) -> str:
        shares = self.sensitivity.items()
        return ", ".join(f"{weight} {100 * share:.0f} %" for weight, share in shares)

    def _money(self, cents: int) -> str:
        return f"{cents / 100:,.0f} {self.currency}"


def versions() -> dict[str, str]:
    """Version of forestcycle and of the packages that decide a plan.

    Returns
    -------
    dict of str to str
        By name of the package.
    """
    return {"forestcycle": VERSION} | {name: version(name) for name in PACKAGES}
