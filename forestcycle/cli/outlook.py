"""``forestcycle outlook``."""

import sys
from pathlib import Path

import click

from forestcycle.cli.exit_codes import INTERRUPTED
from forestcycle.cli.options import (
    cluster_option,
    out_option,
    plan_option,
    quiet_option,
    reporting,
    seed_option,
    settings_argument,
    workers_option,
)
from forestcycle.cli.show import show_table


@click.command()
@settings_argument
@click.option(
    "--years",
    type=int,
    metavar="NUMBER",
    default=10,
    show_default=True,
    help="How many years ahead, 1 to 30; the first is the plan's.",
)
@click.option(
    "--budgets",
    default="80%,100%,120%",
    show_default=True,
    metavar="LIST",
    help="Shares of the present budget (80%), money a year in whole units of the currency "
    "(250000), crews (4 crews), or year by year (100%/70%/100%), separated by commas.",
)
@plan_option("Folder of this year's plan: its driving is taken over instead of an estimate.")
@out_option("Folder for outlook.html, the tables and outlook.json.")
@click.option(
    "--target",
    "targets",
    multiple=True,
    metavar="TEXT",
    help="Find the least budget for it, such as 'young on recall 90% by 5'; may be repeated.",
)
@click.option(
    "--draws",
    type=click.IntRange(min=0),
    metavar="NUMBER",
    default=0,
    show_default=True,
    help="Play this many draws of growth, faults, crew time and storms, and show intervals.",
)
@click.option(
    "--cycles", is_flag=True, help="Compare pruning cycles of 1 to 12 years for every tree alike."
)
@seed_option
@workers_option
@cluster_option
@quiet_option
def outlook(
    settings: Path,
    years: int,
    budgets: str,
    plan: Path | None,
    out: Path,
    targets: tuple[str, ...],
    draws: int,
    cycles: bool,
    seed: int,
    workers: int | None,
    cluster: str | None,
    quiet: bool,
) -> None:
    """Look years ahead: what each budget buys, and what waiting costs.

    For every budget it chooses the visits of all years together, with a
    proven bound, and follows three habits with the same money: a fixed
    rotation of the wards, the worst first, the young first. All figures are
    expected values under the practice tables; with --draws, intervals say how
    differently it may turn out.

    \b
    Examples:
      forestcycle outlook cycle.toml --years 10 --budgets 80%,100%,120% --plan plan --out outlook
      forestcycle outlook cycle.toml --draws 100 --cycles --out outlook
    """
    from forestcycle.cycle import open_city
    from forestcycle.cycle.outlook_run import write_outlook_of
    from forestcycle.cycle.outlook_words import HEADER, summary_rows
    from forestcycle.publish.outlook_words import least_budget

    with reporting(quiet=quiet) as progress:
        city = open_city(settings, progress=progress)
        found, figures = write_outlook_of(
            city,
            out,
            years=years,
            budgets=budgets,
            plan=plan,
            targets=targets,
            draws=draws,
            cycles=cycles,
            seed=seed,
            workers=workers,
            cluster=cluster,
            progress=progress,
        )
    title = f"The next {years} years, money in {city.settings.city.currency}"
    show_table(title, HEADER, summary_rows(figures.summary))
    for sentence in least_budget(figures):
        click.echo(sentence)
    click.echo(f"open {out / 'outlook.html'}")
    if found.draws < draws:
        click.echo(
            f"interrupted after {found.draws} of {draws} draws; "
            "the same command again plays the others",
            err=True,
        )
        sys.exit(INTERRUPTED)
