"""Compare scenarios: plan the same city's year under each."""

import math
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import pandas as pd

from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.city import City
from forestcycle.cycle.common_ground import common_ground
from forestcycle.cycle.named import check_names
from forestcycle.cycle.scenario_plan import PLANNED, ScenarioFigures, ScenarioTask, plan_scenario
from forestcycle.cycle.scenarios import Scenario
from forestcycle.errors import Fault, PlanError
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.spreadsheet import spreadsheet_text
from forestcycle.inventory.together import replacing_together
from forestcycle.parallel import KeptResults, Task, gather, open_executor
from forestcycle.parallel.kept import content_key
from forestcycle.progress import Progress, Step, silent
from forestcycle.publish.scenario_chart import write_scenario_chart

TABLE_FILE, CHART_FILE = "scenarios.csv", "scenarios.svg"
WORKERS_SHOWN = (1, 2, 4, 8, 16, 32)
HEADER = (
    "scenario",
    "trees",
    "overdue left out",
    "crew-days",
    "not packed",
    "cost",
    "worth",
    "gap, %",
)
WIDE_GAP = 0.1
"""Plans farther from the best possible one say more about the time limit than about the scenario:
common gaps are under half of it."""


@dataclass(frozen=True)
class Compared:
    """Scenarios side by side.

    Attributes
    ----------
    found : list of (Scenario, ScenarioFigures)
        Those that are done, in the order of the scenarios.
    scenarios : int
        How many there are.
    interrupted : bool
        Ctrl-C came first; running the same again does the others.
    seconds_before : float
        Opening, assessing and travel times, once for all scenarios.
    """

    found: list[tuple[Scenario, ScenarioFigures]]
    scenarios: int
    interrupted: bool
    seconds_before: float

    def table(self) -> pd.DataFrame:
        """Return one row per scenario: ``scenario``, its changes, its figures.

        Returns
        -------
        DataFrame
            One column per setting that any scenario changes, then those of ``ScenarioFigures``.
        """
        keys = dict.fromkeys(key for scenario, _ in self.found for key in scenario.changes)
        rows = [
            {"scenario": scenario.name, **scenario.changes, **asdict(figures)}
            for scenario, figures in self.found
        ]
        columns = ["scenario", *keys, *asdict(ScenarioFigures(""))]
        return pd.DataFrame(rows, columns=columns)

    def main_figures(self) -> list[tuple[object, ...]]:
        """Return a row per scenario in the order of ``HEADER``.

        Returns
        -------
        list of tuple
            Scenarios with a plan only; money in whole units, the gap in percent.
        """
        return [
            (
                scenario.name,
                figures.trees_planned,
                figures.overdue_left,
                figures.crew_days_used,
                figures.crew_days_not_packed,
                round(figures.cost_cents / 100),
                round(figures.worth),
                round(100 * figures.gap, 2),
            )
            for scenario, figures in self.found
            if figures.outcome == PLANNED
        ]

    def without_plan(self) -> list[tuple[str, str]]:
        """Return the scenarios under which there is no plan, and why.

        Returns
        -------
        list of (str, str)
            Name and reason.
        """
        return [
            (scenario.name, figures.why_not)
            for scenario, figures in self.found
            if figures.outcome != PLANNED
        ]

    def not_packed(self) -> list[tuple[str, int, int]]:
        """Return the scenarios whose time limit was too short to pack every crew-day.

        Returns
        -------
        list of (str, int, int)
            Name, crew-days that stay empty for that, and crew-days available.
        """
        return [
            (scenario.name, figures.crew_days_not_packed, figures.crew_days_available)
            for scenario, figures in self.found
            if figures.crew_days_not_packed
        ]

    def far_from_best(self) -> list[str]:
        """Return the scenarios whose plan is far from the best possible one.

        Returns
        -------
        list of str
            Names.
        """
        return [scenario.name for scenario, figures in self.found if figures.gap > WIDE_GAP]

    def forecast(self, workers: Sequence[int] = WORKERS_SHOWN) -> list[tuple[int, float]]:
        """Return the seconds that all scenarios take with so many workers, from those measured.

        Parameters
        ----------
        workers : sequence of int, optional
            Numbers of workers to tell of.

        Returns
        -------
        list of (int, float)
            Workers and seconds.
        """
        measured = [figures.seconds for _, figures in self.found if figures.seconds > 0]
        each = sum(measured) / len(measured) if measured else 0.0
        return [
            (w, forecast_seconds(self.seconds_before, each, self.scenarios, w)) for w in workers
        ]


