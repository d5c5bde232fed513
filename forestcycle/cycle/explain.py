"""Everything known and decided about one tree."""

from difflib import get_close_matches
from pathlib import Path

from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.city import City
from forestcycle.errors import Fault, InventoryError
from forestcycle.practice import Statement
from forestcycle.practice import explain as explain_assessment
from forestcycle.publish.plan_folder import read_plan_folder


def explain_tree(
    city: City, tree_id: str, *, plan_folder: Path | str | None = None
) -> list[Statement]:
    """Take one tree's figures apart.

    Parameters
    ----------
    city : City
    tree_id : str
        The city's own id.
    plan_folder : Path or str, optional
        Add what this plan decided.

    Returns
    -------
    list of Statement
        Topic, statement, value, rule and source of each.

    Raises
    ------
    InventoryError
        If no usable tree has that id; says whether it was set aside and why.
    """
    known = city.inventory.trees["tree_id"].to_numpy()
    if tree_id not in known:
        raise InventoryError(_unknown_tree(city, tree_id))
    units = city.settings.publish.units
    statements = explain_assessment(city.inventory, assess_city(city), tree_id, units=units)
    if plan_folder is not None:
        statements += _decisions(Path(plan_folder), tree_id)
    return statements


def _unknown_tree(city: City, tree_id: str) -> list[Fault]:
    aside = city.inventory.set_aside
    rows = aside[(aside["tree_id"] == tree_id) & ~aside["used"]]
    if len(rows):
        return [
            Fault(
                f"tree {tree_id} was set aside: {row.fault} ({row.field} = {row.value})",
                f"{city.inventory.source}, row {row.row}",
                str(row.remedy),
            )
            for row in rows.itertuples()
        ]
    close = get_close_matches(tree_id, city.inventory.trees["tree_id"].tolist(), n=3)
    remedy = f"did you mean {', '.join(close)}?" if close else "look the id up in the tree layer"
    return [Fault(f"no tree {tree_id!r}", str(city.inventory.source), remedy)]


def _decisions(folder: Path, tree_id: str) -> list[Statement]:
    plan = read_plan_folder(folder)
    source = str(folder)
    stops = plan.stops[plan.stops["tree_id"] == tree_id]
    if len(stops):
        stop = stops.iloc[0]
        return [
            Statement("The plan", "visited on", f"{stop['date']:%Y-%m-%d}", stop["crew"], source),
            Statement("The plan", "stop", str(stop["stop_order"]), f"at {stop['arrive']}", source),
        ]
    trees = plan.trees[plan.trees["tree_id"].astype(str) == tree_id]
    if not len(trees):
        return [Statement("The plan", "not in this plan", "", "planned from other data", source)]
    tree = trees.iloc[0]
    reason = str(tree["reason"])
    return [Statement("The plan", "not visited", reason, str(tree["reason_text"]), source)]
