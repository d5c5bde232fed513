"""``forestcycle publish``."""

from pathlib import Path

import click

from forestcycle.cli.options import PATH, all_cores, quiet_option, reporting


@click.command()
@click.argument("folder", type=PATH)
@click.option(
    "--outlook",
    type=PATH,
    default=None,
    metavar="DIR",
    help="Folder of an outlook: the council report tells of the years ahead too, and goes on "
    "to until another one is given.",
)
@click.option(
    "--no-outlook", is_flag=True, help="Leave the years ahead out again, and drop what was kept."
)
@quiet_option
def publish(folder: Path, outlook: Path | None, no_outlook: bool, quiet: bool) -> None:
    """Write a plan's maps, crew lists, sheets and report again.

    FOLDER is what 'forestcycle plan' wrote. It keeps a copy of the outlook in years_ahead,
    for the next time the plan is published or revised.

    \b
    Examples:
      forestcycle publish plan
      forestcycle publish plan --outlook outlook
      forestcycle publish plan --no-outlook
    """
    if outlook is not None and no_outlook:
        raise click.UsageError("--outlook and --no-outlook exclude each other")
    from forestcycle.fieldwork.lock import locked
    from forestcycle.publish import publish as publish_folder
    from forestcycle.publish.outlook_folder import KEPT, kept_outlook

    with (
        reporting(quiet=quiet) as progress,
        locked(folder.absolute(), "the plan", progress=progress),
    ):
        publish_folder(
            folder,
            outlook=outlook,
            without_outlook=no_outlook,
            workers=all_cores(),
            progress=progress,
        )
    if outlook is None and kept_outlook(folder):
        click.echo(
            f"the report tells of the years ahead as kept in {folder / KEPT}; "
            "--outlook DIR gives others, --no-outlook none"
        )
    click.echo(f"open {folder / 'index.html'}")
