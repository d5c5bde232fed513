"""Look at an inventory, propose its settings, and say what was set aside."""

from dataclasses import dataclass
from pathlib import Path

from forestcycle.cycle.city import species_names
from forestcycle.inventory import (
    Findings,
    inspect_city,
    inspect_file,
    write_set_aside,
    write_settings,
)
from forestcycle.inventory.settings_file import refuse_to_overwrite
from forestcycle.practice.species import largest_dbh_cm
from forestcycle.progress import Progress, silent
from forestcycle.settings import load_settings
from forestcycle.settings.address import is_address

SETTINGS_SUFFIX = ".toml"
SETTINGS_NAME = "cycle.toml"
SET_ASIDE_NAME = "set_aside.csv"
SHOWN_WORDS = 5


@dataclass(frozen=True)
class Table:
    """A table for people: title, header and rows."""

    title: str
    header: tuple[str, ...]
    rows: list[tuple[object, ...]]


@dataclass(frozen=True)
class Report:
    """What an inspection has to say: tables first, then lines."""

    tables: list[Table]
    lines: list[str]


def inspect_source(
    source: Path | str,
    *,
    layer: str | None = None,
    out: Path | str | None = None,
    overwrite: bool = False,
    progress: Progress = silent,
) -> Report:
    """Inspect an inventory, or the one that a settings file names.

    Parameters
    ----------
    source : Path or str
        A file with trees, the address of a database, or a ``cycle.toml``.
    layer : str, optional
        The tree layer of a file with several; the table of a database.
    out : Path or str, optional
        Folder for ``cycle.toml`` and ``set_aside.csv``, the current one by
        default; the proposed settings name the inventory relative to it.
    overwrite : bool
        Replace a ``cycle.toml`` that is there.
    progress : Progress, optional

    Returns
    -------
    Report

    Raises
    ------
    SettingsError, InventoryError, StoreError
    """
    given = Path(source).suffix == SETTINGS_SUFFIX and not is_address(str(source))
    folder = Path(out) if out is not None else Path()
    known, largest = species_names(), largest_dbh_cm()
    if given:
        findings = inspect_city(
            load_settings(source),
            Path(source).parent,
            known_species=known,
            largest_dbh_cm=largest,
            progress=progress,
        )
    else:
        if not overwrite:
            refuse_to_overwrite(folder / SETTINGS_NAME)
        findings = inspect_file(
            source, layer=layer, known_species=known, largest_dbh_cm=largest, progress=progress
        )
    lines = []
    if not given:
        write_settings(findings, folder / SETTINGS_NAME, overwrite=overwrite)
        lines.append(f"proposed settings, to be read and corrected -> {folder / SETTINGS_NAME}")
    if findings.inventory is not None:
        write_set_aside(findings, folder / SET_ASIDE_NAME)
        lines.append(f"one line per row and fault -> {folder / SET_ASIDE_NAME}")
    lines += [f"still to be decided: {what}" for what in (*findings.faults, *_open_words(findings))]
    lines += _without_ids(findings)
    return Report([_found(findings), *_proposed(findings), *_set_aside(findings)], lines)


def _open_words(findings: Findings) -> list[str]:
    """Say which of the city's words nobody could guess, a few of each field."""
    if findings.proposal is None:
        return []
    return [
        f"what {_few(words)} mean{'s' * (len(words) == 1)} -> trees.values.{field}"
        for field, words in findings.proposal.open_words.items()
        if words
    ]


def _without_ids(findings: Findings) -> list[str]:
    if findings.proposal is None or "tree_id" in findings.proposal.fields:
        return []
    what = "no field of ids: rows are numbered, which holds only while the file keeps its order"
    return [f"{what} -> trees.fields.tree_id"]


def _few(words: list[str]) -> str:
    shown = [repr(word) for word in words[:SHOWN_WORDS]]
    rest = len(words) - len(shown)
    return ", ".join(shown) + (f" and {rest} more" if rest else "")


def _found(findings: Findings) -> Table:
    rows: list[tuple[object, ...]] = [
        ("source", str(findings.source)),
        ("rows", f"{findings.rows:,}"),
        ("usable trees", f"{findings.usable:,}"),
        ("CRS", findings.crs or "not said"),
    ]
    if findings.extent is not None:
        west, south, east, north = findings.extent
        rows.append(
            ("extent", f"{west:.4f}° to {east:.4f}° east, {south:.4f}° to {north:.4f}° north")
        )
    rows += [
        (f"layer {name}", kind or "table without geometry")
        for name, kind in findings.layers.items()
    ]
    return Table("What was found", ("what", "value"), rows)


def _proposed(findings: Findings) -> list[Table]:
    if findings.proposal is None:
        return []
    fields, units = findings.proposal.fields, findings.proposal.units
    rows: list[tuple[object, ...]] = [
        (ours, guess.value, guess.certainty, guess.why) for ours, guess in fields.items()
    ]
    rows += [
        (f"unit of {ours}", guess.value, guess.certainty, guess.why)
        for ours, guess in units.items()
    ]
    return [Table("Proposed mapping", ("ours", "the city's", "certainty", "why"), rows)]


def _set_aside(findings: Findings) -> list[Table]:
    counts = findings.reasons()
    if not len(counts):
        return []
    rows: list[tuple[object, ...]] = [
        (layer, fault, "field only" if used else "whole row", int(rows))
        for layer, fault, used, rows in counts.itertuples(index=False, name=None)
    ]
    return [Table("Set aside", ("layer", "fault", "what", "rows"), rows)]