def forecast_seconds(before: float, each: float, scenarios: int, workers: int) -> float:
    """Return the time that scenarios take: what comes first, then as many at a time as workers.

    Parameters
    ----------
    before, each : float
        Seconds before the first scenario, and of one scenario.
    scenarios, workers : int

    Returns
    -------
    float
        For workers with a core and memory of their own.
    """
    return before + each * math.ceil(scenarios / workers)


def compare_scenarios(
    city: City,
    scenarios: Sequence[Scenario],
    out: Path | str,
    *,
    time_limit: float = 30.0,
    rounds: int | None = None,
    seed: int = 1,
    workers: int | None = None,
    cluster: str | None = None,
    progress: Progress = silent,
) -> Compared:
    """Plan a city's year under every scenario.

    Trees are read and assessed once; all workers look at one copy. Each result
    is kept in ``kept`` as soon as it is there: after an interruption the same
    call does only what is missing.

    Parameters
    ----------
    city : City
    scenarios : sequence of Scenario
    out : Path or str
        Folder for ``scenarios.csv`` and ``scenarios.svg``.
    time_limit : float
        Seconds of packing per scenario, on one core.
    rounds : int, optional
        Limit the work instead; the figures then depend on input and seed
        alone, not on the number of workers.
    seed : int
        The same for all, so that differences are not the seed's.
    workers : int, optional
        Processes of this machine; one per core by default.
    cluster : str, optional
        Address of a Dask scheduler instead.
    progress : Progress, optional

    Returns
    -------
    Compared

    Raises
    ------
    SettingsError, PlanError, StoreError, WorkerError
    """
    began = time.monotonic()
    if not scenarios:
        raise PlanError(Fault("there is no scenario", "the table", "add a line"))
    for scenario in scenarios:
        check_names(City(scenario.settings, city.folder, city.inventory))
    out = Path(out)
    kept = KeptResults(out / "kept")
    with open_executor(cluster, workers=workers) as executor:
        progress(Step("assessing trees"))
        assessment = assess_city(city, progress=progress)
        progress(Step("travel times"))
        ground = common_ground(city, assessment)
        fingerprint = ground.fingerprint()
        tasks = [
            Task(f"scenario {each.name!r}", ScenarioTask(each.settings, time_limit, rounds, seed))
            for each in scenarios
        ]
        before = time.monotonic() - began
        done = gather(
            executor,
            plan_scenario,
            tasks,
            executor.share(ground),
            kept=kept,
            keys=[_key(fingerprint, task.argument) for task in tasks],
            stage="planning scenarios",
            progress=progress,
        )
    found = [
        (scenarios[place], ScenarioFigures(**figures)) for place, figures in done.values.items()
    ]
    compared = Compared(found, len(scenarios), done.interrupted, before)
    _write(compared.table(), out, city.settings.city.currency)
    return compared


def _key(fingerprint: str, task: ScenarioTask) -> str:
    limit = task.time_limit if task.rounds is None else f"{task.rounds} rounds"
    return content_key(fingerprint, task.settings.model_dump_json(), limit, task.seed)


def _write(table: pd.DataFrame, out: Path, currency: str) -> None:
    with replacing_together(out, (TABLE_FILE, CHART_FILE), sign=TABLE_FILE) as folder:
        write_text_atomically(folder / TABLE_FILE, spreadsheet_text(table))
        write_scenario_chart(table, folder / CHART_FILE, currency=currency)
