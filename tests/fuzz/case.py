"""One case: which file is spoilt how, and which command then meets it."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.fuzz import spoilt_bytes
from tests.fuzz.bad_words import bad_name
from tests.fuzz.ground import (
    BOOKS,
    CITY,
    PLAN,
    RECORDS,
    RETURNS,
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

OUT = "out"
TODAY = ("--today", "2026-12-31")


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
    """

    kind: str
    words: tuple[object, ...]
    may_write: tuple[str, ...]


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
    with_plan = kind == "plan"
    with_books = kind == "books" or random.random() < 0.3
    copy_ground(ground, folder, with_plan=with_plan, with_books=with_books)
    words, may_write = KINDS[kind][0](folder, random, ground)
    return Case(kind, words, may_write)


Prepared = tuple[tuple[object, ...], tuple[str, ...]]


def _spoil_bytes(path: Path, random: Random, ways: tuple[spoilt_bytes.Spoil, ...]) -> None:
    data = path.read_bytes()
    path.write_bytes(random.choice(ways)(data, random))


def _geopackage(folder: Path, random: Random, ground: Ground) -> Prepared:
    path = folder / CITY
    if random.random() < 0.3:
        _spoil_bytes(path, random, spoilt_bytes.ANY)
    else:
        spoil_geopackage(path, random)
    return _any_command(CITY, SETTINGS, random, ground)


def _table(folder: Path, random: Random, ground: Ground) -> Prepared:
    for name in sorted({random.choice(["trees", *RECORDS]), random.choice(["trees", *RECORDS])}):
        path = folder / f"{name}.csv"
        if random.random() < 0.3:
            _spoil_bytes(path, random, spoilt_bytes.TEXT)
        else:
            path.write_bytes(spoil_table(path.read_bytes(), random))
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
    path = folder / name
    if random.random() < 0.25:
        _spoil_bytes(path, random, spoilt_bytes.TEXT)
    else:
        path.write_bytes(spoil_table(path.read_bytes(), random))
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
        ]
    )
    return words, (BOOKS, OUT)


def _plan(folder: Path, random: Random, ground: Ground) -> Prepared:
    path = folder / PLAN / random.choice(["plan.gpkg", "plan.gpkg", "plan.gpkg", "summary.json"])
    if path.suffix == ".json" or random.random() < 0.3:
        _spoil_bytes(path, random, spoilt_bytes.TEXT)
    else:
        spoil_geopackage(path, random)
    words: tuple[object, ...] = random.choices(
        [
            ("publish", PLAN, "--quiet"),
            ("explain", SETTINGS, random.choice(ground.tree_ids), "--plan", PLAN),
            ("record", SETTINGS, RETURNS, "--plan", PLAN, *TODAY, "--quiet"),
        ],
        [1, 3, 3],
    )[0]
    return words, (PLAN, f".{PLAN}-", BOOKS)


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
    command = random.choices(
        ["source", "settings", "explain", "assess", "record", "plan"], [24, 36, 12, 9, 18, 1]
    )[0]
    words: dict[str, tuple[object, ...]] = {
        "source": ("inspect", source, "--out", OUT, "--quiet"),
        "settings": ("inspect", settings, "--out", OUT, "--quiet"),
        "explain": ("explain", settings, tree),
        "assess": ("assess", settings, "--out", f"{OUT}/assessed.gpkg", "--quiet"),
        "record": ("record", settings, RETURNS, *TODAY, "--quiet"),
        "plan": ("plan", settings, "--out", OUT, "--rounds", 1, "--quiet"),
    }
    own = (BOOKS, "trees_books.gpkg") if command == "record" else (OUT, f".{OUT}-")
    return words[command], own


Prepare = Callable[[Path, Random, Ground], Prepared]
KINDS: dict[str, tuple[Prepare, int]] = {
    "geopackage": (_geopackage, 30),
    "table": (_table, 24),
    "settings": (_settings, 22),
    "returns": (_returns, 12),
    "books": (_books, 5),
    "plan": (_plan, 4),
    "packed": (_packed, 3),
}
