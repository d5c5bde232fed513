"""Columns become text, numbers, dates and words of ours."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.inventory.convert import centimetres, dates, metres, numbers, text, words


def test_exact_lengths() -> None:
    """NIST Special Publication 811 (2008), B.8: inch 2.54 cm, foot 0.3048 m, both exact."""
    one = np.array([1.0])
    assert centimetres(one, "in")[0] == 2.54
    assert metres(one, "ft")[0] == pytest.approx(0.3048, rel=1e-15)
    assert metres(one, "in")[0] == pytest.approx(0.0254, rel=1e-15)
    assert centimetres(one, "mm")[0] == pytest.approx(0.1)
    assert centimetres(one, "m")[0] == 100


def test_ids_stay_whole() -> None:
    assert text(pd.Series([17.0, None, 2.5])).tolist() == ["17", "", "2.5"]
    assert text(pd.Series(["007", " a\u00a0\n b ", "NULL", "n/a"])).tolist() == [
        "007",
        "a b",
        "",
        "",
    ]


def test_numbers_and_what_is_none() -> None:
    values, is_text = numbers(pd.Series(["1.5", " 2 ", "", None, "inf", "1,250", "12 in"]))
    np.testing.assert_array_equal(values, [1.5, 2, np.nan, np.nan, np.nan, np.nan, np.nan])
    assert is_text.tolist() == [False, False, False, False, True, True, True]
    assert numbers(pd.Series([1.0, np.inf]))[1].tolist() == [False, True]


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False)))
def test_numbers_written_are_numbers_read(values: list[float]) -> None:
    read, is_text = numbers(pd.Series([repr(value) for value in values], dtype="str"))
    assert read.tolist() == values
    assert not is_text.any()


@given(st.lists(st.dates(date(1800, 1, 1), date(2199, 12, 31))))
def test_iso_dates_come_back(days: list[date]) -> None:
    read, bad = dates(pd.Series([day.isoformat() for day in days], dtype="str"))
    assert [stamp.date() for stamp in read] == days
    assert not bad.any()


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        (["1999", "2001.0"], ["1999-07-01", "2001-07-01"]),
        (["3/14/2020", "4/3/2020"], ["2020-03-14", "2020-04-03"]),
        (["14/3/2020", "4/3/2020"], ["2020-03-14", "2020-03-04"]),
        (["4/3/2020"], [None]),
        (["14/3/2020", "3/14/2020"], [None, None]),
        (["05.03.2021", "20200229"], ["2021-03-05", "2020-02-29"]),
        (["2021-02-29", "soon"], [None, None]),
        (["2020-01-05T10:20:00Z", "2020-01-05 10:20:00+02"], ["2020-01-05", "2020-01-05"]),
    ],
)
def test_dates_are_read_only_when_certain(cells: list[str], expected: list[str | None]) -> None:
    read, bad = dates(pd.Series(cells))
    shown = [None if pd.isna(day) else f"{day:%Y-%m-%d}" for day in read]
    assert shown == expected
    assert bad.tolist() == [day is None for day in expected]


def test_true_dates_lose_their_time_of_day() -> None:
    column = pd.Series(pd.to_datetime(["2020-05-06 17:30", None], utc=True))
    read, bad = dates(column)
    assert read.dtype == "datetime64[ns]"
    assert read[0] == pd.Timestamp(2020, 5, 6)
    assert not bad.any()


def test_words_translate_whatever_their_case() -> None:
    column = pd.Series(["Good ", "DEAD", None, "?", "None"])
    translated, bad = words(column, {"good": "good"}, ["dead", "none"])
    assert translated.tolist() == ["good", "dead", "", "", "none"]
    assert bad.tolist() == [False, False, False, True, False]
