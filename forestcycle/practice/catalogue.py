"""The catalogue of defects: how each is measured, judged, answered and what it costs."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.errors import Fault, SettingsError
from forestcycle.practice.assessment import AGE_CLASSES
from forestcycle.practice.tables import Column, load_table

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

AGE_COLUMNS = tuple(name.replace("-", "_") for name in AGE_CLASSES)
SHARE = Column("number", least=0, most=1)
DEFECT_COLUMNS = {
    "defect": Column(once=True),
    "part": Column(may_be_empty=True),
    "one_limb": Column("flag"),
    "seen_as": Column(),
    "said": Column(),
    "where": Column(may_be_empty=True),
    **{f"work_{age}": Column() for age in AGE_COLUMNS},
    **{f"dose_{age}": SHARE for age in AGE_COLUMNS},
    "weight": Column("number", least=0),
    "hazard": SHARE,
    "worsens_per_year": SHARE,
    "branch_share": SHARE,
    "reach": SHARE,
    "correctable_to": Column("number", least=0),
    "leave": Column(may_be_empty=True),
}
SEVERITY_COLUMNS = {
    "defect": Column(),
    "measure": Column(),
    "unit": Column(words=("ratio", "count", "cm", "m")),
    "value": Column("number", least=0),
    "severity": SHARE,
    "label": Column(),
}
ACTION_COLUMNS = {
    "action": Column(once=True),
    "divisible": Column("flag"),
    "first_share": SHARE,
    "cut_share": SHARE,
    "effort": SHARE,
    "reads": Column(),
}


@dataclass(frozen=True)
class Catalogue:
    """Defects in the trade's terms, and the work that answers them.

    Attributes
    ----------
    defects : DataFrame
        One row per defect; its row number is the defect's code everywhere.
        ``work_*`` names the answering actions by age class, joined by ``+``
        where a later visit does the second; ``dose_*`` is the share of live
        crown that the whole answer takes at severity 1; ``one_limb`` marks
        faults of a single limb, of which two at one position are one limb's.
    severity : DataFrame
        Points of the curve from a measured value to a severity, by defect
        and measure.
    words : DataFrame
        Severities of ``minor``, ``moderate``, ``severe``.
    actions : DataFrame
        One row per action; its row number is the action's code. ``effort``
        is the dose that takes as long as the action at severity 1 does
        beyond its own dose: dead wood is no live crown and yet takes time.
    """

    defects: pd.DataFrame
    severity: pd.DataFrame
    words: pd.DataFrame
    actions: pd.DataFrame

    @property
    def names(self) -> list[str]:
        """Defects in the order of their codes."""
        return self.defects["defect"].tolist()

    def code(self, defect: str) -> int:
        """Return the code of a defect.

        Parameters
        ----------
        defect : str
            One that the catalogue knows.

        Returns
        -------
        int
            Position in ``names``.
        """
        return self.names.index(defect)

    def action(self, action: str) -> int:
        """Return the code of an action.

        Parameters
        ----------
        action : str
            One that the catalogue knows.

        Returns
        -------
        int
            Row of ``actions``.
        """
        return self.actions["action"].tolist().index(action)

    def column(self, name: str, codes: IntArray) -> FloatArray:
        """Return a number column of ``defects`` for each code.

        Parameters
        ----------
        name : str
        codes : (k,) int64
            Rows of ``defects``.

        Returns
        -------
        (k,) float64
        """
        return self.defects[name].to_numpy(dtype="float64")[codes]

    @cached_property
    def dose_by_age(self) -> FloatArray:
        """Dose at severity 1, shape (defects, age classes)."""
        return self.defects[[f"dose_{age}" for age in AGE_COLUMNS]].to_numpy(dtype="float64")

    @cached_property
    def stages_by_age(self) -> IntArray:
        """Codes of first and second action, -1 for none, shape (defects, age classes, 2)."""
        stages = np.full((len(self.defects), len(AGE_CLASSES), 2), -1, dtype=np.int64)
        for column, age in enumerate(AGE_COLUMNS):
            for row, work in enumerate(self.defects[f"work_{age}"].tolist()):
                for stage, action in enumerate(work.split("+")):
                    stages[row, column, stage] = self.action(action)
        return stages

    def measures(self, defect: str) -> list[str]:
        """Return what may be measured for a defect, the usual measure first.

        Parameters
        ----------
        defect : str

        Returns
        -------
        list of str
        """
        rows = self.severity[self.severity["defect"] == defect]
        return list(dict.fromkeys(rows["measure"].tolist()))


def load_catalogue(*, folder: Path | None = None) -> Catalogue:
    """Load ``defects.csv``, ``severity.csv``, ``severity_words.csv`` and ``actions.csv``.

    Parameters
    ----------
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    Catalogue

    Raises
    ------
    SettingsError
        Where a table does not fit.
    """
    catalogue = Catalogue(
        defects=load_table("defects", DEFECT_COLUMNS, folder=folder),
        severity=load_table("severity", SEVERITY_COLUMNS, folder=folder),
        words=load_table("severity_words", {"word": Column(), "severity": SHARE}, folder=folder),
        actions=load_table("actions", ACTION_COLUMNS, folder=folder),
    )
    _refuse_unknown_actions(catalogue)
    return catalogue


def _refuse_unknown_actions(catalogue: Catalogue) -> None:
    work = catalogue.defects[[f"work_{age}" for age in AGE_COLUMNS]].to_numpy().ravel()
    asked = {action for cell in work for action in cell.split("+")}
    faults = [
        Fault(f"unknown action {action!r}", "defects.csv", "use a name of actions.csv")
        for action in sorted(asked - set(catalogue.actions["action"]))
    ]
    if faults:
        raise SettingsError(faults)


def curve(catalogue: Catalogue, defect: str, measure: str) -> pd.DataFrame:
    """Return the points of a severity curve, by rising value.

    Parameters
    ----------
    catalogue : Catalogue
    defect, measure : str

    Returns
    -------
    DataFrame
        Rows of ``catalogue.severity``; empty where nothing is measured so.
    """
    table = catalogue.severity
    rows = table[(table["defect"] == defect) & (table["measure"] == measure)]
    return rows.sort_values("value", kind="stable")


def severity_of(catalogue: Catalogue, defect: str, measure: str, values: FloatArray) -> FloatArray:
    """Judge measured values: straight lines between the published points.

    Parameters
    ----------
    catalogue : Catalogue
    defect, measure : str
        One that the catalogue knows.
    values : ndarray of float64
        In the unit of the curve.

    Returns
    -------
    ndarray of float64
        0..1, level beyond the first and last point.
    """
    points = curve(catalogue, defect, measure)
    known, severity = points["value"].to_numpy("float64"), points["severity"].to_numpy("float64")
    judged: FloatArray = np.interp(values, known, severity)
    return judged


def codes_of(names: Sequence[str], words: pd.Series) -> IntArray:
    """Return the position of each word in ``names``, -1 where it is none of them.

    Parameters
    ----------
    names : sequence of str
    words : Series of str, length k

    Returns
    -------
    (k,) int64
    """
    return pd.Index(names).get_indexer(pd.Index(words)).astype(np.int64)
