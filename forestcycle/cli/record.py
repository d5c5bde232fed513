"""``forestcycle record``."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

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

if TYPE_CHECKING:
    import pandas as pd

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
@click.option(
    "--day-first/--month-first",
    default=None,
    help="How dates such as 3/4/2027 are read; by default as the file's other dates say.",
)
@click.option(
    "--refused",
    "sheet",
    type=PATH,
    default=None,
    metavar="FILE",
    help="Write all refusals and warnings as a spreadsheet (CSV) too.",
)
@quiet_option
def record(
    settings: Path,
    returns: Path,
    plan: Path | None,
    today: datetime | None,
    day_first: bool | None,
    sheet: Path | None,
    quiet: bool,
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
        done = record_returns(
            city,
            returns,
            plan=plan,
            today=day,
            day_first=day_first,
            sheet=sheet,
            progress=progress,
        )
    checked = done.checked
    _show("Refused", checked.refused, f"table refused of {done.books}, or --refused FILE")
    _show("Warnings", checked.warnings, "--refused FILE")
    seen = f" with {len(done.defects):,} defects seen" if len(done.defects) else ""
    click.echo(
        f"{len(checked.new):,} visits recorded{seen}, {checked.known:,} known already, "
        f"{len(checked.refused):,} returns refused -> {done.books}"
        f"{'' if done.written else ' (unchanged)'}"
    )
    assessed = city.settings.city.assessment_day
    if (checked.new["visited_on"].dt.date > assessed).any():
        click.echo(f"the assessment counts visits up to {assessed}: move city.assessed_on forward")


def _show(title: str, table: pd.DataFrame, all_of_them: str) -> None:
    """Print the first rows of a table of faults, and where the others are."""
    if not len(table):
        return
    shown = table.head(MOST_SHOWN)
    days = shown["visited_on"].dt.strftime("%Y-%m-%d").fillna("")
    rows = shown.assign(visited_on=days).itertuples(index=False, name=None)
    header = ("row", "tree", "date", "crew", "what", "remedy")
    show_table(f"{title}: {len(table):,} (row 1 is the first below the header)", header, rows)
    if more := len(table) - len(shown):
        click.echo(f"{more:,} more -> {all_of_them}\n")
