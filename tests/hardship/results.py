"""Commands that write results beside the store, and what must hold of those whatever happens."""

import json
import tomllib
from pathlib import Path

import pandas as pd

from tests.hardship.town import Deed, layer, passes_integrity_check

NOBODY = "nobody's"
"""These commands lock nothing."""


def _after_inspect(folder: Path) -> str:
    """The proposed settings are whole, and every row that was set aside is there."""
    settings, aside = folder / "proposed" / "cycle.toml", folder / "proposed" / "set_aside.csv"
    if settings.exists():
        assert tomllib.loads(settings.read_text())["city"]["inventory"]
    if not aside.exists():
        return "old"
    assert settings.exists()
    pd.read_csv(aside)
    return "new"


def _after_assess(folder: Path) -> str:
    file = folder / "assessment.gpkg"
    if not file.exists():
        return "old"
    assert passes_integrity_check(file)
    assert len(layer(file, "trees")) == 3
    return "new"


def _after_calibrate(folder: Path) -> str:
    file = folder / "calibration" / "calibration.csv"
    if not file.exists():
        return "old"
    assert "factor" in pd.read_csv(file)
    return "new"


def _after_outlook(folder: Path) -> str:
    """Figures, tables and page tell of the same years, or there are no figures."""
    out = folder / "outlook"
    if not (out / "outlook.json").exists():
        return "none"
    facts = json.loads((out / "outlook.json").read_text())
    years = pd.read_csv(out / "years.csv")["year"].nunique()
    assert years == facts["years"]
    assert f"{facts['first_year'] + years - 1}" in (out / "outlook.html").read_text()
    assert years in (2, 3)
    return "old" if years == 2 else "new"


def _after_compare(folder: Path) -> str:
    """Table and chart tell of the same scenario, or there is no table."""
    table, chart = folder / "compared" / "scenarios.csv", folder / "compared" / "scenarios.svg"
    if not table.exists():
        return "none"
    (name,) = pd.read_csv(table)["scenario"]
    assert f"<!-- {name} -->" in chart.read_text()
    return {"lean": "old", "rich": "new"}[name]


def _looking_ahead(years: int) -> tuple[str, ...]:
    to = ("--budgets", "1 crews", "--out", "outlook", "--quiet")
    return ("outlook", "cycle.toml", "--years", str(years), *to)


def _comparing(scenarios: str) -> tuple[str, ...]:
    how = ("--out", "compared", "--rounds", "1", "--workers", "1", "--quiet")
    return ("compare", "cycle.toml", scenarios, *how)


RESULTS = {
    "inspect": Deed(
        ("inspect", "trees.gpkg", "--out", "proposed", "--overwrite", "--quiet"),
        NOBODY,
        _after_inspect,
    ),
    "assess": Deed(("assess", "cycle.toml", "--quiet"), NOBODY, _after_assess),
    "calibrate": Deed(("calibrate", "cycle.toml", "--quiet"), NOBODY, _after_calibrate),
    "outlook": Deed(_looking_ahead(3), NOBODY, _after_outlook, first=(_looking_ahead(2),)),
    "compare": Deed(
        _comparing("rich.csv"), NOBODY, _after_compare, first=(_comparing("lean.csv"),)
    ),
}
