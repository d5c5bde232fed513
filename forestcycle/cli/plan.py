"""``forestcycle plan``."""

import sys
from contextlib import ExitStack
from pathlib import Path

import click

from forestcycle.cli.exit_codes import INTERRUPTED
from forestcycle.cli.options import (
    all_cores,
    cluster_option,
    out_option,
    quiet_option,
    reporting,
    rounds_option,
    seed_option,
    settings_argument,
    time_limit_option,
)
from forestcycle.cli.show import show_table


@click.command()
@settings_argument
@out_option("Folder for the plan; an older plan there is replaced once the new one is whole.")
@time_limit_option(
    None, told="; by default 3 for every 1,000 trees that could be visited, 60 at least"
)
@rounds_option
@seed_option
@cluster_option
@quiet_option
def plan(
    settings: Path,
    out: Path,
    time_limit: float | None,
    rounds: int | None,
    seed: int,
    cluster: str | None,
    quiet: bool,
) -> None:
    """Pack the year's crew-days and publish them.

    Ctrl-C once ends the packing and keeps the best plan so far.

    \b
    Example:
      forestcycle plan cycle.toml --out plan --time-limit 120 --seed 1
    """
    from forestcycle.cycle import open_city, plan_city
    from forestcycle.parallel import Cluster

    with reporting(quiet=quiet) as progress, ExitStack() as stack:
        executor = stack.enter_context(Cluster(cluster)) if cluster else None
        city = open_city(settings, progress=progress)
        summary = plan_city(
            city,
            out,
            time_limit=time_limit,
            rounds=rounds,
            seed=seed,
            executor=executor,
            workers=all_cores(),
            progress=progress,
        )
    show_table("The plan", ("figure", "value"), summary.main_figures())
    if summary.unplanned_reasons:
        show_table("Trees left out", ("reason", "trees"), summary.reason_counts())
    click.echo(f"open {out / 'index.html'}")
    if summary.interrupted:
        click.echo("interrupted: this is the best plan found by then", err=True)
        sys.exit(INTERRUPTED)
