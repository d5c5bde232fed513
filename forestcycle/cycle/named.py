"""Wards, funds, streets and trees that the settings name and the inventory does not have."""

from collections.abc import Iterator

from forestcycle.cycle.city import City
from forestcycle.errors import Fault, SettingsError, nearest_name
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
            yield Fault(f"no tree stands in ward {ward!r}", where, nearest_name(ward, known))


def _unknown_in_rules(city: City) -> Iterator[Fault]:
    settings = city.settings
    rules: list[tuple[str, TreeRule]] = [("hours", rule) for rule in settings.hours]
    rules += [("equipment", rule) for rule in settings.equipment]
    if not any(rule.streets or rule.tree_ids or rule.street_kmh for _, rule in rules):
        return
    streets, trees = _names(city, "street"), set(city.inventory.trees["tree_id"])
    for table, rule in rules:
        where = f"[[{table}]] {rule.name!r}"
        for street in rule.streets:
            if street not in streets:
                what = f"no tree stands in street {street!r}"
                yield Fault(what, where, nearest_name(street, streets))
        for tree in rule.tree_ids:
            if tree not in trees:
                yield Fault(f"there is no tree {tree!r}", where, "look the id up in the tree layer")
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
        Fault(
            f"no tree is paid from fund {fund!r}",
            f"budget.fund_cents.{fund}",
            nearest_name(fund, known),
        )
        for fund in city.settings.budget.fund_cents
        if fund not in known
    ]


def _names(city: City, column: str) -> list[str]:
    return sorted(set(city.inventory.trees[column]) - {""})
