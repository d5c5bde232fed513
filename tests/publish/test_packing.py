"""What is packed in Python comes out the same in the browser."""

import struct
import zlib
from base64 import b64decode

import numpy as np
import pandas as pd
import pytest

from forestcycle.publish.packing import (
    category_column,
    date_column,
    number_column,
    pack,
    path_column,
    text_column,
)
from forestcycle.publish.page import Page

ROWS = 1_000
pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def table() -> pd.DataFrame:
    random = np.random.default_rng(3)
    numbers = random.uniform(0, 5_000, ROWS).round(1)
    numbers[::7] = np.nan
    dates = pd.Series(
        pd.Timestamp("1968-02-29") + pd.to_timedelta(random.integers(0, 40_000, ROWS), unit="D")
    )
    dates[::5] = pd.NaT
    return pd.DataFrame(
        {
            "number": numbers,
            "date": dates,
            "path": random.integers(0, 2**28, ROWS),
            "many": [f"id {i} é 🌳 </script>" for i in range(ROWS)],
            "few": random.choice(["", "Żółta", "<b>"], ROWS),
            "class": random.choice(["young", "old", "unheard of"], ROWS),
        }
    )


def packed(table: pd.DataFrame) -> str:
    return pack(
        [
            number_column("number", table["number"].to_numpy(), step=0.1),
            date_column("date", table["date"]),
            path_column("path", table["path"].to_numpy()),
            text_column("many", table["many"]),
            text_column("few", table["few"]),
            category_column("class", table["class"], ["young", "old"]),
        ]
    )


READ = """() => unpack('data').then((columns) => {
  const rows = [...Array(columns.path.rows).keys()];
  return {
    number: rows.map((row) => columns.number.value(row)),
    date: rows.map((row) => columns.date.value(row)),
    path: [...columns.path.positions],
    many: rows.map((row) => columns.many.text(row)),
    few: rows.map((row) => columns.few.text(row)),
    class: rows.map((row) => columns.class.text(row)),
    words: columns.class.vocabulary,
    found: columns.many.find('ID 77', 99),
    few_found: columns.few.find('żÓŁ', 1e6),
  };
})"""


@pytest.mark.parametrize("before", ["", "delete window.DecompressionStream"])
def test_every_value_comes_back(table, opened, tmp_path, before):
    page = Page("t", styles=[], scripts=["tiny_inflate/index.js", "packing.js"])
    page.add_data("data", packed(table), kind="text/plain")
    path = tmp_path / "page.html"
    path.write_text(page.render(), encoding="utf-8")
    read = opened(path, before=before).page.evaluate(READ)
    np.testing.assert_allclose(np.array(read["number"], float), table["number"], atol=0.05)
    days = (table["date"] - pd.Timestamp("1970-01-01")) / pd.Timedelta(days=1)
    np.testing.assert_array_equal(np.array(read["date"], float), days)
    assert read["path"] == table["path"].tolist()
    assert read["many"] == table["many"].tolist()
    assert read["few"] == table["few"].tolist()
    assert read["class"] == table["class"].tolist()
    assert read["words"] == ["young", "old", "unheard of"]
    assert read["found"] == [77, *range(770, 780)]
    assert read["few_found"] == np.flatnonzero(table["few"] == "Żółta").tolist()


def test_the_bytes_are_zlib_behind_their_length(table):
    raw = b64decode(packed(table))  # RFC 4648; the rest is RFC 1950
    assert len(zlib.decompress(raw[4:])) == struct.unpack("<I", raw[:4])[0]


def test_an_empty_table_packs():
    assert packed(
        pd.DataFrame(
            {name: [] for name in ("number", "path")}
            | {"date": pd.Series([], dtype="datetime64[ns]")}
            | {name: pd.Series([], dtype=str) for name in ("many", "few", "class")}
        ).astype({"path": "int64", "number": float})
    )
