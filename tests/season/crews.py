"""Crews as they are: late, thorough, forgetful, and now and then wrong."""

import csv
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from random import Random

from tests.season.ledger import Told


@dataclass(frozen=True)
class Stop:
    """A visit that the plan asks for."""

    tree: str
    day: date
    crew: str
    minutes: float
    dose: float
    dose_limit: float
    cost_cents: int


OUTCOMES, WEIGHTS = ("done", "partly done", "skipped", ""), (80, 9, 7, 4)
"""The last: nobody reported."""
OVER_THE_LIMIT, ON_ANOTHER_DAY = 0.03, 0.02


def work(stops: list[Stop], random: Random) -> list[tuple[Told, Stop]]:
    """Do a stretch of the plan, with noise; a stop that nobody reports is left out."""
    done = []
    for stop in stops:
        outcome = random.choices(OUTCOMES, WEIGHTS)[0]
        if outcome:
            done.append((_worked(stop, outcome, random), stop))
    return done


def _worked(stop: Stop, outcome: str, random: Random) -> Told:
    late = timedelta(days=random.random() < ON_ANOTHER_DAY)
    if outcome == "skipped":
        return Told(stop.tree, stop.day, stop.crew, outcome, 0.0, 0.0)
    share = random.uniform(0.8, 1.1) if outcome == "done" else random.uniform(0.3, 0.7)
    dose = min(stop.dose * share, stop.dose_limit)
    if random.random() < OVER_THE_LIMIT:
        dose = min(stop.dose_limit * random.uniform(1.1, 1.8), 0.9)
    minutes = max(round(stop.minutes * random.lognormvariate(0, 0.25), 1), 1.0)
    return Told(stop.tree, stop.day + late, stop.crew, outcome, minutes, round(dose, 3))


@dataclass(frozen=True)
class Files:
    """What reaches the office: a first file, and one that puts right what was refused."""

    first: list[Told]
    second: list[Told]


def with_mistakes(told: list[Told], before: list[Told], today: date, random: Random) -> Files:
    """Spoil a file as clerks do: lines twice, lines that differ, old lines, wrong trees and days.

    Parameters
    ----------
    told : list of Told
        The truth.
    before : list of Told
        Lines of earlier files.
    today : date
    random : Random
    """
    first, second = list(told), []
    for line in told:
        chance = random.random()
        if chance < 0.03:  # typed twice
            first.append(line)
        elif chance < 0.05:  # two versions: neither counts until one is sent again
            first.append(replace(line, minutes=line.minutes + 7.0))
            second.append(line)
        elif chance < 0.06:
            first.append(replace(line, tree=f"{line.tree}?"))
        elif chance < 0.07:
            first.append(replace(line, day=today + timedelta(days=30)))
    first += [
        random.choice([line, replace(line, dose=round(line.dose + 0.05, 3))])
        for line in random.sample(before, min(3, len(before)))
    ]
    random.shuffle(first)
    return Files(first, second)


PLAIN = ("tree_id", "visited_on", "crew", "outcome", "minutes", "dose")


def write_plain(path: Path, lines: list[Told]) -> None:
    """Write lines as a device does."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(PLAIN)
        for line in lines:
            writer.writerow((line.tree, line.day, line.crew, *line.facts))


def write_sheet(path: Path, crew_list: Path, lines: list[Told]) -> None:
    """Write lines as a clerk types up the printed crew list."""
    with crew_list.open(encoding="utf-8-sig", newline="") as stream:
        header = next(csv.reader(stream))
    words = {"done": "yes", "partly done": "partly", "skipped": "no"}
    with path.open("w", encoding="utf-8-sig", newline="") as stream:
        writer = csv.DictWriter(stream, header, restval="", extrasaction="raise")
        writer.writeheader()
        for line in lines:
            writer.writerow(
                {
                    "tree_id": line.tree,
                    "date": line.day,
                    "crew": line.crew,
                    "done": words[line.outcome],
                    "actual_minutes": line.minutes,
                    "dose_taken_percent": f"{line.dose * 100:.1f} %",
                }
            )
