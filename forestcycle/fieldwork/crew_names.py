"""Crew names as people write them, brought to how the city writes them."""

from collections.abc import Sequence
from difflib import get_close_matches

import pandas as pd

from forestcycle.inventory.schema import VISIT


def as_the_city_writes(written: pd.Series, names: Sequence[str]) -> pd.Series:
    """Correct capitals and blanks of crew names, so that one crew is not taken for two.

    Parameters
    ----------
    written : Series of str
    names : sequence of str
        As they should be written. Of those that differ in nothing else, the first counts
        for what is none of them.

    Returns
    -------
    Series of str
        What is no name of a crew stays as it is.
    """
    first = {_plain(name): name for name in reversed(names)}
    found = {
        word: word if word in names else first.get(_plain(word), word) for word in written.unique()
    }
    return written.map(found).astype("str")


def strangers(new: pd.DataFrame, names: Sequence[str]) -> pd.DataFrame:
    """Name crews that the city does not know, each once.

    Parameters
    ----------
    new : DataFrame
        ``row tree_id visited_on crew``.
    names : sequence of str

    Returns
    -------
    DataFrame
        ``row tree_id visited_on crew fault remedy``.
    """
    unknown = new[~new["crew"].isin(list(names))]
    counts = unknown["crew"].value_counts()
    first = unknown[["row", *VISIT]].drop_duplicates("crew")
    faults = [f"no crew of this name is known ({counts[name]:,} returns)" for name in first["crew"]]
    return first.assign(fault=faults, remedy=[_remedy(name, names) for name in first["crew"]])


def _remedy(name: str, names: Sequence[str]) -> str:
    close = get_close_matches(name, names, n=1)
    hint = f"did you mean {close[0]!r}? " if close else ""
    return f"{hint}recorded as told; undo if it is misspelt"


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()
