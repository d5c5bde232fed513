"""Tables and lines for the terminal."""

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table

NARROWEST = 100


def show_table(title: str, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Print a table; numbers stand to the right, all text is taken literally."""
    rows = [list(row) for row in rows]
    table = Table(title=title, title_justify="left", show_edge=False, pad_edge=False)
    for column, name in enumerate(header):
        numeric = bool(rows) and all(isinstance(row[column], int | float) for row in rows)
        table.add_column(name, justify="right" if numeric else "left", overflow="fold")
    for row in rows:
        table.add_row(*[_text(value) for value in row])
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
