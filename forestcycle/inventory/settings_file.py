"""Write what an inspection found: a commented ``cycle.toml``, and the rows set aside."""

import csv
import io
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path

import pandas as pd

from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.inspect import Findings
from forestcycle.inventory.mapping import Guess, Proposal
from forestcycle.inventory.schema import SET_ASIDE_COLUMNS, empty_table
from forestcycle.inventory.source import Source, Table
from forestcycle.inventory.spreadsheet import inert_table
from forestcycle.settings import CycleSettings
from forestcycle.settings.fields import TreeFields, TreeUnits


def write_settings(findings: Findings, path: Path | str, *, overwrite: bool = False) -> None:
    """Write the proposed settings as a commented file.

    Parameters
    ----------
    findings : Findings
        Of a file, with a proposal.
    path : Path or str
        The ``cycle.toml`` to write.
    overwrite : bool
        Replace a file that is there already.

    Raises
    ------
    StoreError
        It is there already, or cannot be written.
    """
    path = Path(path)
    if not overwrite:
        refuse_to_overwrite(path)
    write_text_atomically(path, settings_text(findings, path.parent))


def refuse_to_overwrite(path: Path) -> None:
    """Keep what someone may have written by hand.

    Parameters
    ----------
    path : Path

    Raises
    ------
    StoreError
        It is there already.
    """
    if path.exists():
        raise StoreError(
            Fault(
                "is there already", str(path), "move it away, or ask to overwrite it (--overwrite)"
            )
        )


def settings_text(findings: Findings, folder: Path) -> str:
    """Lay out the proposed settings.

    Parameters
    ----------
    findings : Findings
    folder : Path
        Where the file will lie; an inventory file is named relative to it.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        The findings hold no proposal.
    """
    settings, proposal = findings.settings, findings.proposal
    if settings is None or proposal is None:
        raise ValueError("these findings hold no proposal; inspect a file, not its settings")
    parts = [
        _city(findings, settings, proposal, _inventory(findings.source, folder)),
        _layers(settings),
        _guesses(FIELDS, TreeFields.model_fields, proposal.fields),
        _guesses(UNITS, TreeUnits.model_fields, proposal.units),
        _values(proposal),
        CALENDAR.format(year=settings.city.year_start.year),
        *(CREW.format(name=_quoted(crew.name)) for crew in settings.crews),
        BUDGET,
        PUBLISH.format(paper=settings.publish.paper, units=settings.publish.units),
    ]
    return "\n".join(parts)


def _inventory(source: Source | Table, folder: Path) -> str:
    """Name a file relative to the settings, a database by its address."""
    return str(source.database) if isinstance(source, Table) else _relative(source.path, folder)


def _relative(path: Path, folder: Path) -> str:
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive
        return path.absolute().as_posix()


def _quoted(text: str) -> str:
    """Write a TOML basic string; JSON's escapes are TOML's too."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _comment(text: str) -> str:
    """Keep a comment on its line, whatever a field is called."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _line(key: str, guess: Guess) -> str:
    return f"{key} = {_quoted(guess.value)}  # {guess.certainty}: {_comment(guess.why)}"


def _city(findings: Findings, settings: CycleSettings, proposal: Proposal, inventory: str) -> str:
    lines = [
        "# Settings of a pruning cycle, proposed from the inventory. Check every line;",
        "# after each '#' stands how sure the proposal is, and why.",
        "",
        "[city]",
        f"name = {_quoted(settings.city.name)}  # stands on every paper and page",
        f"inventory = {_quoted(inventory)}  # relative to this file; or a database's address",
        f"year_start = {settings.city.year_start}",
        f"year_end = {settings.city.year_end}",
        'currency = "USD"  # ISO 4217; money below is in its hundredths',
    ]
    if proposal.source_crs is not None:
        lines.append(_line("source_crs", proposal.source_crs))
    elif findings.crs:
        lines.append('# source_crs = "EPSG:4326"  # only where the file does not say its CRS')
    else:
        lines.append('# source_crs = ?  # decide: the file does not say it; such as "EPSG:2913"')
    lines.append(
        '# working_crs = "EPSG:32610"  # projected, in metres; chosen by itself if left out'
    )
    return "\n".join([*lines, ""])


