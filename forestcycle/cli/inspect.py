"""``forestcycle inspect``."""

from pathlib import Path

import click

from forestcycle.cli.options import quiet_option, reporting
from forestcycle.cli.show import show_table


@click.command()
@click.argument("source", metavar="FILE|ADDRESS|cycle.toml", type=click.Path())
@click.option("--layer", default=None, help="Layer or table of trees, where there are several.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=None,
    metavar="DIR",
    help="Where to write cycle.toml and set_aside.csv; the current folder by default.",
)
@click.option("--overwrite", is_flag=True, help="Replace a cycle.toml that is there already.")
@quiet_option
def inspect(source: str, layer: str | None, out: Path | None, overwrite: bool, quiet: bool) -> None:
    """Say what an inventory holds, what was set aside and why.

    Given an inventory, proposes field mapping and units and writes a
    commented cycle.toml. Given a cycle.toml, checks the inventory it names.

    \b
    Examples:
      forestcycle inspect trees.gpkg --layer street_trees
      forestcycle inspect postgresql://forester@db.example/city --layer trees
      forestcycle inspect cycle.toml
    """
    from forestcycle.cycle import inspect_source

    with reporting(quiet=quiet) as progress:
        result = inspect_source(
            source, layer=layer, out=out, overwrite=overwrite, progress=progress
        )
    for table in result.tables:
        show_table(table.title, table.header, table.rows)
    for line in result.lines:
        click.echo(line)
