"""The few ways in which forestcycle says no.

Every class subclasses a builtin, carries the faults it found, and is caught
once, in ``forestcycle.cli``. A fault is one line: what is wrong, where, and
what to do about it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Self

MOST_FAULTS_SHOWN = 20
MOST_NAMES_SHOWN = 20


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong.

    Attributes
    ----------
    what : str
        What is wrong, with the offending value.
    where : str
        File, layer, row id, field or settings key.
    remedy : str
        What the reader can do about it.
    """

    what: str
    where: str = ""
    remedy: str = ""

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        remedy = f" -> {self.remedy}" if self.remedy else ""
        return f"{place}{self.what}{remedy}"


def nearest_name(name: str, known: Sequence[str]) -> str:
    """Say in place of a name that is not known which was meant, or which there are.

    Parameters
    ----------
    name : str
    known : sequence of str

    Returns
    -------
    str
        A remedy for a :class:`Fault`.
    """
    close = get_close_matches(name, known, n=1)
    if close:
        return f"did you mean {close[0]!r}?"
    more = ", ..." if len(known) > MOST_NAMES_SHOWN else ""
    return f"known: {', '.join(known[:MOST_NAMES_SHOWN]) or 'none'}{more}"


class FaultList(Exception):  # noqa: N818 - a base, never raised itself
    """Base: an exception that reports all its faults at once."""

    faults: tuple[Fault, ...]

    def __init__(self, faults: Fault | Sequence[Fault]) -> None:
        self.faults = (faults,) if isinstance(faults, Fault) else tuple(faults)
        lines = [str(fault) for fault in self.faults[:MOST_FAULTS_SHOWN]]
        hidden = len(self.faults) - len(lines)
        if hidden > 0:
            lines.append(f"... and {hidden:,} more faults of this kind")
        super().__init__("\n".join(lines))

    def __reduce__(self) -> tuple[type[Self], tuple[tuple[Fault, ...]]]:
        """Keep the faults on the way from one process to another."""
        return type(self), (self.faults,)


class SettingsError(FaultList, ValueError):
    """``cycle.toml`` says something that cannot be followed."""


class InventoryError(FaultList, ValueError):
    """The inventory cannot be read, or holds nothing that can be used."""


class PlanError(FaultList, ValueError):
    """No plan exists under the given settings."""


class StoreError(FaultList, OSError):
    """A file or folder cannot be read or written; what was there still is."""


class WorkerError(FaultList, RuntimeError):
    """Workers that were to do the work are gone, or cannot be reached."""
