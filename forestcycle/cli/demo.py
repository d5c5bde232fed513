"""``forestcycle demo``."""

from pathlib import Path

import click

from forestcycle.cli.options import PATH, quiet_option, reporting, seed_option, time_limit_option
from forestcycle.cli.show import show_table


@click.command()
@click.argument("folder", metavar="OUT", type=PATH)
@click.option(
    "--trees",
    type=click.IntRange(min=200),
    metavar="NUMBER",
    default=6000,
    show_default=True,
    help="Size of the city; crews and streets grow with it.",
)
@time_limit_option(None, told="; by default what takes a minute on two cores")
@seed_option
@quiet_option
def demo(folder: Path, trees: int, time_limit: float | None, seed: int, quiet: bool) -> None:
    """Make the invented sample city, plan its year and publish it.

    \b
    Example:
      forestcycle demo demo
    """
    from forestcycle.cycle import run_demo

    with reporting(quiet=quiet) as progress:
        summary = run_demo(folder, trees=trees, time_limit=time_limit, seed=seed, progress=progress)
    show_table("The plan", ("figure", "value"), summary.main_figures())
    click.echo(f"the city:     {folder / 'city' / 'city.gpkg'}")
    click.echo(f"its settings: {folder / 'city' / 'cycle.toml'}")
    click.echo(f"the plan:     {folder / 'plan' / 'index.html'}   <- open this in a browser")
