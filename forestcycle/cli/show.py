"""Tables and lines for the terminal."""

import re
from collections.abc import Iterable, Sequence
from textwrap import fill

from rich.console import Console
from rich.table import Table

NARROWEST = 100
NARROW = 11
"""Characters to which a header is broken over narrower cells, so that these keep their lines."""
NUMBER = re.compile(r"([-+]?[\d,]+(\.\d+)?( %)?)?")
"""What stands to the right; an empty cell leaves its column there."""


def show_table(title: str, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Print a table; numbers stand to the right, all text is taken literally."""
    texts = [[_text(value) for value in row] for row in rows]
    table = Table(title=title, title_justify="left", show_edge=False, pad_edge=False)
    for column, name in enumerate(header):
        cells = [row[column] for row in texts]
        numeric = bool(cells) and all(map(NUMBER.fullmatch, cells))
        longest = max(map(len, cells), default=0)
        table.add_column(
            fill(name, max(longest, NARROW), break_long_words=False),
            justify="right" if numeric else "left",
            overflow="fold",
        )
    for row in texts:
        table.add_row(*row)
    console = Console(markup=False, highlight=False, soft_wrap=False)
    if not console.is_terminal:
        console = Console(markup=False, highlight=False, width=max(NARROWEST, console.width))
    console.print(table)
    console.print()


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return f"{value:,}"
    if isinstance(value, float):
        return f"{value:,.2f}"
    return str(value)
