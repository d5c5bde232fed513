"""From observed defects to findings: checked, brought to one unit, judged.

Only measurements are judged. The angle of a union is not among them: it was
found unrelated to strength (Gilman 2003, J. Arboriculture 29(5)).
"""

from dataclasses import dataclass, fields
from datetime import date
from typing import Self, cast

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray, codes_of, severity_of
from forestcycle.practice.set_aside import MOVE_ON, joined, lines_of

LARGEST_RATIO = 1.5
LARGEST_VALUE = 1e6
"""In whatever unit; more is a slip of the pen."""
UNIT_FACTORS = {
    "": 1.0,
    "ratio": 1.0,
    "share": 1.0,
    "count": 1.0,
    "%": 0.01,
    "percent": 0.01,
    "mm": 0.001,
    "cm": 0.01,
    "m": 1.0,
    "in": 0.0254,
    "ft": 0.3048,
}
LENGTH_UNITS = ("mm", "cm", "m", "in", "ft")
DERIVED_MEASURES = {
    "branch diameter": "aspect ratio",
    "branch length": "length to height",
    "clearance": "clearance to asked",
}
"""Measured in the field -> what the catalogue judges."""

UNMEASURED_WORD = "moderate"


@dataclass(frozen=True)
class Findings:
    """Defects of trees, one entry each.

    Attributes
    ----------
    tree : ndarray of int64
        Row of the tree.
    defect : ndarray of int64
        Code in the catalogue.
    severity : ndarray of float64
        0..1; of a prior the value expected over trees of the kind.
    branch_cm : ndarray of float64
        Diameter of the branch or stem at fault.
    branch_m : ndarray of float64
        Length of the branch where measured, else NaN.
    position : ndarray of object
        As observed, may be empty.
    observed_on : ndarray of datetime64[ns]
        NaT for a prior.
    prior : ndarray of bool
        True where no observation but a stated prior says so.
    """

    tree: IntArray
    defect: IntArray
    severity: FloatArray
    branch_cm: FloatArray
    branch_m: FloatArray
    position: npt.NDArray[np.object_]
    observed_on: npt.NDArray[np.datetime64]
    prior: npt.NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.tree)

    def take(self, rows: npt.NDArray[np.int64] | npt.NDArray[np.bool_]) -> Self:
        """Return some of the findings.

        Parameters
        ----------
        rows : (k,) int64 or (m,) bool
            Which.

        Returns
        -------
        Findings
        """
        return type(self)(*(getattr(self, field.name)[rows] for field in fields(self)))

    def followed_by(self, others: Self) -> Self:
        """Return these findings and then the others, whose entries move on by ``len(self)``.

        Parameters
        ----------
        others : Findings

        Returns
        -------
        Findings
        """
        return type(self)(
            *(
                np.concatenate([getattr(self, field.name), getattr(others, field.name)])
                for field in fields(self)
            )
        )


def no_findings() -> Findings:
    """Return findings of no tree.

    Returns
    -------
    Findings
    """
    number = np.empty(0, dtype=np.float64)
    code = np.empty(0, dtype=np.int64)
    return Findings(
        tree=code,
        defect=code,
        severity=number,
        branch_cm=number,
        branch_m=number,
        position=np.empty(0, dtype=object),
        observed_on=np.empty(0, dtype="datetime64[ns]"),
        prior=np.empty(0, dtype=np.bool_),
    )


@dataclass(frozen=True)
class Surroundings:
    """What an observation is measured against, one entry per tree.

    Attributes
    ----------
    dbh_cm, height_m : ndarray of float64
    street_clearance_m, footway_clearance_m : float
        Clear height asked for, by settings.
    """

    dbh_cm: FloatArray
    height_m: FloatArray
    street_clearance_m: float
    footway_clearance_m: float


def find(
    observations: pd.DataFrame,
    tree_ids: pd.Index,
    around: Surroundings,
    catalogue: Catalogue,
    *,
    on: date,
) -> tuple[Findings, pd.DataFrame]:
    """Turn observations into findings; set aside what cannot be true.

    Parameters
    ----------
    observations : DataFrame
        ``tree_id observed_on defect measure value unit position note``. A
        city that records a word instead of a measure writes ``minor``,
        ``moderate`` or ``severe`` as the measure (or as the unit or note of
        the measure ``severity``).
    tree_ids : Index
        Ids of the trees, in the order of ``around``.
    around : Surroundings
    catalogue : Catalogue
    on : date
        Day of the assessment; later observations are set aside.

    Returns
    -------
    findings : Findings
        The latest observation of each tree, defect and position.
    set_aside : DataFrame
        In the layout of ``Inventory.set_aside``; the trees stay in.
    """
    if observations.empty:
        return no_findings(), joined([])
    table = _in_our_terms(observations, tree_ids, around, catalogue)
    faults = _faults(table, catalogue, on)
    refused = np.zeros(len(table), dtype=np.bool_)
    rows: list[pd.DataFrame] = []
    for fault in faults:
        new = fault.bad & ~refused
        refused |= fault.bad
        if new.any():
            rows.append(lines_of(table[new], "defects", fault.field, fault.fault, fault.remedy))
    kept = _latest(table[~refused])
    return _judged(kept, around, catalogue), joined(rows)


