"""The least money with which the best visits reach a target."""

from dataclasses import dataclass

from forestcycle.errors import Fault, PlanError
from forestcycle.outlook.budget import AS_PLANNED, Budget, CrewTerms
from forestcycle.outlook.horizon import Horizon
from forestcycle.outlook.solve import HorizonPlan, solve_horizon
from forestcycle.outlook.trajectory import Trajectory
from forestcycle.progress import Progress, silent

PARTS = {"young on recall": ("young_on_recall", "young"), "on recall": ("on_recall", "trees")}
HALVINGS = 7


@dataclass(frozen=True)
class Target:
    """A share of trees to have on recall by a year, and to keep until the horizon's end.

    Attributes
    ----------
    part : str
        One of ``PARTS``.
    share : float
        0..1.
    year : int
        1 is the first year.
    """

    part: str
    share: float
    year: int

    def __str__(self) -> str:
        return f"{self.part} {self.share:.0%} by year {self.year}"

    def met(self, found: Trajectory) -> bool:
        """Whether the share is reached in the year and kept.

        Parameters
        ----------
        found : Trajectory

        Returns
        -------
        bool
        """
        share = found.share(*PARTS[self.part])
        return bool((share[self.year - 1 :] >= self.share).all())


def beyond_horizon(targets: list[Target], years: int) -> list[Fault]:
    """Return a fault for each target whose year is not looked at, with the horizon it clashes with.

    Parameters
    ----------
    targets : list of Target
    years : int
        The horizon.

    Returns
    -------
    list of Fault
    """
    return [
        Fault(
            f"target '{target}' clashes with 'years {years}'",
            "--target",
            f"give a year from 1 to {years}, or look further ahead",
        )
        for target in targets
        if not 1 <= target.year <= years
    ]


def least_budget(
    horizon: Horizon,
    targets: list[Target],
    *,
    most_cents: int,
    years: int,
    beyond: int = 5,
    terms: CrewTerms = AS_PLANNED,
    progress: Progress = silent,
) -> HorizonPlan:
    """Halve the interval of budgets until the least one that reaches all targets is known.

    The visits are those that leave the least worth undone, not those that
    serve the targets alone: a city that served nothing else might get by with
    less. The answer is within ``most_cents / 2**7`` of the least such budget.

    Parameters
    ----------
    horizon : Horizon
    targets : list of Target
    most_cents : int
        Most money a year that could be had.
    years, beyond, terms, progress
        As for :func:`forestcycle.outlook.solve.solve_horizon`.

    Returns
    -------
    HorizonPlan
        Of the least budget found.

    Raises
    ------
    PlanError
        Where a target lies beyond the horizon, or clashes with the most money:
        each such pair is named.
    """
    late = beyond_horizon(targets, years)
    if late:
        raise PlanError(late)

    def solved(cents: int, known: HorizonPlan | None) -> HorizonPlan:
        return solve_horizon(
            horizon,
            Budget("least", cents=(cents,)),
            years=years,
            beyond=beyond,
            terms=terms,
            known=known,
            progress=progress,
        )

    best = solved(most_cents, None)
    missed = [target for target in targets if not target.met(best.trajectory)]
    if missed:
        raise PlanError(
            [
                Fault(
                    f"target '{target}' clashes with 'at most {most_cents / 100:,.0f} a year'",
                    "--target",
                    "allow more money, more years or a lower share",
                )
                for target in missed
            ]
        )
    low, high = 0, most_cents
    for _ in range(HALVINGS):
        middle = (low + high) // 2
        found = solved(middle, None)
        if all(target.met(found.trajectory) for target in targets):
            high, best = middle, found
        else:
            low = middle
    return best
