"""One case: which file is spoilt how, and which command then meets it."""

import tomllib
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from random import Random
from shutil import copyfile

import forestcycle.practice
from tests.fuzz import spoilt_bytes
from tests.fuzz.bad_words import bad_name
from tests.fuzz.ground import (
    BOOKS,
    CITY,
    FIRST_PLAN,
    LOCKS,
    OUTLOOK,
    PLAN,
    RECORDS,
    RETURNS,
    REVISED_FROM,
    REVISIONS,
    SCENARIOS,
    SETTINGS,
    SHEET,
    TABLE_SETTINGS,
    Ground,
    copy_ground,
)
from tests.fuzz.packs import pack
from tests.fuzz.spoilt_geopackages import spoil_geopackage
from tests.fuzz.spoilt_settings import spoil_settings
from tests.fuzz.spoilt_tables import spoil_table

OUT, TABLE_BOOKS = "out", "trees_books.gpkg"
TODAY = ("--today", "2026-12-31")
TWO_YEARS = ("--years", 2, "--budgets", "100%")
REVISE = ("revise", SETTINGS, "--from", REVISED_FROM, "--rounds", 1, "--quiet")
PLANS = (PLAN, f".{PLAN}-", BOOKS)
"""Beginnings of what revise and undo may write."""
TABLES = Path(forestcycle.practice.__file__).parent / "tables"


@dataclass(frozen=True)
class Case:
    """What to run in a folder that was prepared for it.

    Attributes
    ----------
    kind : str
        What was spoilt.
    words : tuple
        The command.
    may_write : tuple of str
        Beginnings of the names, in that folder, that it may write.
    named : tuple of str
        Files that the settings name: if they are not there, it may make them.
    """

    kind: str
    words: tuple[object, ...]
    may_write: tuple[str, ...]
    named: tuple[str, ...]


def prepare(ground: Ground, folder: Path, seed: int, number: int, only: str | None = None) -> Case:
    """Spoil a copy of the sound files; the same seed and number give the same case.

    Parameters
    ----------
    ground : Ground
    folder : Path
        Emptied first.
    seed, number : int
    only : str, optional
        Spoil files of this kind, one of ``KINDS``.

    Returns
    -------
    Case
    """
    random = Random(f"{seed}:{number}")
    kinds, weights = zip(*((kind, weight) for kind, (_, weight) in KINDS.items()), strict=True)
    kind = only or random.choices(kinds, weights)[0]
    with_books = kind == "books" or random.random() < 0.3
    copy_ground(ground, folder, revised=random.random() < 0.3, with_books=with_books)
    words, may_write = KINDS[kind][0](folder, random, ground)
    return Case(kind, words, may_write, _named(folder))


def _named(folder: Path) -> tuple[str, ...]:
    """List the books that spoilt settings name."""
    named = []
    for name in (SETTINGS, TABLE_SETTINGS):
        with suppress(ValueError, KeyError, TypeError, RecursionError):
            books = tomllib.loads((folder / name).read_text())["layers"]["books"]
            books = str(books).strip()
            named += [books, f"{books}.bak"]
    return tuple(named)


Prepared = tuple[tuple[object, ...], tuple[str, ...]]


def _spoil_bytes(path: Path, random: Random, ways: tuple[spoilt_bytes.Spoil, ...]) -> None:
    data = path.read_bytes()
    path.write_bytes(random.choice(ways)(data, random))


def _spoil_text(path: Path, random: Random) -> None:
    """Spoil a table as bytes or as cells."""
    if random.random() < 0.3:
        _spoil_bytes(path, random, spoilt_bytes.TEXT)
    else:
        path.write_bytes(spoil_table(path.read_bytes(), random))


def _geopackage(folder: Path, random: Random, ground: Ground) -> Prepared:
    path = folder / CITY
    if random.random() < 0.3:
        _spoil_bytes(path, random, spoilt_bytes.ANY)
    else:
        spoil_geopackage(path, random)
    return _any_command(CITY, SETTINGS, random, ground)


