"""``forestcycle revise``."""

import sys
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from forestcycle.cli.exit_codes import INTERRUPTED
from forestcycle.cli.options import (
    DAY,
    PATH,
    all_cores,
    plan_in_force_option,
    quiet_option,
    reporting,
    rounds_option,
    seed_option,
    settings_argument,
    time_limit_option,
)
from forestcycle.cli.show import show_table

if TYPE_CHECKING:
    from forestcycle.cycle import RevisedCity

MOST_SHOWN = 25


@click.command()
@settings_argument
@plan_in_force_option
@click.option(
    "--from",
    "from_day",
    type=DAY,
    default=None,
    metavar="YYYY-MM-DD",
    help="First day that can still be planned; the computer's date by default.",
)
@click.option(
    "--lost-day",
    "lost_days",
    type=(DAY, str),
    multiple=True,
    metavar="DATE CREW",
    help="A day on which a crew cannot work; may be given again.",
)
@click.option(
    "--crew-gone",
    "crews_gone",
    type=(str, DAY),
    multiple=True,
    metavar="CREW DATE",
    help="A crew that is gone from a day on; may be given again.",
)
@click.option(
    "--storm",
    "storms",
    type=(DAY, DAY),
    multiple=True,
    metavar="FIRST LAST",
    help="Days given to emergency work, both included; may be given again.",
)
@click.option(
    "--storm-crew",
    "storm_crews",
    multiple=True,
    metavar="CREW",
    help="A crew that does the emergency work; all of them by default.",
)
@click.option(
    "--locks",
    type=PATH,
    default=None,
    metavar="FILE",
    help="Table of visits that keep their day, crew or order; columns tree_id day crew order.",
)
@time_limit_option(6.0)
@rounds_option
@seed_option
@quiet_option
def revise(
    settings: Path,
    plan: Path | None,
    from_day: datetime | None,
    lost_days: tuple[tuple[datetime, str], ...],
    crews_gone: tuple[tuple[str, datetime], ...],
    storms: tuple[tuple[datetime, datetime], ...],
    storm_crews: tuple[str, ...],
    locks: Path | None,
    time_limit: float,
    rounds: int | None,
    seed: int,
    quiet: bool,
) -> None:
    """Bring the plan up to date, moving as little as pays.

    Reads the books and cycle.toml as they are now: crews, calendar, budgets and
    requests changed there count. A visit moves only where that gains more than
    the price in [revision]. The old plan is kept; 'forestcycle undo' brings it back.

    \b
    Examples:
      forestcycle revise cycle.toml --lost-day 2027-03-15 "Ground crew"
      forestcycle revise cycle.toml --storm 2027-03-15 2027-03-17
    """
    from forestcycle.cycle import open_city, revise_city
    from forestcycle.cycle.revision_facts import Facts, Storm

    facts = Facts(
        from_day=from_day.date() if from_day else date.today(),
        lost_days=tuple((day.date(), crew) for day, crew in lost_days),
        crews_gone=tuple((crew, day.date()) for crew, day in crews_gone),
        storms=tuple(Storm(first.date(), last.date(), storm_crews) for first, last in storms),
    )
    if storm_crews and not storms:
        raise click.UsageError("--storm-crew says who does the emergency work of a --storm")
    folder = plan or settings.parent / "plan"
    with reporting(quiet=quiet) as progress:
        city = open_city(settings, progress=progress)
        done = revise_city(
            city,
            folder,
            facts,
            locks=locks,
            time_limit=time_limit,
            rounds=rounds,
            seed=seed,
            workers=all_cores(),
            progress=progress,
        )
    show_table("The revision", ("figure", "value"), done.report.main_figures())
    changed = done.table[~done.table["change"].isin(["stayed", "done"])]
    if len(changed):
        shown = changed.head(MOST_SHOWN)
        first = "" if len(shown) == len(changed) else f", the first {len(shown)} of them"
        show_table(
            f"Changes: {len(changed):,}{first}",
            ("tree", "change", "from", "to", "why"),
            [
                (
                    row.tree_id,
                    row.change,
                    f"{row.from_day}\n{row.from_crew}".strip(),
                    f"{row.to_day}\n{row.to_crew}".strip(),
                    row.why,
                )
                for row in shown.itertuples()
            ],
        )
    _say_what_was_written(done, folder)
    if done.report.interrupted:
        click.echo("interrupted: this is the best revision found by then", err=True)
        sys.exit(INTERRUPTED)


def _say_what_was_written(done: "RevisedCity", folder: Path) -> None:
    if not done.written:
        click.echo("nothing to change: the plan stays as it is")
        return
    if done.summary is not None:
        verified = "yes" if done.summary.verified else "FAULTS FOUND"
        click.echo(f"checked independently: {verified}")
        for fault in done.summary.verification_faults:
            click.echo(f"fault: {fault}")
    click.echo(f"revision {done.change} -> {folder / 'revision.csv'}")
    click.echo(f"open {folder / 'index.html'}")
