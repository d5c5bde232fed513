"""Look up a risk rating from an assessor's own judgements.

Two matrices of the tree risk assessment in common use (ISA Best Management
Practices, *Tree Risk Assessment*), as reproduced in a municipal street tree
plan; the placement of cells in the second is from memory and agrees with the
counts seen. A rating belongs to an assessor, who has seen the tree, and to a
time frame. Nothing here derives a rating, and ratings must not be averaged.
"""

from typing import Final, Literal

from forestcycle.errors import Fault, InventoryError

Failure = Literal["improbable", "possible", "probable", "imminent"]
Impact = Literal["very low", "low", "medium", "high"]
Likelihood = Literal["unlikely", "somewhat likely", "likely", "very likely"]
Consequence = Literal["negligible", "minor", "significant", "severe"]
Rating = Literal["low", "moderate", "high", "extreme"]

IMPACTS: Final[tuple[Impact, ...]] = ("very low", "low", "medium", "high")
CONSEQUENCES: Final[tuple[Consequence, ...]] = ("negligible", "minor", "significant", "severe")

LIKELIHOOD: Final[dict[Failure, tuple[Likelihood, ...]]] = {
    "improbable": ("unlikely", "unlikely", "unlikely", "unlikely"),
    "possible": ("unlikely", "unlikely", "unlikely", "somewhat likely"),
    "probable": ("unlikely", "unlikely", "somewhat likely", "likely"),
    "imminent": ("unlikely", "somewhat likely", "likely", "very likely"),
}
"""Likelihood of failure and impact, by likelihood of failure and of impact."""

RATING: Final[dict[Likelihood, tuple[Rating, ...]]] = {
    "unlikely": ("low", "low", "low", "low"),
    "somewhat likely": ("low", "low", "moderate", "moderate"),
    "likely": ("low", "moderate", "high", "high"),
    "very likely": ("low", "moderate", "high", "extreme"),
}
"""Risk rating, by likelihood of failure and impact and by consequences."""


def failure_and_impact(failure: Failure, impact: Impact) -> Likelihood:
    """Look up the likelihood that the tree fails and hits its target.

    Parameters
    ----------
    failure : str
        The assessor's likelihood of failure.
    impact : str
        The assessor's likelihood of impact.

    Returns
    -------
    str

    Raises
    ------
    InventoryError
        If a word is not one of the matrix's.
    """
    _check({"failure": (failure, tuple(LIKELIHOOD)), "impact": (impact, IMPACTS)})
    return LIKELIHOOD[failure][IMPACTS.index(impact)]


def risk_rating(
    failure: Failure, impact: Impact, consequence: Consequence, *, time_frame_years: float
) -> Rating:
    """Look up the risk rating for an assessor's three judgements.

    Parameters
    ----------
    failure, impact, consequence : str
        The assessor's likelihood of failure and of impact, and consequences.
    time_frame_years : float
        For which the likelihood of failure was judged. It changes nothing in
        the lookup, but a rating without one means nothing.

    Returns
    -------
    str
        ``low``, ``moderate``, ``high`` or ``extreme``.

    Raises
    ------
    InventoryError
        If a word is not one of the matrices', or the time frame is not
        positive.
    """
    if not 0 < time_frame_years < float("inf"):
        what = f"a risk rating needs a time frame in years, got {time_frame_years}"
        raise InventoryError(Fault(what, "time_frame_years", "ask the assessor"))
    _check({"consequence": (consequence, CONSEQUENCES)})
    likelihood = failure_and_impact(failure, impact)
    return RATING[likelihood][CONSEQUENCES.index(consequence)]


def _check(given: dict[str, tuple[str, tuple[str, ...]]]) -> None:
    faults = [
        Fault(f"{word!r} is not a rating of {what}", what, f"one of {', '.join(known)}")
        for what, (word, known) in given.items()
        if word not in known
    ]
    if faults:
        raise InventoryError(faults)
