"""``forestcycle calibrate``."""

import os
from datetime import datetime
from pathlib import Path

import click

from forestcycle.cli.options import (
    DAY,
    PATH,
    quiet_option,
    reporting,
    seed_option,
    settings_argument,
)
from forestcycle.cli.show import show_table


@click.command()
@settings_argument
@click.option(
    "--out",
    type=PATH,
    default=None,
    metavar="DIR",
    help="Folder to write into; calibration beside cycle.toml by default.",
)
@click.option(
    "--since",
    type=DAY,
    default=None,
    metavar="YYYY-MM-DD",
    help="Only visits from this day on.",
)
@seed_option
@quiet_option
def calibrate(
    settings: Path, out: Path | None, since: datetime | None, seed: int, quiet: bool
) -> None:
    """Plan against actual by crew and age class, and a refitted labour table.

    Nothing is put in force: point practice.tables at the folder if you agree.

    \b
    Example:
      forestcycle calibrate cycle.toml --out calibration
    """
    from forestcycle.cycle import calibrate_city, open_city

    folder = out or settings.parent / "calibration"
    with reporting(quiet=quiet) as progress:
        city = open_city(settings, progress=progress)
        day = since.date() if since else None
        done = calibrate_city(city, folder, since=day, seed=seed, progress=progress)
    shown = done.table[done.table["factor"].notna()].drop(columns="data")
    if len(shown):
        header = [str(name).replace("_", " ") for name in shown.columns]
        show_table("Plan against actual", header, shown.itertuples(index=False, name=None))
    every = folder / "calibration.csv"
    if few := len(done.table) - len(shown):
        click.echo(f"{few:,} groups have too few returns for a factor -> {every}")
    if done.proposed is None:
        click.echo(f"too little data for a labour table -> {every}")
        return
    click.echo(f"proposed, not in force -> {folder / 'labour.csv'}")
    if len(done.apart):
        rows = done.apart[["crew", "factor"]].itertuples(index=False, name=None)
        crews = ", ".join(f"{crew} {factor:.2f}" for crew, factor in rows)
        click.echo(f"it takes all crews as one, and these differ: {crews}")
    if done.in_force is not None:
        click.echo(f"to put it in force: copy it into {done.in_force}")
        return
    named = os.path.relpath(folder, settings.parent).replace("\\", "/")
    click.echo(f"to put it in force, in {settings.name} under [practice]: tables = {named!r}")
