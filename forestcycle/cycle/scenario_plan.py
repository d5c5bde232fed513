"""Plan one scenario: a task that can run in any process."""

import time
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from forestcycle.cycle.common_ground import CommonGround
from forestcycle.errors import PlanError
from forestcycle.schedule import build_problem, installed_generators, solve, timetable
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import Problem
from forestcycle.settings import CycleSettings

PLANNED, NO_PLAN = "planned", "no plan"


@dataclass(frozen=True)
class ScenarioTask:
    """What planning one scenario needs besides the common ground.

    Attributes
    ----------
    settings : CycleSettings
    time_limit : float
        Seconds of packing, on one core.
    rounds : int or None
        Limit the work instead.
    seed : int
    """

    settings: CycleSettings
    time_limit: float
    rounds: int | None
    seed: int


@dataclass(frozen=True)
class ScenarioFigures:
    """What a scenario comes to; money in cents, ``gap`` is 1 - worth / bound.

    ``crew_days_not_packed`` stay empty for want of time alone.
    """

    outcome: str
    trees_planned: int = 0
    overdue_planned: int = 0
    overdue_left: int = 0
    young_planned: int = 0
    crew_days_available: int = 0
    crew_days_used: int = 0
    crew_days_not_packed: int = 0
    hours_at_trees: float = 0.0
    hours_on_the_way: float = 0.0
    cost_cents: int = 0
    worth: float = 0.0
    bound: float = 0.0
    gap: float = 0.0
    seconds: float = 0.0
    why_not: str = ""


def plan_scenario(ground: CommonGround, task: ScenarioTask) -> dict[str, Any]:
    """Plan a city's year under a scenario's settings.

    Parameters
    ----------
    ground : CommonGround
    task : ScenarioTask

    Returns
    -------
    dict
        Fields of :class:`ScenarioFigures`; a scenario under which there is no
        plan says so.
    """
    began = time.monotonic()
    settings = task.settings
    limit: dict[str, Any] = (
        {"seconds": task.time_limit} if task.rounds is None else {"rounds": task.rounds}
    )
    try:
        problem, _ = build_problem(
            ground.full_inventory(),
            ground.assessment,
            settings,
            ground.travel,
            ground.place_of_tree,
        )
        plan = solve(
            problem,
            seed=task.seed,
            workers=1,
            generators=installed_generators(settings.plan.candidates),
            tree_ids=ground.assessment.trees["tree_id"].tolist(),
            **limit,
        )
    except PlanError as error:
        return asdict(ScenarioFigures(outcome=NO_PLAN, why_not=str(error).replace("\n", "; ")))
    return asdict(_figures(ground, problem, plan, round(time.monotonic() - began, 1)))


def _figures(ground: CommonGround, problem: Problem, plan: Plan, seconds: float) -> ScenarioFigures:
    rows = problem.tree[plan.tree]
    trees = ground.assessment.trees
    overdue = (trees["recall_state"] == "overdue").to_numpy(np.bool_)
    young = (trees["age_class"] == "young").to_numpy(np.bool_)
    used = np.unique(plan.crew_day)
    times = timetable(problem, plan)
    on_the_way = times.travel_minutes.sum() + times.home_minutes[used].sum()
    cost = problem.cost_cents[plan.tree].sum() + problem.day_cost_cents[used].sum()
    return ScenarioFigures(
        outcome=PLANNED,
        trees_planned=len(rows),
        overdue_planned=int(overdue[rows].sum()),
        overdue_left=int(overdue.sum() - overdue[rows].sum()),
        young_planned=int(young[rows].sum()),
        crew_days_available=problem.crew_days,
        crew_days_used=len(used),
        crew_days_not_packed=plan.unpacked,
        hours_at_trees=round(float(problem.service_minutes[plan.tree].sum()) / 60, 1),
        hours_on_the_way=round(float(on_the_way) / 60, 1),
        cost_cents=int(cost),
        worth=round(plan.worth, 3),
        bound=round(plan.bound.value, 3) if plan.bound else 0.0,
        gap=round(plan.gap or 0.0, 5),
        seconds=seconds,
    )
