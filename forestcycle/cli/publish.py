"""``forestcycle publish``."""

from pathlib import Path

import click

from forestcycle.cli.options import quiet_option, reporting


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@quiet_option
def publish(folder: Path, quiet: bool) -> None:
    """Write a plan's maps, crew lists, sheets and report again.

    FOLDER is what 'forestcycle plan' wrote.

    \b
    Example:
      forestcycle publish plan
    """
    from forestcycle.publish import publish as publish_folder

    with reporting(quiet=quiet) as progress:
        publish_folder(folder, progress=progress)
    click.echo(f"open {folder / 'index.html'}")
