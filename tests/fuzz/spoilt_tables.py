"""Damage to delimited text that stays a table, or nearly."""

import csv
import io
from collections.abc import Callable
from random import Random

from tests.fuzz.bad_words import bad_cell, bad_name

Rows = list[list[str]]


def spoil_table(data: bytes, random: Random) -> bytes:
    """Spoil a table in one to four ways and write it in some dialect."""
    rows = [row for row in csv.reader(io.StringIO(data.decode("utf-8-sig"))) if row]
    for _ in range(random.randint(1, 4)):
        random.choice(WAYS)(rows, random)
    text = io.StringIO()
    writer = csv.writer(
        text,
        delimiter=random.choice([",", ",", ",", ";", "\t", "|"]),
        quoting=random.choice([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
        lineterminator=random.choice(["\n", "\r\n", "\r"]),
    )
    writer.writerows(rows)
    mark = random.choice(["", "", "\ufeff"])
    return (mark + text.getvalue()).encode("utf-8", "surrogatepass")


def _cell(rows: Rows, random: Random) -> None:
    """Put bad cells into a few places."""
    for _ in range(random.choice([1, 5, 60])):
        row = random.choice(rows)
        if row:
            row[random.randrange(len(row))] = bad_cell(random)


def _column(rows: Rows, random: Random) -> None:
    """Fill one column with the same bad cell."""
    column, cell = random.randrange(len(rows[0])) if rows[0] else 0, bad_cell(random)
    for row in rows[1:]:
        if column < len(row):
            row[column] = cell


def _header(rows: Rows, random: Random) -> None:
    """Rename, repeat or lose a column's name."""
    if rows[0]:
        column = random.randrange(len(rows[0]))
        rows[0][column] = random.choice([bad_name(random), rows[0][0], "", rows[0][column].upper()])


def _columns_swapped(rows: Rows, random: Random) -> None:
    """Exchange two columns under their old names."""
    one, two = (random.randrange(max(len(rows[0]), 1)) for _ in range(2))
    for row in rows[1:]:
        if max(one, two) < len(row):
            row[one], row[two] = row[two], row[one]


def _ragged(rows: Rows, random: Random) -> None:
    """Make some rows too long or too short."""
    for _ in range(random.choice([1, 10])):
        row = random.choice(rows)
        row[random.randrange(len(row) + 1) :] = ["x"] * random.choice([0, 1, 300])


def _rows_repeated(rows: Rows, random: Random) -> None:
    """Say rows many times."""
    rows += [list(random.choice(rows)) for _ in range(random.choice([1, 100, 5000]))]


def _no_rows(rows: Rows, random: Random) -> None:
    """Leave the header, or the first row only."""
    del rows[random.choice([1, 1, 2]) :]


def _shuffled(rows: Rows, random: Random) -> None:
    """Mix the rows, the header too."""
    random.shuffle(rows)


def _wide(rows: Rows, random: Random) -> None:
    """Add thousands of columns."""
    more = [f"c{number}" for number in range(random.choice([50, 3000]))]
    for row in rows[:50]:
        row.extend(more)


WAYS: tuple[Callable[[Rows, Random], None], ...] = (
    _cell, _cell, _cell, _column, _column, _header, _columns_swapped, _ragged,
    _rows_repeated, _no_rows, _shuffled, _wide,
)  # fmt: skip
