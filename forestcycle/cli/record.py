"""``forestcycle record``."""

from datetime import datetime
from pathlib import Path

import click

from forestcycle.cli.options import (
    DAY,
    PATH,
    plan_option,
    quiet_option,
    reporting,
    settings_argument,
)
from forestcycle.cli.show import show_table

MOST_SHOWN = 20


@click.command()
@settings_argument
@click.argument("returns", metavar="RETURNS", type=PATH)
@plan_option("The plan's folder: planned minutes and doses where RETURNS has none.")
@click.option(
    "--today",
    type=DAY,
    default=None,
    metavar="YYYY-MM-DD",
    help="Refuse visits after this day; the computer's date by default.",
)
@quiet_option
def record(
    settings: Path, returns: Path, plan: Path | None, today: datetime | None, quiet: bool
) -> None:
    """Record what the crews did; the same file twice changes nothing.

    \b
    Example:
      forestcycle record cycle.toml returned.csv --plan plan
    """
    from forestcycle.cycle import open_city, record_returns

    with reporting(quiet=quiet) as progress:
        city = open_city(settings, progress=progress)
        day = today.date() if today else None
        done = record_returns(city, returns, plan=plan, today=day, progress=progress)
    checked = done.checked
    for title, table in (("Refused", checked.refused), ("Warnings", checked.warnings)):
        if len(table):
            shown = table.head(MOST_SHOWN)
            days = shown["visited_on"].dt.strftime("%Y-%m-%d").fillna("")
            rows = shown.assign(visited_on=days).itertuples(index=False, name=None)
            header = ("row", "tree", "date", "crew", "what", "remedy")
            show_table(f"{title}: {len(table):,}", header, rows)
    seen = f" with {len(done.defects):,} defects seen" if len(done.defects) else ""
    click.echo(
        f"{len(checked.new):,} visits recorded{seen}, {checked.known:,} known already, "
        f"{checked.refused['row'].nunique():,} returns refused -> {done.books}"
        f"{'' if done.written else ' (unchanged)'}"
    )
