"""The main job on the invented sample city."""

from pathlib import Path

import sample_city
from forestcycle.cycle.city import open_city
from forestcycle.cycle.plan import plan_city
from forestcycle.cycle.summary import Summary
from forestcycle.inventory.atomic import writing
from forestcycle.progress import Progress, Step, silent

ROUNDS = 8
"""A minute or so on two cores, to a gap of 3.6 %."""


def run_demo(
    folder: Path | str,
    *,
    trees: int = 6000,
    time_limit: float | None = None,
    seed: int = 1,
    progress: Progress = silent,
) -> Summary:
    """Make the sample city, plan its year, publish it.

    Parameters
    ----------
    folder : Path or str
        Gets the folders ``city`` and ``plan``.
    trees : int
        Size of the city.
    time_limit : float, optional
        Seconds of packing; by default the work is limited to ``ROUNDS`` instead, so that
        the plan is the same on any machine.
    seed : int
        Of the city and of the search.
    progress : Progress, optional

    Returns
    -------
    Summary

    Raises
    ------
    StoreError
        The folder cannot be written to.
    """
    folder = Path(folder)
    progress(Step(f"making a city of {trees:,} trees"))
    with writing(folder):
        (folder / "city").mkdir(parents=True, exist_ok=True)
    sample_city.make(folder / "city", trees=trees, seed=seed)
    city = open_city(folder / "city" / "cycle.toml", progress=progress)
    return plan_city(
        city,
        folder / "plan",
        time_limit=time_limit,
        rounds=ROUNDS if time_limit is None else None,
        seed=seed,
        progress=progress,
    )