def _in_our_terms(
    observations: pd.DataFrame, tree_ids: pd.Index, around: Surroundings, catalogue: Catalogue
) -> pd.DataFrame:
    table = observations.reset_index(drop=True).copy()
    for column in ("defect", "measure", "unit", "position", "note"):
        table[column] = table[column].fillna("").astype("str").str.strip()
    table["row"] = np.arange(len(table))
    table["tree"] = tree_ids.get_indexer(pd.Index(table["tree_id"]))
    table["key"] = _plain(table["defect"])
    table["code"] = codes_of(catalogue.names, table["key"])
    measure = _plain(table["measure"])
    table["word"] = _word(table, measure, catalogue)
    first_measures = {name: next(iter(catalogue.measures(name)), "") for name in catalogue.names}
    usual = table["key"].map(first_measures).fillna("").astype("str")
    table["asked"] = measure.where((measure != "") | table["value"].isna(), usual)
    table["judged"] = table["asked"].replace(DERIVED_MEASURES)
    table["number"] = _number(table, around)
    return table


def _plain(words: "pd.Series[str]") -> "pd.Series[str]":
    return words.str.lower().str.replace(r"[_\s]+", " ", regex=True).str.strip()


def _word(table: pd.DataFrame, measure: "pd.Series[str]", catalogue: Catalogue) -> "pd.Series[str]":
    """Find a recorded word of severity; an observation without any number gets the middle one."""
    known = catalogue.words["word"].tolist()
    word = pd.Series("", index=table.index, dtype="str")
    for source in (measure, _plain(table["unit"]), _plain(table["note"])):
        word = word.where(word != "", source.where(source.isin(known), ""))
    silent = (word == "") & table["value"].isna() & measure.isin(["", "severity"])
    word = word.mask(silent, UNMEASURED_WORD)
    return word.where(table["value"].isna() | measure.isin([*known, "severity"]), "")


def _number(table: pd.DataFrame, around: Surroundings) -> FloatArray:
    """Bring values to ratio, count or metres, and ratios to what they are measured against."""
    value = table["value"].to_numpy(dtype="float64")
    value = np.where(np.abs(value) <= LARGEST_VALUE, value, np.nan)
    unit = _plain(table["unit"])
    number = value * unit.map(UNIT_FACTORS).astype("float64").to_numpy()
    is_length = unit.isin(LENGTH_UNITS).to_numpy()
    tree = np.maximum(table["tree"].to_numpy(), 0)
    asked = table["asked"].to_numpy(dtype=object)
    street = (table["key"] == "low limb over street").to_numpy()
    clear_m = np.where(street, around.street_clearance_m, around.footway_clearance_m)
    against_m = {
        "branch diameter": around.dbh_cm[tree] / 100,
        "branch length": around.height_m[tree],
        "clearance": clear_m,
    }
    defaults = {"branch diameter": 0.01, "branch length": 1.0, "clearance": 1.0}
    for measure, reference in against_m.items():
        rows = asked == measure
        metres = np.where(is_length, number, value * defaults[measure])
        number = np.where(rows, metres / reference, number)
    in_centimetres = np.isin(asked, ["spacing", "largest diameter"])
    return np.where(in_centimetres, np.where(is_length, number * 100, value), number)


@dataclass(frozen=True)
class _Fault:
    bad: npt.NDArray[np.bool_]
    field: str
    fault: str
    remedy: str


def _faults(table: pd.DataFrame, catalogue: Catalogue, on: date) -> list[_Fault]:
    return [*_faults_of_record(table, catalogue, on), *_faults_of_value(table, catalogue)]


def _faults_of_record(table: pd.DataFrame, catalogue: Catalogue, on: date) -> list[_Fault]:
    """Which tree, which defect, when, and how it was measured."""
    measured = (table["word"] == "").to_numpy()
    known = pd.MultiIndex.from_frame(catalogue.severity[["defect", "measure"]])
    measurable = pd.MultiIndex.from_frame(table[["key", "judged"]]).isin(known)
    observed = table["observed_on"].to_numpy(dtype="datetime64[ns]")
    unit_unknown = ~_plain(table["unit"]).isin(UNIT_FACTORS).to_numpy()
    return [
        _Fault((table["tree"] < 0).to_numpy(), "tree_id", "no such tree", "correct the id"),
        _Fault((table["code"] < 0).to_numpy(), "defect", "unknown defect", "use a catalogue name"),
        _Fault(
            observed > np.datetime64(on, "ns"),
            "observed_on",
            f"observed after the day of the assessment, {on}",
            MOVE_ON,
        ),
        _Fault(
            measured & ~measurable,
            "measure",
            "not a measure of this defect",
            "use a measure of the catalogue",
        ),
        _Fault(
            measured & unit_unknown, "unit", "unknown unit", "use ratio, %, mm, cm, m, in or ft"
        ),
    ]


