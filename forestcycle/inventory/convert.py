"""Turn a city's columns into ours: text, numbers, dates, words, lengths."""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

CENTIMETRES: Mapping[str, float] = {"mm": 0.1, "cm": 1.0, "m": 100.0, "in": 2.54, "ft": 30.48}
"""Centimetres in each unit; inch and foot are exact by the international yard
and pound agreement of 1959 (NIST Special Publication 811, appendix B)."""

BLANKS = frozenset({"", "null", "<null>", "(null)", "nan", "nat", "n/a", "#n/a", "na"})
FIRST_YEAR, LAST_YEAR = 1700, 2200
FAR_PAST, FAR_FUTURE = pd.Timestamp(FIRST_YEAR, 1, 1), pd.Timestamp(LAST_YEAR, 12, 31)


def centimetres(values: Floats, unit: str) -> Floats:
    """Convert lengths to centimetres.

    Parameters
    ----------
    values : (n,) float64
    unit : str
        One of ``mm cm m in ft``.

    Returns
    -------
    (n,) float64
    """
    with np.errstate(over="ignore"):  # infinite, and set aside as such
        return values * CENTIMETRES[unit]


def metres(values: Floats, unit: str) -> Floats:
    """Convert lengths to metres.

    Parameters
    ----------
    values : (n,) float64
    unit : str
        One of ``mm cm m in ft``.

    Returns
    -------
    (n,) float64
    """
    return centimetres(values, unit) / 100


def text(column: pd.Series) -> pd.Series:
    """Make clean text of a column.

    Parameters
    ----------
    column : Series
        Of any dtype. Whole numbers that a missing value turned into floats
        become whole again, so that id 17.0 reads ``17``.

    Returns
    -------
    Series of str
        Runs of white space (line ends and non-breaking ones too) become one
        space; missing values and words for it (``NULL``, ``n/a``) become
        empty text.
    """
    if pd.api.types.is_float_dtype(column):
        column = _without_point_zero(column)
    codes, uniques = pd.factorize(column)
    cleaned = [_clean(value) for value in uniques]
    lookup = np.array([*cleaned, ""], dtype=object)  # code -1, missing, reads the last
    return pd.Series(lookup[codes], index=column.index, dtype="str")


def _without_point_zero(column: pd.Series) -> pd.Series:
    values = column.to_numpy(dtype=float, na_value=np.nan)
    present = np.isfinite(values)
    whole = present & (values == np.round(values)) & (np.abs(values) < 2**53)
    shown = column.astype(object)
    shown[whole] = values[whole].astype(np.int64)
    return shown


def _clean(value: object) -> str:
    cleaned = " ".join(str(value).split())
    return "" if cleaned.casefold() in BLANKS else cleaned


def numbers(column: pd.Series) -> tuple[Floats, Mask]:
    """Read numbers.

    Parameters
    ----------
    column : Series
        Of any dtype.

    Returns
    -------
    values : (n,) float64
        NaN where missing or no finite number.
    is_text : (n,) bool
        True where something stands that is no finite number.
    """
    if pd.api.types.is_numeric_dtype(column):
        values = column.to_numpy(dtype=float, na_value=np.nan)
        infinite: Mask = np.isinf(values)
        return np.where(infinite, np.nan, values), infinite
    cells = text(column)
    values = pd.to_numeric(cells, errors="coerce").to_numpy(dtype=float)
    bad: Mask = ~np.isfinite(values) & (cells != "").to_numpy(dtype=bool)
    return np.where(np.isfinite(values), values, np.nan), bad


