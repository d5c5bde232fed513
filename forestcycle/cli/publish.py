"""``forestcycle publish``."""

from pathlib import Path

import click

from forestcycle.cli.options import quiet_option, reporting


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--outlook",
    type=click.Path(path_type=Path),
    default=None,
    metavar="DIR",
    help="Folder of an outlook: the council report tells of the years ahead too.",
)
@quiet_option
def publish(folder: Path, outlook: Path | None, quiet: bool) -> None:
    """Write a plan's maps, crew lists, sheets and report again.

    FOLDER is what 'forestcycle plan' wrote.

    \b
    Example:
      forestcycle publish plan
      forestcycle publish plan --outlook outlook
    """
    from forestcycle.fieldwork.lock import locked
    from forestcycle.publish import publish as publish_folder

    with (
        reporting(quiet=quiet) as progress,
        locked(folder.absolute(), "the plan", progress=progress),
    ):
        publish_folder(folder, outlook=outlook, progress=progress)
    click.echo(f"open {folder / 'index.html'}")
