"""Defects that crews saw on the way: their words, turned into observations."""

import re
from collections.abc import Sequence
from difflib import get_close_matches

import pandas as pd

from forestcycle.inventory.schema import VISIT

SEPARATOR = re.compile(r"\s*[;,\n]\s*")
EDGES = " .:()-"
OBSERVATION = ["tree_id", "observed_on", "defect", "measure", "value", "unit", "position", "note"]


def observations(
    visits: pd.DataFrame, names: Sequence[str], severities: Sequence[str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read what crews wrote under ``defects_seen``.

    Several defects are parted by semicolons or commas. Each is a name of the
    catalogue, with a word of severity and a place on the tree around it where
    the crew gave them: ``severe dead wood upper crown; included bark``. What
    holds no name of the catalogue, or several, is not guessed at.

    Parameters
    ----------
    visits : DataFrame
        ``row tree_id visited_on crew defects_seen``.
    names : sequence of str
        Defects of the catalogue.
    severities : sequence of str
        Words of severity.

    Returns
    -------
    seen : DataFrame
        ``OBSERVATION`` and ``crew``; the day of the visit is that of the observation.
    not_understood : DataFrame
        ``row tree_id visited_on crew fault remedy``.
    """
    told = visits[visits["defects_seen"] != ""]
    parts = told.assign(part=told["defects_seen"].str.split(SEPARATOR)).explode("part")
    parts = parts[parts["part"].fillna("").str.strip(EDGES) != ""].reset_index(drop=True)
    read = {part: _read(part, names, severities) for part in parts["part"].unique()}
    for place, name in enumerate(("defect", "measure", "position")):
        parts[name] = [read[part][place] for part in parts["part"]]
    known = parts["defect"] != ""
    seen = parts[known].rename(columns={"visited_on": "observed_on"})
    seen = seen.assign(value=float("nan"), unit="", note=seen["defects_seen"])
    strange = parts[~known]
    fault = "defect seen not in the catalogue: " + strange["part"].map(repr).astype("str")
    remedies = {part: _remedy(part, names) for part in strange["part"].unique()}
    not_understood = strange[["row", *VISIT]].assign(
        fault=fault, remedy=strange["part"].map(remedies).astype("str")
    )
    return (
        seen[[*OBSERVATION, "crew"]].reset_index(drop=True),
        not_understood.reset_index(drop=True),
    )


def _read(part: str, names: Sequence[str], severities: Sequence[str]) -> tuple[str, str, str]:
    """Return defect, severity and position; no defect where it is not certain."""
    text = " ".join(part.casefold().replace("_", " ").split())
    found = [name for name in names if _whole(name).search(text)]
    if len(found) != 1:
        return "", "", ""
    rest = _whole(found[0]).sub(" ", text)
    said = [word for word in severities if _whole(word).search(rest)]
    for word in said:
        rest = _whole(word).sub(" ", rest)
    return found[0], said[0] if len(said) == 1 else "", " ".join(rest.split()).strip(EDGES)


def _whole(words: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(words)}(?!\w)")


def _remedy(part: str, names: Sequence[str]) -> str:
    close = get_close_matches(part.casefold(), names, n=1)
    hint = f"did you mean {close[0]!r}? " if close else ""
    return f"{hint}recorded as written; an inspector can enter it"
