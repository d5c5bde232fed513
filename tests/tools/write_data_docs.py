"""Write docs/data.md from docs/columns.csv: ``python -m tests.tools.write_data_docs``.

One row of ``columns.csv`` describes a column of one or more tables. A test reads
the files that a real run writes and finds every column of theirs in it.
"""

from dataclasses import dataclass

import pandas as pd

from forestcycle.inventory import ground
from forestcycle.inventory.records import RECORD_KINDS
from forestcycle.publish.outputs import OUTPUTS
from tests.tools.write_command_docs import DOCS

INTRODUCTION = """# Data dictionary

Every file that forestcycle reads or writes, and every column. Units stand in the
names; doses and shares run from 0 to 1 unless a name says percent; money is in
hundredths of the currency. CSV files are UTF-8; those for people begin with a byte
order mark, so that spreadsheets read them right, and a cell that a spreadsheet would
run as a formula begins with an apostrophe. GeoPackages hold dates as date-times at
midnight; layers are in the city's working CRS, in metres.
"""


@dataclass(frozen=True)
class Section:
    """A file: its heading, what it is, and its tables as ``columns.csv`` calls them."""

    title: str
    text: str
    tables: tuple[str, ...]


SECTIONS = (
    Section(
        "Read: the tree layer",
        "Any vector file or table of coordinates; which field is which, its unit and its words "
        "stand in `cycle.toml`: see `[trees.fields]` under [settings](settings.md). Needed are "
        "a place, a species and a trunk diameter. The inventory's file is never written.",
        (),
    ),
    Section(
        "Read: tables about trees",
        "Tables of the inventory's file, or files of their own, named under `[layers]`. Columns "
        "may have other names, which are listed; columns that are missing count as empty.",
        ("records defects", "records visits", "records requests"),
    ),
    Section(
        "Read: what lies around",
        "Layers of the inventory's file, or files of their own, named under `[layers]`; all may "
        "be missing.",
        ("ground streets", "ground wards", "ground depots", "ground parks"),
    ),
    Section(
        "Read: practice tables",
        "CSV files in `forestcycle/practice/tables`; a file of the same name in the folder that "
        "`practice.tables` names stands in for ours. Every row names its `source`.",
        ("practice",),
    ),
    Section("Written by `inspect`: `set_aside.csv`", "One line per row and fault.", ("set aside",)),
    Section(
        "Written by `assess`: `assessment.gpkg`",
        "Every usable tree, its work, and what was set aside.",
        ("assessment trees", "assessment work", "assessment set_aside"),
    ),
    Section(
        "Written by `plan`: `plan.gpkg`",
        "The plan in full; all other outputs are made from it and from `summary.json`. "
        "`layer_styles` holds styles for a desktop GIS.",
        (
            "plan trees",
            "plan stops",
            "plan crew_days",
            "plan legs",
            "plan streets",
            "plan wards",
            "plan depots",
            "plan parks",
            "plan work",
            "plan set_aside",
            "plan prices",
            "plan round_trips",
            "plan route_prices",
            "plan ways",
            "plan run",
        ),
    ),
    Section("Written by `plan`: `summary.json`", "The plan's figures.", ("summary",)),
    *(
        Section(
            f"Written by `plan` and `publish`: {output.tables.title}",
            output.tables.text,
            tuple(output.tables.files),
        )
        for output in OUTPUTS
        if output.tables is not None
    ),
    Section(
        "Written by `record`: `NAME_books.gpkg`",
        "What crews reported: see [what comes back](returns.md). The file of returns that is "
        "read has the columns of a crew list, or those of `visits` below.",
        ("books visits", "books defects", "books refused", "books changes", "books books"),
    ),
    Section(
        "Written by `revise`: `revision.csv` and three tables of `plan.gpkg`",
        "Every visit of both plans; and in the revised plan what was done, which days are lost, "
        "and what was changed when. See [revising](revision.md); `revision.json` has its figures.",
        ("revision", "revised done", "revised lost_days", "revised changes"),
    ),
    Section(
        "Written by `outlook`: its tables",
        "`outlook.html` shows them, `outlook.json` says how they came about; tables of "
        "intervals with `--draws`, `cycles` with `--cycles`. `publish --outlook` keeps a copy of "
        "all of it in the plan's folder, under `years_ahead`.",
        (
            "outlook summary",
            "outlook years",
            "outlook wards",
            "outlook crews",
            "outlook margins",
            "outlook intervals",
            "outlook ward_intervals",
            "outlook summary_intervals",
            "outlook cycles",
        ),
    ),
    Section(
        "Written by `compare`: `scenarios.csv`",
        "One row per scenario; `scenarios.svg` draws them.",
        ("scenarios",),
    ),
    Section(
        "Written by `calibrate`: `calibration.csv`",
        "Plan against actual; `labour.csv` beside it is a practice table.",
        ("calibration",),
    ),
)


def described() -> pd.DataFrame:
    """One row per table and column, in the order of ``columns.csv``."""
    rows = pd.read_csv(DOCS / "columns.csv", dtype=str, keep_default_na=False)
    rows["table"] = rows.pop("tables").str.split("; ")
    return rows.explode("table", ignore_index=True)


def also_understood(table: str, column: str) -> tuple[str, ...]:
    """Other names under which a column of an input is found."""
    room, _, name = table.partition(" ")
    if room == "records":
        return tuple(RECORD_KINDS[name].also_named.get(column, ()))
    other = {
        "ground street": ground.STREET_NAMES,
        "ground one_way": ground.ONE_WAY_NAMES,
        "ground speed_kmh": (*ground.KMH_NAMES, *ground.MPH_NAMES, *ground.PLAIN_SPEED_NAMES),
        "ground depot": ground.DEPOT_NAMES,
        "ground ward": ground.AREA_NAMES,
        "ground park": ground.AREA_NAMES,
    }
    return tuple(name for name in other.get(f"{room} {column}", ()) if name != column)


def page() -> str:
    """Text of ``docs/data.md``."""
    parts = [INTRODUCTION]
    rows = described()
    for section in SECTIONS:
        parts += [f"## {section.title}", "", section.text, ""]
        for table in section.tables:
            name = table.partition(" ")[2]
            if name and len(section.tables) > 1:
                parts += [f"**`{name}`**", ""]
            parts += ["| column | kind | meaning |", "| --- | --- | --- |"]
            parts += [
                f"| `{row.column}` | {row.kind} | {_meaning(table, row.column, row.meaning)} |"
                for row in rows[rows["table"] == table].itertuples()
            ]
            parts.append("")
    return "\n".join(parts)


def _meaning(table: str, column: str, meaning: str) -> str:
    others = also_understood(table, column)
    return f"{meaning}; or named {', '.join(f'`{name}`' for name in others)}" if others else meaning


def main() -> None:
    (DOCS / "data.md").write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