def _layers(settings: CycleSettings) -> str:
    lines = ["[layers]  # of the inventory file; or of another: 'other.gpkg:roads', 'roads.shp'"]
    for key, value in settings.layers:
        lines.append(f"# {key} = " if value is None else f"{key} = {_quoted(value)}")
    return "\n".join([*lines, ""])


def _guesses(header: str, keys: Iterable[str], guesses: Mapping[str, Guess]) -> str:
    """Lay out a table; keys without a guess stand in it as comments."""
    lines = (_line(key, guesses[key]) if key in guesses else f"# {key} = " for key in keys)
    return "\n".join([header, *lines, ""])


def _values(proposal: Proposal) -> str:
    parts = []
    for key, words in proposal.values.items():
        open_words = proposal.open_words.get(key, [])
        if words or open_words:
            suggested = proposal.suggestions.get(key, {})
            parts.append(_word_table(key, words, open_words, suggested))
    return "\n".join(parts)


def _word_table(
    key: str, words: Mapping[str, str], open_words: list[str], suggested: Mapping[str, str]
) -> str:
    lines = [f"[trees.values.{key}]  # the city's word = ours"]
    lines += [f"{_quoted(word)} = {_quoted(meaning)}" for word, meaning in words.items()]
    lines += [_open_word(word, suggested.get(word, "")) for word in open_words[:MOST_OPEN_WORDS]]
    more = len(open_words) - MOST_OPEN_WORDS
    if more > 0:
        lines.append(f"# and {more:,} more, in set_aside.csv")
    return "\n".join([*lines, ""])


def _open_word(word: str, suggestion: str) -> str:
    """Leave a word to be decided as a comment, to be freed of its mark if it is right."""
    left = _comment(_quoted(word))
    if suggestion:
        return f"# {left} = {_quoted(suggestion)}  # is this meant?"
    return f"# {left} = ?  # decide what it means"


MOST_OPEN_WORDS = 100
FIELDS = "[trees.fields]  # our name = the field's name in the inventory"
UNITS = "[trees.units]  # mm, cm, m, in or ft"
CALENDAR = """\
[calendar]
workdays = ["mon", "tue", "wed", "thu", "fri"]
holidays = [{year}-01-01, {year}-12-25]  # add your own
storm_reserve = 0.05  # share of each crew's days kept free for storms
"""

CREW = """\
[[crews]]
name = {name}
skills = ["ground", "climb", "lift"]  # and "line_clearance" only for crews qualified for it
shift_start = 07:00:00
shift_minutes = 480  # with break and set-up
break_minutes = 30
setup_minutes = 20  # loading and briefing at the depot
day_cost_cents = 0  # people, truck and fuel of one day
most_days = 40  # days in the plan; leave out for every working day
"""

BUDGET = """\
# [budget]
# year_cents = 25000000  # all costs of the year; leave out for no limit
"""

PUBLISH = """\
[publish]
paper = "{paper}"  # A4 or Letter
units = "{units}"  # metric or us: of what crews read
"""


def write_set_aside(findings: Findings, path: Path | str) -> None:
    """Write one line per row and fault, safe to open in a spreadsheet.

    Parameters
    ----------
    findings : Findings
    path : Path or str
        A CSV file; UTF-8 with a byte order mark, so that spreadsheets read it so.

    Raises
    ------
    StoreError
        It cannot be written.
    """
    if findings.inventory is None:
        table = empty_table(SET_ASIDE_COLUMNS)
    else:
        table = findings.inventory.set_aside
    write_text_atomically(path, "\ufeff" + set_aside_text(table))


def set_aside_text(table: pd.DataFrame) -> str:
    """Lay out set-aside rows as CSV (RFC 4180), formulas made inert.

    Parameters
    ----------
    table : DataFrame
        ``SET_ASIDE_COLUMNS``.

    Returns
    -------
    str
    """
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(table.columns)
    shown = table.assign(used=table["used"].map({True: "yes", False: "no"}))
    writer.writerows(inert_table(shown).itertuples(index=False, name=None))
    return stream.getvalue()
