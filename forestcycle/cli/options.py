"""Arguments and options that several commands share."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from forestcycle.progress import Progress, ProgressLine, silent

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]

PATH = click.Path(path_type=Path)
DAY = click.DateTime(["%Y-%m-%d"])

settings_argument: Decorator = click.argument("settings", metavar="cycle.toml", type=PATH)
quiet_option: Decorator = click.option("--quiet", is_flag=True, help="Show no progress.")


def plan_option(told: str) -> Decorator:
    """Make the option ``--plan``, a plan's folder; the help tells what for."""
    return click.option("--plan", type=PATH, default=None, metavar="DIR", help=told)


def out_option(told: str) -> Decorator:
    """Make the option ``--out``, a folder that must be named; the help tells what it gets."""
    return click.option("--out", type=PATH, required=True, metavar="DIR", help=told)


plan_in_force_option = plan_option("The plan's folder; 'plan' beside the settings by default.")


def time_limit_option(seconds: float | None, *, told: str = "") -> Decorator:
    """Make the option ``--time-limit`` with a default of its own.

    Parameters
    ----------
    seconds : float or None
        None where it depends on the city.
    told : str, optional
        What the help says of a default that depends on the city.

    Returns
    -------
    callable
        To decorate a command.
    """
    return click.option(
        "--time-limit",
        type=click.FloatRange(min=1),
        default=seconds,
        show_default=not told,
        metavar="SECONDS",
        help=f"How long to pack{told}. More time, a better plan.",
    )


rounds_option: Decorator = click.option(
    "--rounds",
    type=click.IntRange(min=1),
    metavar="NUMBER",
    default=None,
    help="Limit the work instead of the clock: the same input and seed then give the same plan. "
    "Twelve rounds are thorough; each takes about a sixth of a second for a crew-day.",
)
seed_option: Decorator = click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    metavar="NUMBER",
    help="Seed of the search.",
)

workers_option: Decorator = click.option(
    "--workers",
    type=click.IntRange(min=1),
    metavar="NUMBER",
    default=None,
    help="Processes on this machine; one per core by default.",
)
cluster_option: Decorator = click.option(
    "--cluster",
    default=None,
    metavar="ADDRESS",
    help="Work on a Dask cluster that is there already, such as tcp://10.0.0.5:8786.",
)


def all_cores() -> int:
    """Count the cores of this machine, for work that a command shares among processes."""
    return os.cpu_count() or 1


@contextmanager
def reporting(*, quiet: bool) -> Iterator[Progress]:
    """Give a progress reporter and end its line whatever happens."""
    if quiet:
        yield silent
        return
    line = ProgressLine()
    try:
        yield line
    finally:
        line.close()
