"""Play a season through the real commands, beside a ledger that nobody tells the answers."""

import contextlib
import re
import sqlite3
import tomllib
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from random import Random

import sample_city
from tests.cli.commands import Ended, run
from tests.season.crews import Stop, with_mistakes, work, write_plain, write_sheet
from tests.season.ledger import Ledger, Told

FIRST_DAY = date(2027, 1, 1)
DAYS = 200
STORMS = ((date(2027, 2, 22), date(2027, 2, 24)), (date(2027, 5, 17), date(2027, 5, 18)))
CUT_ON, CUT_TO = date(2027, 4, 5), 0.8
"""The council takes a fifth of the year's money back."""


@dataclass
class Season:
    """A season under way.

    Attributes
    ----------
    folder : Path
        The city's: ``cycle.toml``, the inventory, its books and the plan.
    ledger : Ledger
    random : Random
    told : list of Told
        All that was ever handed in and counts.
    today : date
    remarks : list of str
        What happened, for the reader.
    """

    folder: Path
    ledger: Ledger
    random: Random
    told: list[Told] = field(default_factory=list)
    today: date = FIRST_DAY
    remarks: list[str] = field(default_factory=list)

    @property
    def settings(self) -> Path:
        return self.folder / "cycle.toml"

    @property
    def plan(self) -> Path:
        return self.folder / "plan"

    def do(self, *words: object) -> Ended:
        """Run a command; it must succeed."""
        ended = run(*words, cwd=self.folder)
        if ended.code:
            raise AssertionError(f"{words} -> {ended.code}: {ended.said}")
        return ended


def begin(folder: Path, *, trees: int, seed: int, days_per_crew: int, rounds: int = 1) -> Season:
    """Make a city and its first plan."""
    sample_city.make(folder, trees=trees, seed=seed)
    settings = folder / "cycle.toml"
    text = re.sub(r"most_days = \d+", f"most_days = {days_per_crew}", settings.read_text())
    costs = {crew["name"]: crew["day_cost_cents"] for crew in tomllib.loads(text)["crews"]}
    money = 2 * days_per_crew * sum(costs.values()) + 2000 * trees
    text = re.sub(r"year_cents = \d+", f"year_cents = {money}", text)
    text = re.sub(r"fund_cents = .*", "", text)
    settings.write_text(text)
    trees_known = frozenset(
        str(row[0]) for row in rows_of(folder / "city.gpkg", "trees", "tree_id")
    )
    season = Season(folder, Ledger(trees_known, costs), Random(seed))
    season.do("plan", "cycle.toml", "--out", "plan", "--rounds", rounds, "--quiet")
    return season


def play(season: Season, *, every: int, rounds: int = 1) -> None:
    """Play to the end: returns every so many days, storms, a budget cut, one last revision."""
    end = FIRST_DAY + timedelta(days=DAYS)
    while season.today < end:
        until = min([season.today + timedelta(days=every), end, *_turns_after(season.today)])
        hand_in(season, stops_between(season, season.today, until), until - timedelta(days=1))
        season.today = until
        for first, last in STORMS:
            if first == until:
                storm = ("--storm", first, last)
                revise(season, *storm, rounds=rounds)
        if until == CUT_ON:
            cut_budget(season)
            revise(season, rounds=rounds)
    revise(season, rounds=rounds)


def _turns_after(today: date) -> list[date]:
    return [day for day in (*(first for first, _ in STORMS), CUT_ON) if day > today]


def hand_in(season: Season, stops: list[Stop], today: date) -> None:
    """Work, hand in a file with mistakes, hand it in again, and put right what was refused."""
    worked = work(stops, season.random)
    truth = [line for line, _ in worked if line.day <= today]
    season.ledger.cost |= {line.visit: stop.cost_cents for line, stop in worked}
    files = with_mistakes(truth, season.told, today, season.random)
    name = f"returned-{today}"
    for file, lines in ((f"{name}.csv", files.first), (f"{name}-again.csv", files.second)):
        if lines:
            season.ledger.refused += _record(season, file, lines, today)
            _record(season, file, lines, today)
    season.told += truth


def _record(season: Season, name: str, lines: list[Told], today: date) -> int:
    path = season.folder / name
    if today.month % 2:
        write_sheet(path, season.plan / "crew_lists" / "all.csv", lines)
    else:
        write_plain(path, lines)
    new, known, refused = season.ledger.tell(lines, today)
    ended = season.do("record", "cycle.toml", name, "--plan", "plan", "--today", today, "--quiet")
    counts = f"{new:,} visits recorded, {known:,} known already, {refused:,} returns refused"
    if counts not in ended.out:
        raise AssertionError(f"{name}: the ledger says {counts!r}, the command {ended.out[-300:]}")
    return refused


def revise(season: Season, *words: object, rounds: int) -> None:
    """Move the assessment's day forward, as the handbook says, and revise from today on."""
    text = re.sub(r"^assessed_on = .*\n", "", season.settings.read_text(), flags=re.MULTILINE)
    today = f"year_end = 2027-12-31\nassessed_on = {season.today}\n"
    season.settings.write_text(text.replace("year_end = 2027-12-31\n", today))
    ended = season.do(
        *("revise", "cycle.toml", "--plan", "plan", "--from", season.today),
        *(*words, "--rounds", rounds, "--quiet"),
    )
    if "FAULTS FOUND" in ended.out:
        raise AssertionError(ended.out)
    season.remarks.append(f"{season.today} revise {' '.join(map(str, words))}\n{ended.out}")


def cut_budget(season: Season) -> None:
    """Take money back, as a council does in spring."""
    text = season.settings.read_text()
    cents = int(tomllib.loads(text)["budget"]["year_cents"] * CUT_TO)
    season.settings.write_text(re.sub(r"year_cents = \d+", f"year_cents = {cents}", text))


def stops_between(season: Season, first: date, until: date) -> list[Stop]:
    """Stops of the plan in force, from the first day to the day before the last."""
    columns = "tree_id, date, crew, service_minutes, dose, dose_limit, cost_cents"
    rows = rows_of(season.plan / "plan.gpkg", "stops", columns)
    stops = [
        Stop(str(tree), date.fromisoformat(str(day)[:10]), str(crew), *figures)
        for tree, day, crew, *figures in rows
    ]
    return sorted(
        (stop for stop in stops if first <= stop.day < until), key=lambda s: (s.day, s.tree)
    )


def rows_of(path: Path, table: str, columns: str) -> list[tuple]:  # type: ignore[type-arg]
    """Read a table with SQLite alone."""
    with contextlib.closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as database:
        return database.execute(f"SELECT {columns} FROM {table}").fetchall()  # noqa: S608