def _faults_of_value(table: pd.DataFrame, catalogue: Catalogue) -> list[_Fault]:
    """Numbers that no tree can have."""
    number = table["number"].to_numpy(dtype="float64")
    judged = table["judged"].to_numpy(dtype=object)
    shares = _is_share(judged, catalogue)
    cannot_be = (
        (
            ~(np.isfinite(number) & (number >= 0)),
            f"not a number from 0 to {LARGEST_VALUE:,.0f}",
            "measure again",
        ),
        (
            (judged == "aspect ratio") & (number > LARGEST_RATIO),
            f"an aspect ratio over {LARGEST_RATIO}",
            "measure branch and trunk above the union again",
        ),
        (
            (judged == "length to height") & (number > 1),
            "a branch longer than the tree is tall",
            "measure branch and height again",
        ),
        (shares & (number > 1), "a share over 1", "measure again"),
    )
    measured = (table["word"] == "").to_numpy()
    return [_Fault(measured & bad, "value", fault, remedy) for bad, fault, remedy in cannot_be]


def _is_share(judged: npt.NDArray[np.object_], catalogue: Catalogue) -> npt.NDArray[np.bool_]:
    may_pass_one = ("aspect ratio", "clearance to asked")
    table = catalogue.severity
    shares = table.loc[(table["unit"] == "ratio") & ~table["measure"].isin(may_pass_one), "measure"]
    return np.isin(judged, shares.unique().tolist())


def _latest(table: pd.DataFrame) -> pd.DataFrame:
    table = table.sort_values(["tree", "observed_on", "row"], kind="stable")
    return table.drop_duplicates(["tree", "code", "position", "asked"], keep="last")


def _judged(table: pd.DataFrame, around: Surroundings, catalogue: Catalogue) -> Findings:
    """Judge by the worst of the measures taken of one defect at one position."""
    number = table["number"].to_numpy(dtype="float64")
    words = dict(zip(catalogue.words["word"], catalogue.words["severity"], strict=True))
    severity = table["word"].map(words).to_numpy(dtype="float64", copy=True)
    groups = table.reset_index(drop=True).groupby(["key", "judged"], sort=False).indices
    for key, rows in groups.items():
        defect, measure = cast("tuple[str, str]", key)
        measured = rows[np.isnan(severity[rows])]
        if measured.size:
            severity[measured] = severity_of(catalogue, defect, measure, number[measured])
    judged = table.assign(severity=severity, branch_cm=_branch_cm(table, around))
    judged["branch_m"] = np.where(
        judged["judged"] == "length to height",
        number * around.height_m[judged["tree"].to_numpy()],
        np.nan,
    )
    judged = judged[judged["severity"] > 0]
    worst = judged.groupby(["tree", "code", "position"], sort=True, as_index=False).agg(
        severity=("severity", "max"),
        branch_cm=("branch_cm", "max"),
        branch_m=("branch_m", "max"),
        observed_on=("observed_on", "max"),
    )
    codes = worst["code"].to_numpy(dtype=np.int64)
    tree = worst["tree"].to_numpy(dtype=np.int64)
    typical = catalogue.column("branch_share", codes) * around.dbh_cm[tree]
    measured_cm = worst["branch_cm"].to_numpy(dtype="float64")
    return Findings(
        tree=tree,
        defect=codes,
        severity=worst["severity"].to_numpy(dtype="float64"),
        branch_cm=np.where(np.isnan(measured_cm), typical, measured_cm),
        branch_m=worst["branch_m"].to_numpy(dtype="float64"),
        position=worst["position"].to_numpy(dtype=object),
        observed_on=worst["observed_on"].to_numpy(dtype="datetime64[ns]"),
        prior=np.zeros(len(worst), dtype=np.bool_),
    )


def _branch_cm(table: pd.DataFrame, around: Surroundings) -> FloatArray:
    """Diameter of the branch where a ratio to the trunk or a diameter was measured."""
    number = table["number"].to_numpy(dtype="float64")
    judged = table["judged"].to_numpy(dtype=object)
    dbh_cm = around.dbh_cm[table["tree"].to_numpy()]
    by_ratio = np.where(judged == "aspect ratio", number * dbh_cm, np.nan)
    measured = np.where(judged == "largest diameter", number, by_ratio)
    return np.where((table["word"] == "").to_numpy(), measured, np.nan)
