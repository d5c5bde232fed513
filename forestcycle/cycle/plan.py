"""Plan a city's year and write it down."""

import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.city import City
from forestcycle.cycle.folder import replacing_folder
from forestcycle.cycle.layers import plan_layers
from forestcycle.cycle.named import check_names
from forestcycle.cycle.outcome import Outcome
from forestcycle.cycle.summarise import summarise
from forestcycle.cycle.summary import Summary
from forestcycle.cycle.written_plan import write_verified
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.parallel import Executor
from forestcycle.practice import Assessment
from forestcycle.progress import Progress, Step, silent
from forestcycle.publish import publish
from forestcycle.publish.plan_folder import SUMMARY_FILE
from forestcycle.schedule import (
    build_problem,
    crew_calendar,
    installed_generators,
    reasons,
    solve,
    timetable,
)
from forestcycle.schedule.problem import IntArray
from forestcycle.travel import Travel, build_travel
from forestcycle.travel.remembered import RememberedDrives

LEAST_SECONDS = 60.0
SECONDS_PER_TREE = 0.003


def plan_city(
    city: City,
    out: Path | str,
    *,
    time_limit: float | None = None,
    rounds: int | None = None,
    seed: int = 1,
    executor: Executor | None = None,
    workers: int = 1,
    progress: Progress = silent,
) -> Summary:
    """Assess, pack, verify, write and publish the year's crew-days.

    Parameters
    ----------
    city : City
    out : Path or str
        Folder for the plan; an older plan there is replaced as a whole.
    time_limit : float, optional
        Seconds of packing; :func:`usual_seconds` by default.
    rounds : int, optional
        Limit the work instead; the plan then depends on input and seed alone.
    seed : int
        Of the search.
    executor : Executor, optional
        Who packs territories, such as a cluster: threads by default.
    workers : int
        Processes that draw sheets, where there are many. More than one needs the guard
        ``if __name__ == "__main__"`` in a script.
    progress : Progress, optional

    Returns
    -------
    Summary
        As written to ``summary.json``.

    Raises
    ------
    PlanError
        If no plan exists under the settings.
    StoreError
        If the folder cannot be written to; an older plan is then as it was.
    """
    started = time.monotonic()
    with replacing_folder(Path(out), progress=progress) as folder:
        progress(Step("assessing trees"))
        assessment = assess_city(city, progress=progress)
        outcome = pack_year(
            city,
            assessment,
            time_limit=time_limit,
            rounds=rounds,
            seed=seed,
            executor=executor,
            progress=progress,
        )
        summary = write_plan(outcome, folder, progress=progress)
        publish(folder, workers=workers, progress=progress)
        summary = replace(summary, seconds=round(time.monotonic() - started, 1))
        write_text_atomically(folder / SUMMARY_FILE, summary.to_json())
    return summary


def usual_seconds(trees: int) -> float:
    """Seconds of packing after which more of them gain little.

    Parameters
    ----------
    trees : int
        That could be visited in the year.

    Returns
    -------
    float
        60 for up to 20,000 trees, 3 for every 1,000 of more.
    """
    return max(LEAST_SECONDS, SECONDS_PER_TREE * trees)


def write_plan(outcome: Outcome, folder: Path, *, progress: Progress = silent) -> Summary:
    """Write ``plan.gpkg`` and ``summary.json``, and have the verifier read them.

    Parameters
    ----------
    outcome : Outcome
    folder : Path
        Is there already.
    progress : Progress, optional

    Returns
    -------
    Summary
        As written; ``seconds`` are those of the packing.
    """
    progress(Step("writing the plan"))
    layers = plan_layers(outcome)
    summary = summarise(outcome, layers["crew_days"])
    return write_verified(folder, layers, summary, progress=progress)


def pack_year(
    city: City,
    assessment: Assessment,
    *,
    time_limit: float | None = None,
    rounds: int | None = None,
    seed: int = 1,
    executor: Executor | None = None,
    progress: Progress = silent,
) -> Outcome:
    """Pack the year's crew-days without writing anything.

    Parameters
    ----------
    city : City
    assessment : Assessment
    time_limit, rounds, seed, executor, progress
        As for :func:`plan_city`.

    Returns
    -------
    Outcome
    """
    settings, inventory = city.settings, city.inventory
    check_names(city)
    generators = installed_generators(settings.plan.candidates)
    progress(Step("travel times"))
    travel, place_of_tree = travel_of(city)
    problem, ineligible = build_problem(inventory, assessment, settings, travel, place_of_tree)
    seconds = usual_seconds(problem.trees) if time_limit is None else time_limit
    limit: dict[str, Any] = {"seconds": seconds} if rounds is None else {"rounds": rounds}
    names = inventory.trees["tree_id"].tolist()
    plan = solve(
        problem,
        seed=seed,
        executor=executor,
        generators=generators,
        tree_ids=names,
        progress=progress,
        **limit,
    )
    # Reasons and timetable ask for the same legs again and again.
    asked = replace(problem, travel=RememberedDrives(travel, whole_days=False))
    reason, reason_text = reasons(asked, plan, ineligible, inventory, assessment, settings)
    return Outcome(
        city=city,
        assessment=assessment,
        travel=travel,
        calendar=crew_calendar(settings),
        problem=problem,
        plan=plan,
        timetable=timetable(asked, plan),
        reason=reason,
        reason_text=reason_text,
    )


def travel_of(city: City) -> tuple[Travel, IntArray]:
    """Work out the travel network of a city.

    Parameters
    ----------
    city : City

    Returns
    -------
    travel : Travel
    place_of_tree : (n,) int64
        Travel node of each inventory tree.
    """
    trees, depots = city.inventory.trees.geometry, city.inventory.depots
    depot_x = trees.x.mean() if depots is None else depots.geometry.x
    depot_y = trees.y.mean() if depots is None else depots.geometry.y
    return build_travel(
        trees.x.to_numpy(),
        trees.y.to_numpy(),
        np.atleast_1d(depot_x),
        np.atleast_1d(depot_y),
        city.inventory.streets,
        city.settings.travel,
    )
