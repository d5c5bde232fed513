"""``forestcycle undo``."""

from pathlib import Path

import click

from forestcycle.cli.options import settings_argument


@click.command()
@settings_argument
def undo(settings: Path) -> None:
    """Take back the last record of returns; the books say that it was undone.

    \b
    Example:
      forestcycle undo cycle.toml
    """
    from forestcycle.cycle import undo_last_record

    done = undo_last_record(settings)
    click.echo(
        f"undone: change {done.change} of {done.at}, {done.source}, "
        f"{done.visits:,} visits -> {done.books}"
    )
