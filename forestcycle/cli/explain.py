"""``forestcycle explain``."""

from pathlib import Path

import click

from forestcycle.cli.options import plan_option, settings_argument
from forestcycle.cli.show import show_table


@click.command()
@settings_argument
@click.argument("tree_id")
@plan_option("A plan's folder: say also when the tree is visited, or why it is not.")
def explain(settings: Path, tree_id: str, plan: Path | None) -> None:
    """Everything known and decided about one tree, with rule and source.

    \b
    Example:
      forestcycle explain cycle.toml 10482 --plan plan
    """
    from forestcycle.cycle import explain_tree, open_city

    city = open_city(settings)
    statements = explain_tree(city, tree_id, plan_folder=plan)
    for topic in dict.fromkeys(statement.topic for statement in statements):
        rows = [
            (statement.statement, statement.value, statement.rule, statement.source)
            for statement in statements
            if statement.topic == topic
        ]
        show_table(topic, ("what", "value", "rule", "source"), rows)
