"""``forestcycle undo``."""

from pathlib import Path

import click

from forestcycle.cli.options import plan_in_force_option, quiet_option, reporting, settings_argument


@click.command()
@settings_argument
@plan_in_force_option
@quiet_option
def undo(settings: Path, plan: Path | None, quiet: bool) -> None:
    """Take back the last record or revision, whichever came later.

    Books and plan say that it was undone; said again, the change before goes too.

    \b
    Example:
      forestcycle undo cycle.toml
    """
    from forestcycle.cycle import Undone, undo_last

    with reporting(quiet=quiet) as progress:
        done = undo_last(settings, plan or settings.parent / "plan", progress=progress)
    if isinstance(done, Undone):
        click.echo(
            f"undone: change {done.change} of {done.at}, {done.source}, "
            f"{done.visits:,} visits -> {done.books}"
        )
        return
    click.echo(
        f"undone: revision {done.change} of {done.at} from {done.from_day} on, "
        f"{done.moved:,} visits moved -> {done.plan}"
    )
