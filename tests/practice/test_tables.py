"""Loading practice tables."""

from pathlib import Path

import pandas as pd
import pytest

import forestcycle.practice
from forestcycle.errors import SettingsError
from forestcycle.practice.tables import Column, load_table
from forestcycle.practice.visits import load_packing_rules

SHIPPED = Path(forestcycle.practice.__file__).parent / "tables"
COLUMNS = {
    "name": Column(),
    "size": Column("number", may_be_empty=True, least=0, most=5),
    "count": Column("whole", least=0),
    "in_use": Column("flag"),
    "day": Column("month_day"),
    "word": Column(words=("one", "two")),
}
GOOD = "word,name,size,count,in_use,day,source,remark\none,a,,3,yes,02-29,own,x\n"


def test_reads_typed_columns_in_the_order_asked_for(tmp_path):
    (tmp_path / "own.csv").write_text(GOOD)
    table = load_table("own", COLUMNS, folder=tmp_path)
    assert list(table.columns) == [*COLUMNS, "source"]
    row = table.iloc[0]
    assert row["count"] == 3
    assert row["in_use"]
    assert table["size"].isna().all()
    assert table["size"].dtype == "float64"


def test_a_file_of_the_city_replaces_ours(tmp_path):
    (tmp_path / "palms.csv").write_text("size,height_m,source\nsmall,9,own survey\n")
    columns = {"size": Column(), "height_m": Column("number")}
    assert load_table("palms", columns, folder=tmp_path)["height_m"].tolist() == [9.0]
    assert len(load_table("palms", columns)) == 3


def test_a_table_the_city_does_not_have_is_ours(tmp_path):
    columns = {"size": Column(), "height_m": Column("number")}
    assert load_table("palms", columns, folder=tmp_path).equals(load_table("palms", columns))


def test_reports_all_cells_that_do_not_fit(tmp_path):
    head = "name,size,count,in_use,day,word,source\n"
    text = head + ",9,1.5,maybe,02-30,three,\nb,nan,x,no,13-01,one,s\n"
    (tmp_path / "own.csv").write_text(text)
    with pytest.raises(SettingsError) as caught:
        load_table("own", COLUMNS, folder=tmp_path)
    assert len(caught.value.faults) == 10
    assert all(str(tmp_path) in fault.where for fault in caught.value.faults)


def test_reports_all_missing_columns(tmp_path):
    (tmp_path / "own.csv").write_text("name\na\n")
    with pytest.raises(SettingsError) as caught:
        load_table("own", COLUMNS, folder=tmp_path)
    assert len(caught.value.faults) == 6


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"name,source\n", b'a,b\n"1,2\n3,4,5\n'])
def test_a_file_that_is_no_table_is_a_settings_error(tmp_path, content):
    (tmp_path / "own.csv").write_bytes(content)
    with pytest.raises(SettingsError):
        load_table("own", {"name": Column()}, folder=tmp_path)


def test_a_missing_folder_is_a_settings_error(tmp_path):
    with pytest.raises(SettingsError, match="no such folder"):
        load_table("palms", {"size": Column()}, folder=tmp_path / "gone")


@pytest.mark.parametrize("path", sorted(SHIPPED.glob("*.csv")), ids=lambda path: path.stem)
def test_every_row_of_a_shipped_table_names_its_source(path):
    sources = pd.read_csv(path, dtype=str, keep_default_na=False)["source"]
    assert (sources.str.strip() != "").all()


def test_a_row_that_is_looked_up_stands_there_once(tmp_path):
    (tmp_path / "packing_rules.csv").write_text(
        "rule,value,source\nleast part,0.1,own\nleast part,0.2,own\n"
    )
    with pytest.raises(SettingsError) as caught:
        load_packing_rules(folder=tmp_path)
    assert [fault.what for fault in caught.value.faults] == [
        "no row for 'finish'",
        "'least part' stands in two rows",
    ]


def test_rows_longer_than_the_header_are_refused(tmp_path):
    (tmp_path / "own.csv").write_text("name,source\na,b,c\n")
    with pytest.raises(SettingsError, match="longer than the header"):
        load_table("own", {"name": Column()}, folder=tmp_path)
