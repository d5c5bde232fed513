"""``forestcycle compare``."""

import sys
from pathlib import Path

import click

from forestcycle.cli.exit_codes import INTERRUPTED
from forestcycle.cli.options import (
    PATH,
    cluster_option,
    out_option,
    quiet_option,
    reporting,
    rounds_option,
    seed_option,
    settings_argument,
    time_limit_option,
    workers_option,
)
from forestcycle.cli.show import show_table


@click.command()
@settings_argument
@click.argument("scenarios", metavar="scenarios.csv", type=PATH)
@out_option("Folder for scenarios.csv and scenarios.svg, and for results until all are there.")
@time_limit_option(30.0)
@rounds_option
@seed_option
@workers_option
@cluster_option
@quiet_option
def compare(
    settings: Path,
    scenarios: Path,
    out: Path,
    time_limit: float,
    rounds: int | None,
    seed: int,
    workers: int | None,
    cluster: str | None,
    quiet: bool,
) -> None:
    """Plan the year under each of many scenarios and set them side by side.

    scenarios.csv has a line per scenario: the column "name", and a column for
    each key of the settings that some scenario changes, in the tables budget,
    calendar, crews and plan. An empty cell changes nothing, "none" takes a
    limit away, and crews.NAME.count says how many crews of that kind there are.
    The time limit holds for each scenario. Ctrl-C keeps the results so far; the
    same command again does the others.

    \b
    Example of scenarios.csv:
      name,budget.year_cents,crews.Line crew.count
      as it is,,
      a fifth less,6800000,
      one line crew more,,2

    \b
    Example:
      forestcycle compare cycle.toml scenarios.csv --out scenarios-2027
    """
    from forestcycle.cycle import compare_scenarios, open_city
    from forestcycle.cycle.compare import HEADER
    from forestcycle.cycle.scenarios import read_scenarios

    with reporting(quiet=quiet) as progress:
        city = open_city(settings, progress=progress)
        found = compare_scenarios(
            city,
            read_scenarios(scenarios, city.settings),
            out,
            time_limit=time_limit,
            rounds=rounds,
            seed=seed,
            workers=workers,
            cluster=cluster,
            progress=progress,
        )
    show_table(f"Scenarios, cost in {city.settings.city.currency}", HEADER, found.main_figures())
    if found.without_plan():
        show_table("No plan", ("scenario", "why"), found.without_plan())
    if found.not_packed():
        starved = (f"{name} ({empty:,} of {all_:,})" for name, empty, all_ in found.not_packed())
        click.echo(
            f"too little time to pack all crew-days, these stay empty: {', '.join(starved)} "
            "-> give more --time-limit",
            err=True,
        )
    if found.far_from_best():
        click.echo(
            f"gap too wide to compare: {', '.join(found.far_from_best())} "
            "-> more --time-limit may narrow it",
            err=True,
        )
    times = ", ".join(f"{seconds:,.0f} with {workers}" for workers, seconds in found.forecast())
    click.echo(f"seconds for {found.scenarios} scenarios by workers, from those measured: {times}")
    click.echo(f"open {out / 'scenarios.svg'}; all figures: {out / 'scenarios.csv'}")
    if found.interrupted:
        click.echo(
            f"interrupted after {len(found.found)} of {found.scenarios} scenarios; "
            "the same command again does the others",
            err=True,
        )
        sys.exit(INTERRUPTED)
