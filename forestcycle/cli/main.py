"""The command ``forestcycle``: its commands, and the one place where errors end."""

import gc
import os
import sys
import warnings
from collections.abc import Sequence
from importlib import import_module
from pkgutil import iter_modules

import click

from forestcycle import cli
from forestcycle.cli.exit_codes import BAD_INPUT, INTERRUPTED, OWN_FAULT, exit_codes_in_words
from forestcycle.errors import FaultList
from forestcycle.version import VERSION

SHOW_TRACEBACK = "FORESTCYCLE_TRACEBACK"
COLLECT_SELDOM = (100_000, 50, 50)
"""Tables of a large city are many objects without cycles: looking for cycles as often as
Python does by default took a twelfth of a revision of 100,000 trees."""


@click.group(context_settings={"help_option_names": ["-h", "--help"]}, epilog=exit_codes_in_words())
@click.version_option(VERSION, prog_name="forestcycle")
def commands() -> None:
    """Plan a city's structural pruning: inventory in, crew-days out.

    \b
    A first plan:
      forestcycle inspect trees.gpkg      writes cycle.toml and says what it found
      forestcycle plan cycle.toml --out plan
      open plan/index.html
    """


for module in iter_modules(cli.__path__):
    # a command is a file of this folder that holds one of its own name
    command = getattr(import_module(f"{cli.__name__}.{module.name}"), module.name, None)
    if isinstance(command, click.Command):
        commands.add_command(command)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and turn every error into one line and an exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        Words after the program's name; those of the process by default.
    """
    gc.set_threshold(*COLLECT_SELDOM)
    try:
        with warnings.catch_warnings():
            # GDAL's remarks on a file; what matters of them is in the faults
            warnings.filterwarnings("ignore", category=RuntimeWarning, module="pyogrio")
            commands.main(args=arguments, prog_name="forestcycle", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (KeyboardInterrupt, click.Abort):
        click.echo("interrupted; nothing was left half-written", err=True)
        sys.exit(INTERRUPTED)
    except FaultList as error:
        for line in str(error).splitlines():
            click.echo(line, err=True)
        sys.exit(BAD_INPUT)
    except MemoryError:
        click.echo("out of memory -> plan fewer wards at a time, or on a larger machine", err=True)
        sys.exit(BAD_INPUT)
    except Exception as error:
        if os.environ.get(SHOW_TRACEBACK):
            raise
        click.echo(
            f"forestcycle failed: {type(error).__name__}: {error} -> this is a fault of the "
            f"program; please report it with the output under {SHOW_TRACEBACK}=1",
            err=True,
        )
        sys.exit(OWN_FAULT)