def _table(folder: Path, random: Random, ground: Ground) -> Prepared:
    for name in sorted({random.choice(["trees", *RECORDS]), random.choice(["trees", *RECORDS])}):
        _spoil_text(folder / f"{name}.csv", random)
    return _any_command("trees.csv", TABLE_SETTINGS, random, ground)


def _settings(folder: Path, random: Random, ground: Ground) -> Prepared:
    name = random.choice([SETTINGS, TABLE_SETTINGS])
    path = folder / name
    if random.random() < 0.25:
        _spoil_bytes(path, random, spoilt_bytes.TEXT)
    else:
        path.write_bytes(spoil_settings(path.read_bytes(), random))
    words, may_write = _any_command(name, name, random, ground)
    return words, may_write


def _returns(folder: Path, random: Random, _: Ground) -> Prepared:
    name = random.choice([RETURNS, SHEET])
    _spoil_text(folder / name, random)
    return ("record", SETTINGS, name, *TODAY, "--quiet"), (BOOKS,)


def _books(folder: Path, random: Random, _: Ground) -> Prepared:
    path = folder / BOOKS
    if random.random() < 0.3:
        _spoil_bytes(path, random, spoilt_bytes.ANY)
    else:
        spoil_geopackage(path, random)
    words: tuple[object, ...] = random.choice(
        [
            ("record", SETTINGS, SHEET, *TODAY, "--quiet"),
            ("undo", SETTINGS),
            ("calibrate", SETTINGS, "--out", OUT, "--quiet"),
            ("inspect", SETTINGS, "--out", OUT, "--quiet"),
            ("send", SETTINGS, "--quiet"),
            REVISE,
        ]
    )
    return words, (*PLANS, OUT)


def _plan(folder: Path, random: Random, ground: Ground) -> Prepared:
    place = random.choice([PLAN, PLAN, *([FIRST_PLAN] if (folder / REVISIONS).exists() else [])])
    names = sorted(path.name for path in (folder / place).iterdir())
    path = folder / place / random.choice(["plan.gpkg", "plan.gpkg", *names])
    if path.suffix != ".gpkg" or random.random() < 0.3:
        _spoil_bytes(path, random, spoilt_bytes.TEXT)
    else:
        spoil_geopackage(path, random)
    words: tuple[object, ...] = random.choices(
        [
            ("publish", PLAN, "--quiet"),
            ("explain", SETTINGS, random.choice(ground.tree_ids), "--plan", PLAN),
            ("record", SETTINGS, RETURNS, "--plan", PLAN, *TODAY, "--quiet"),
            ("outlook", SETTINGS, *TWO_YEARS, "--plan", PLAN, "--out", OUT, "--quiet"),
            ("send", SETTINGS, PLAN, "--quiet"),
            ("undo", SETTINGS, "--quiet"),
            REVISE,
        ],
        [3, 4, 4, 2, 2, 5, 5],
    )[0]
    return words, (*PLANS, OUT)


def _outlook(folder: Path, random: Random, ground: Ground) -> Prepared:
    """Spoil a file of the years ahead, which the council's report takes in."""
    (folder / OUTLOOK).mkdir()
    for path in (ground.folder / OUTLOOK).iterdir():
        copyfile(path, folder / OUTLOOK / path.name)
    _spoil_bytes(folder / OUTLOOK / "outlook.json", random, spoilt_bytes.TEXT)
    return ("publish", PLAN, "--outlook", OUTLOOK, "--quiet"), PLANS


def _locks(folder: Path, random: Random, _: Ground) -> Prepared:
    _spoil_text(folder / LOCKS, random)
    return (*REVISE, "--locks", LOCKS), PLANS


def _scenarios(folder: Path, random: Random, _: Ground) -> Prepared:
    _spoil_text(folder / SCENARIOS, random)
    words = ("compare", SETTINGS, SCENARIOS, "--rounds", 1, "--workers", 1, "--out", OUT, "--quiet")
    return words, (OUT,)