def dates(column: pd.Series, *, day_first: bool | None = None) -> tuple[pd.Series, Mask]:
    """Read dates: true dates, ISO text, years, and slashed or dotted day-month-year.

    Parameters
    ----------
    column : Series
        Of any dtype. A bare year stands for the middle of it, 1 July. Whether
        12/3/2024 means March or December is settled by the column's other
        dates; where they do not settle it, it is not read.
    day_first : bool, optional
        Settles it for all slashed dates.

    Returns
    -------
    dates : Series of datetime64[ns]
        Midnight of the day; NaT where missing or not readable.
    bad : (n,) bool
        True where something stands that cannot be read.
    """
    if pd.api.types.is_datetime64_any_dtype(column):
        days = column.dt.tz_localize(None) if column.dt.tz is not None else column
        kept = days.where(days.between(FAR_PAST, FAR_FUTURE))
        return _whole_days(kept), (kept.isna() & column.notna()).to_numpy(dtype=bool)
    cells = text(column)
    codes, uniques = pd.factorize(cells)
    read = _read_dates(pd.Series(uniques, dtype="str"), day_first=day_first)
    values = _whole_days(pd.Series(read.to_numpy()[codes], index=column.index))
    return values, (values.isna() & (cells != "")).to_numpy(dtype=bool)


def _whole_days(days: pd.Series) -> pd.Series:
    return days.astype("datetime64[ns]").dt.normalize()


def _read_dates(cells: pd.Series, *, day_first: bool | None) -> pd.Series:
    """Read distinct cells, the surest form first; later forms fill what is left."""
    bare = cells.str.replace(
        r"[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?( ?[AaPp][Mm]|Z|[+-]\d{2}(:?\d{2})?)?$", "", regex=True
    )
    year = pd.to_numeric(bare.where(bare.str.fullmatch(r"\d{4}(\.0)?")), errors="coerce")
    year = year.where(year.between(FIRST_YEAR, LAST_YEAR))
    found = pd.to_datetime(year.map("{:.0f}-07-01".format, na_action="ignore"), errors="coerce")
    for pattern, layout in (
        (r"\d{4}-\d{1,2}-\d{1,2}", "%Y-%m-%d"),
        (r"\d{4}/\d{1,2}/\d{1,2}", "%Y/%m/%d"),
        (r"\d{8}", "%Y%m%d"),
        (r"\d{1,2}\.\d{1,2}\.\d{4}", "%d.%m.%Y"),
        (r"\d{1,2}/\d{1,2}/\d{4}", _slashed_layout(bare, day_first=day_first)),
    ):
        fits = bare.where(bare.str.fullmatch(pattern))
        found = found.fillna(pd.to_datetime(fits, format=layout, errors="coerce"))
    return found.where(found.between(FAR_PAST, FAR_FUTURE)).astype("datetime64[ns]")


def _slashed_layout(cells: pd.Series, *, day_first: bool | None) -> str:
    """Settle day/month or month/day by the dates that can only be one of them, unless told."""
    if day_first is None:
        parts = cells.str.extract(r"^(\d{1,2})/(\d{1,2})/\d{4}$").astype(float)
        has_day_first, has_month_first = bool((parts[0] > 12).any()), bool((parts[1] > 12).any())
        if has_day_first == has_month_first:
            return "neither"  # a layout that no date fits
        day_first = has_day_first
    return "%d/%m/%Y" if day_first else "%m/%d/%Y"


def words(
    column: pd.Series, meanings: Mapping[str, str], known: Sequence[str]
) -> tuple[pd.Series, Mask]:
    """Translate the city's words into a fixed set of ours.

    Parameters
    ----------
    column : Series
    meanings : mapping of str to str
        The city's word to ours; case and outer spaces do not matter.
    known : sequence of str
        Our words, which also stand for themselves.

    Returns
    -------
    words : Series of str
        Empty where missing or without a meaning.
    bad : (n,) bool
        True where a word stands that has no meaning.
    """
    lookup = {word.casefold(): word for word in known}
    lookup |= {_clean_key(word): meaning for word, meaning in meanings.items()}
    raw = pd.Series(column).astype(object).where(column.notna(), "").astype(str)
    codes, uniques = pd.factorize(raw)
    found = np.array([lookup.get(_clean_key(word), "") for word in uniques], dtype=object)
    blank = np.array([_clean(word) == "" for word in uniques], dtype=bool)
    translated = pd.Series(found[codes], index=column.index, dtype="str")
    bad: Mask = (found == "")[codes] & ~blank[codes]
    return translated, bad


def _clean_key(word: object) -> str:
    return " ".join(str(word).split()).casefold()
