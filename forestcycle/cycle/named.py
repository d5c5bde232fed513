"""Wards and funds that the settings name and the inventory does not have."""

from difflib import get_close_matches

from forestcycle.cycle.city import City
from forestcycle.errors import Fault, SettingsError


def check_wards(city: City) -> None:
    """Refuse a least share for a ward in which no tree stands.

    Parameters
    ----------
    city : City

    Raises
    ------
    SettingsError
        Such a share could be kept only by visiting nothing anywhere.
    """
    known = _names(city, "ward")
    faults = [
        _fault(f"plan.ward_least_share.{ward}", f"no tree stands in ward {ward!r}", ward, known)
        for ward, share in city.settings.plan.ward_least_share.items()
        if share > 0 and ward not in known
    ]
    if faults:
        raise SettingsError(faults)


def unknown_funds(city: City) -> list[Fault]:
    """Name the budgets that bind nothing, because no tree is paid from their fund.

    Parameters
    ----------
    city : City

    Returns
    -------
    list of Fault
    """
    known = _names(city, "fund")
    return [
        _fault(f"budget.fund_cents.{fund}", f"no tree is paid from fund {fund!r}", fund, known)
        for fund in city.settings.budget.fund_cents
        if fund not in known
    ]


def _names(city: City, column: str) -> list[str]:
    return sorted(set(city.inventory.trees[column]) - {""})


def _fault(where: str, what: str, name: str, known: list[str]) -> Fault:
    close = get_close_matches(name, known, n=1)
    if close:
        return Fault(what, where, f"did you mean {close[0]!r}?")
    return Fault(what, where, "known: " + (", ".join(known[:20]) or "none"))
