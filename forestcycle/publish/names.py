"""File names from crew names and dates, safe on every system."""

import re
from dataclasses import dataclass
from datetime import date
from hashlib import sha256

LONGEST = 60
RESERVED = frozenset(
    ["con", "prn", "aux", "nul"] + [f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10)]
)


def safe_name(text: str) -> str:
    """Turn any text into one file name without a suffix.

    Letters and digits of any script, spaces, hyphens and underscores stay. A name that had
    to change ends in eight hexadecimal digits of its SHA-256, so that two names never become one.

    Parameters
    ----------
    text : str
        A crew's name, a ``crew_day_id``, a date.

    Returns
    -------
    str
        Never empty, without path separators, dots or leading and trailing spaces.
    """
    cleaned = re.sub(r"[^\w \-]+", "-", text).strip(" -")[:LONGEST].strip(" -")
    if cleaned and cleaned == text and cleaned.casefold() not in RESERVED:
        return cleaned
    mark = sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return f"{cleaned}-{mark}".lstrip("-")


@dataclass(frozen=True)
class PaperPath:
    """Where the papers of crews' days or weeks lie, relative to the plan's folder.

    Attributes
    ----------
    pattern : str
        With ``{crew}``, and ``{day}`` in the layout wanted, such as ``{day:%G-W%V}`` for its week.
    """

    pattern: str

    def __call__(self, crew: str, day: date) -> str:
        """Name the paper of a crew, as the plan has it, for a day or the week of that day."""
        return self.pattern.format(crew=safe_name(crew), day=day)
