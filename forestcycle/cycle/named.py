"""Wards, funds, streets and trees that the settings name and the inventory does not have."""

from collections.abc import Iterator
from difflib import get_close_matches

from forestcycle.cycle.city import City
from forestcycle.errors import Fault, SettingsError
from forestcycle.settings.rules import TreeRule


def check_names(city: City) -> None:
    """Refuse names that no tree bears, where a misspelt one would change the plan unseen.

    Parameters
    ----------
    city : City

    Raises
    ------
    SettingsError
        A least share for a ward without trees could be kept only by visiting
        nothing anywhere; a rule for a street or tree that is not there would
        leave the right one without its hours or equipment.
    """
    faults = [*_unknown_wards(city), *_unknown_in_rules(city)]
    if faults:
        raise SettingsError(faults)


def _unknown_wards(city: City) -> Iterator[Fault]:
    known = _names(city, "ward")
    for ward, share in city.settings.plan.ward_least_share.items():
        if share > 0 and ward not in known:
            where = f"plan.ward_least_share.{ward}"
            yield _fault(where, f"no tree stands in ward {ward!r}", ward, known)


def _unknown_in_rules(city: City) -> Iterator[Fault]:
    settings = city.settings
    rules: list[tuple[str, TreeRule]] = [("hours", rule) for rule in settings.hours]
    rules += [("equipment", rule) for rule in settings.equipment]
    if not any(rule.streets or rule.tree_ids or rule.street_kmh for _, rule in rules):
        return
    streets, trees = _names(city, "street"), _names(city, "tree_id")
    for table, rule in rules:
        where = f"[[{table}]] {rule.name!r}"
        for street in rule.streets:
            if street not in streets:
                yield _fault(where, f"no tree stands in street {street!r}", street, streets)
        for tree in rule.tree_ids:
            if tree not in trees:
                yield _fault(where, f"there is no tree {tree!r}", tree, [])
        if rule.street_kmh is not None and city.inventory.streets is None:
            yield Fault("street_kmh needs a street layer", where, "name one under [layers]")


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
