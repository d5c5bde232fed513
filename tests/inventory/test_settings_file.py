"""The proposed settings load, and open the file they were made from."""

import csv
import io
import tempfile
from pathlib import Path

import pandas as pd
import pyogrio
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.errors import StoreError
from forestcycle.inventory import inspect_file, open_inventory, write_set_aside, write_settings
from forestcycle.inventory.set_aside import SetAside
from forestcycle.inventory.settings_file import set_aside_text
from forestcycle.settings import load_settings
from tests.inventory.cities import trees, write


def test_what_is_written_opens_the_file(tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    table = trees(condition=["Good", "Odd"] * 10).rename(columns={"dbh": "DBH (in)"})
    findings = inspect_file(write(tmp_path / "data", {"trees": table}))
    path = tmp_path / "plan" / "cycle.toml"
    write_settings(findings, path)
    loaded = load_settings(path)
    assert loaded.city.inventory == "../data/city.gpkg"
    assert loaded.trees == findings.settings.trees  # type: ignore[union-attr]
    assert len(loaded.crews) == 3
    assert (loaded.publish.paper, loaded.publish.units) == ("Letter", "us")
    inventory = open_inventory(loaded, path.parent)
    assert inventory.trees["dbh_cm"][0] == 20 * 2.54
    assert '# "Odd" = ?' in path.read_text(encoding="utf-8")


def test_a_file_there_is_never_overwritten_unasked(tmp_path: Path) -> None:
    findings = inspect_file(write(tmp_path, {"trees": trees()}))
    path = tmp_path / "cycle.toml"
    path.write_text("mine")
    with pytest.raises(StoreError, match="is there already"):
        write_settings(findings, path)
    assert path.read_text() == "mine"
    write_settings(findings, path, overwrite=True)
    assert load_settings(path).city.inventory == "city.gpkg"


NAMES = st.text(
    st.characters(blacklist_categories=("Cs",), blacklist_characters="\0"), min_size=1, max_size=8
).filter(lambda name: name.strip() and name.casefold() not in {"fid", "geom", "id", "dbh"})


@settings(max_examples=20, deadline=None)
@given(field=NAMES, word=NAMES)
def test_no_name_or_word_breaks_the_file(field: str, word: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        table = trees(4).rename(columns={"species": field})
        table["condition"] = ["Good", "Fair", "Poor", word]
        path = Path(folder) / "city.gpkg"
        pyogrio.write_dataframe(table, path, layer="trees")
        findings = inspect_file(path)
        write_settings(findings, Path(folder) / "cycle.toml")
        assert findings.settings is not None
        assert load_settings(Path(folder) / "cycle.toml").trees == findings.settings.trees


def test_formulas_in_cells_are_inert() -> None:
    """The first characters that spreadsheets take for a formula: OWASP, CSV injection."""
    hostile = ["=1+1", "+cmd", "-2+3", "@SUM(A1)", "\t=1", 'plain, "quoted"', "-8.5"]
    aside = SetAside("trees", pd.Series(hostile))
    everywhere = pd.Series([True] * len(hostile)).to_numpy()
    aside.add(everywhere, "dbh", pd.Series(hostile), "diameter not a number", "write a number")
    rows = list(csv.DictReader(io.StringIO(set_aside_text(aside.table()), newline="")))
    assert [row["value"] for row in rows] == [
        "'=1+1", "'+cmd", "'-2+3", "'@SUM(A1)", "'\t=1", 'plain, "quoted"', "-8.5",
    ]  # fmt: skip
    assert {row["used"] for row in rows} == {"no"}


def test_set_aside_rows_are_written_one_per_fault(tmp_path: Path) -> None:
    table = trees(dbh=[0.0, -1.0] + [9.0] * 18, condition=["Dead"] + ["Good"] * 19)
    findings = inspect_file(write(tmp_path, {"trees": table}))
    write_set_aside(findings, tmp_path / "set_aside.csv")
    with (tmp_path / "set_aside.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [(row["row"], row["fault"]) for row in rows] == [
        ("0", "diameter zero"), ("0", "tree dead"), ("1", "diameter negative"),
    ]  # fmt: skip
