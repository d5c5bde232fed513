"""``forestcycle send``."""

from pathlib import Path

import click

from forestcycle.cli.options import PATH, quiet_option, reporting, settings_argument
from forestcycle.cli.show import show_table


@click.command()
@settings_argument
@click.argument("plan", metavar="[PLAN]", required=False, type=PATH)
@quiet_option
def send(settings: Path, plan: Path | None, quiet: bool) -> None:
    """Send a plan and the recorded visits into the city's database.

    Everything goes into tables of forestcycle's own, in one transaction: all
    of it or nothing. Without PLAN, the recorded visits alone. The password
    comes from PGPASSWORD or ~/.pgpass. See docs/database.md.

    \b
    Example:
      forestcycle send cycle.toml plan
    """
    from forestcycle.cycle.send import send_results

    with reporting(quiet=quiet) as progress:
        sent = send_results(settings, plan, progress=progress)
    rows = [(f"{sent.schema}.{name}", count) for name, count in sent.rows.items()]
    show_table("Sent", ("table", "rows"), rows)
    click.echo(f"in one transaction -> {sent.database}")
