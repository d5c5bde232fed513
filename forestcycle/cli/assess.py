"""``forestcycle assess``."""

from pathlib import Path

import click

from forestcycle.cli.options import PATH, quiet_option, reporting, settings_argument
from forestcycle.cli.show import show_table


@click.command()
@settings_argument
@click.option(
    "--out",
    type=PATH,
    default=None,
    metavar="FILE",
    help="GeoPackage to write; assessment.gpkg beside cycle.toml by default.",
)
@quiet_option
def assess(settings: Path, out: Path | None, quiet: bool) -> None:
    """Age class, defects, priority, dose and recall of every tree.

    \b
    Example:
      forestcycle assess cycle.toml --out assessment.gpkg
    """
    from forestcycle.cycle import assess_city, count_states, open_city, write_assessment

    with reporting(quiet=quiet) as progress:
        city = open_city(settings, progress=progress)
        assessment = assess_city(city, progress=progress)
        path = out or settings.parent / "assessment.gpkg"
        write_assessment(city, assessment, path)
    counts = count_states(assessment)
    show_table("Trees by age class and recall", counts.header, counts.rows)
    click.echo(f"{len(assessment.trees):,} trees assessed -> {path}")
