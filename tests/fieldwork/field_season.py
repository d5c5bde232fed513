"""Returns of the small city, and the steps of a record without the terminal."""

from datetime import date
from pathlib import Path

import pandas as pd

from forestcycle.cycle import open_city, record_returns
from tests.cli.small_city import write_city

TODAY = date(2026, 12, 31)
COLUMNS = str.split("tree_id visited_on crew outcome minutes dose")


def plain(*rows) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=COLUMNS)


def city_with(folder: Path, *rows) -> Path:
    settings = write_city(folder) / "cycle.toml"
    if rows:
        record(settings, plain(*rows))
    return settings


def record(settings: Path, returns: pd.DataFrame, name: str = "returns.csv"):
    returns.to_csv(settings.parent / name, index=False)
    return record_returns(open_city(settings), settings.parent / name, today=TODAY)
