"""What a city's words for condition, conductors and status most likely mean."""

from collections.abc import Iterable, Mapping

import pandas as pd

from forestcycle.inventory.convert import text
from forestcycle.inventory.schema import UNKNOWN

CONDITION_WORDS: Mapping[str, str] = {
    "excellent": "good",
    "very good": "good",
    "good": "good",
    "healthy": "good",
    "fair": "fair",
    "moderate": "fair",
    "average": "fair",
    "satisfactory": "fair",
    "poor": "poor",
    "very poor": "poor",
    "bad": "poor",
    "critical": "poor",
    "declining": "poor",
    "dying": "poor",
    "dead": "dead",
    "deceased": "dead",
    "unknown": UNKNOWN,
}
CONDUCTOR_WORDS: Mapping[str, str] = {
    "high voltage": "high_voltage",
    "high": "high_voltage",
    "hv": "high_voltage",
    "primary": "high_voltage",
    "transmission": "high_voltage",
    "low voltage": "low_voltage",
    "low": "low_voltage",
    "lv": "low_voltage",
    "secondary": "low_voltage",
    "service drop": "low_voltage",
    "none": "none",
    "no": "none",
    "no wires": "none",
    "no lines": "none",
    "no conductors": "none",
    "no utilities": "none",
}
"""Any other word means ``unknown``: "no high voltage" or "yes" does not say
what is there, and a crew must not be told that nothing is."""
STATUS_WORDS: Mapping[str, str] = {
    "standing": "standing",
    "active": "standing",
    "alive": "standing",
    "living": "standing",
    "live": "standing",
    "present": "standing",
    "existing": "standing",
    "planted": "standing",
    "tree": "standing",
    "removed": "removed",
    "stump": "removed",
    "vacant": "removed",
    "vacant site": "removed",
    "empty": "removed",
    "planting site": "removed",
    "available site": "removed",
    "felled": "removed",
    "retired": "removed",
    "inactive": "removed",
    "deleted": "removed",
    "dead": "standing",
}
WORDS = {"condition": CONDITION_WORDS, "conductors": CONDUCTOR_WORDS, "status": STATUS_WORDS}
MOST_WORDS = 60


def propose_meanings(key: str, column: pd.Series) -> tuple[dict[str, str], list[str]]:
    """Propose our word for each of the city's.

    Parameters
    ----------
    key : str
        ``condition``, ``conductors`` or ``status``.
    column : Series

    Returns
    -------
    meanings : dict of str to str
        The city's word, as written, to ours.
    open_words : list of str
        Words that someone must decide on.
    """
    filled = column.dropna().astype(str)
    found = [word for word in filled.unique() if word.strip()]
    if len(found) > MOST_WORDS:
        return {}, []
    known = WORDS[key]
    meanings = {word: known[_key(word)] for word in found if _key(word) in known}
    others = [word for word in found if _key(word) not in known and text(pd.Series([word]))[0]]
    if key == "conductors":
        return meanings | dict.fromkeys(others, UNKNOWN), []
    return meanings, sorted(others)


def share_understood(key: str, column: pd.Series) -> float:
    """Tell which share of a column's distinct words have a likely meaning.

    Parameters
    ----------
    key : str
        ``condition``, ``status`` or ``conductors``.
    column : Series

    Returns
    -------
    float
        0 to 1; 0 where the column is empty.
    """
    found = _distinct(column)
    return sum(word in WORDS[key] for word in found) / max(len(found), 1)


def _distinct(column: pd.Series) -> set[str]:
    words: Iterable[object] = column.dropna().unique()
    return {_key(str(word)) for word in words if str(word).strip()}


def _key(word: str) -> str:
    return " ".join(word.replace("_", " ").replace("-", " ").split()).casefold()