def _practice(folder: Path, random: Random, ground: Ground) -> Prepared:
    """Spoil one of the practice tables, as a city would that keeps its own."""
    own = folder / "own"
    own.mkdir()
    table = random.choice(sorted(TABLES.glob("*.csv")))
    copyfile(table, own / table.name)
    _spoil_text(own / table.name, random)
    settings = folder / SETTINGS
    settings.write_text(f'{settings.read_text()}\n[practice]\ntables = "own"\n')
    words: tuple[object, ...] = random.choices(
        [
            ("explain", SETTINGS, random.choice(ground.tree_ids)),
            ("assess", SETTINGS, "--out", f"{OUT}/assessed.gpkg", "--quiet"),
            ("plan", SETTINGS, "--out", OUT, "--rounds", 1, "--quiet"),
            ("outlook", SETTINGS, *TWO_YEARS, "--out", OUT, "--quiet"),
            ("calibrate", SETTINGS, "--out", OUT, "--quiet"),
        ],
        [3, 6, 1, 1, 1],
    )[0]
    return words, (OUT, f".{OUT}-")


def _packed(folder: Path, random: Random, _: Ground) -> Prepared:
    name = random.choice([CITY, CITY, "trees.csv", RETURNS])
    packed = pack(folder / name, random)
    if name == RETURNS:
        return ("record", SETTINGS, packed.name, *TODAY, "--quiet"), (BOOKS,)
    if random.random() < 0.5:
        settings = folder / (SETTINGS if name == CITY else TABLE_SETTINGS)
        text = settings.read_text().replace(f'"{name}', f'"{packed.name}')
        settings.write_text(text)
        return ("inspect", settings.name, "--out", OUT, "--quiet"), (OUT,)
    return ("inspect", packed.name, "--out", OUT, "--quiet"), (OUT,)


def _any_command(source: str, settings: str, random: Random, ground: Ground) -> Prepared:
    tree = random.choice([random.choice(ground.tree_ids), bad_name(random).lstrip("-")])
    commands: list[tuple[int, tuple[object, ...]]] = [
        (24, ("inspect", source, "--out", OUT, "--quiet")),
        (30, ("inspect", settings, "--out", OUT, "--quiet")),
        (10, ("explain", settings, tree)),
        (10, ("assess", settings, "--out", f"{OUT}/assessed.gpkg", "--quiet")),
        (16, ("record", settings, RETURNS, *TODAY, "--quiet")),
        (2, ("plan", settings, "--out", OUT, "--rounds", 1, "--quiet")),
        (2, ("outlook", settings, *TWO_YEARS, "--out", OUT, "--quiet")),
        (3, ("revise", settings, *REVISE[2:])),
        (2, ("undo", settings, "--quiet")),
        (2, ("calibrate", settings, "--out", OUT, "--quiet")),
        (1, ("send", settings, PLAN, "--quiet")),
    ]
    weights, words = zip(*commands, strict=True)
    chosen = random.choices(words, weights)[0]
    own = {
        "record": (BOOKS, TABLE_BOOKS),
        "revise": (*PLANS, TABLE_BOOKS),
        "undo": (*PLANS, TABLE_BOOKS),
    }
    return chosen, own.get(str(chosen[0]), (OUT, f".{OUT}-"))


Prepare = Callable[[Path, Random, Ground], Prepared]
KINDS: dict[str, tuple[Prepare, int]] = {
    "geopackage": (_geopackage, 26),
    "table": (_table, 21),
    "settings": (_settings, 20),
    "returns": (_returns, 10),
    "books": (_books, 5),
    "plan": (_plan, 5),
    "packed": (_packed, 3),
    "practice": (_practice, 6),
    "locks": (_locks, 2),
    "scenarios": (_scenarios, 1),
    "outlook": (_outlook, 1),
}
