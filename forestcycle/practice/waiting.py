"""What a fault costs later: the same work in 5, 10 or 15 years."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forestcycle.practice.catalogue import Catalogue, FloatArray
from forestcycle.practice.defects import Findings
from forestcycle.practice.wounds import Wounds


@dataclass(frozen=True)
class Later:
    """Findings as they stand after some years of waiting, one entry each.

    Attributes
    ----------
    years : float
    branch_cm : ndarray of float64
        Diameter of the branch at fault, which is also the cut that removes it.
    severity : ndarray of float64
    dose_factor : ndarray of float64
        Dose needed over the dose needed now.
    closes : ndarray of bool
        Whether the cut stays within what the tree closes well.
    correctable : ndarray of bool
        Whether the fault can still be corrected and not only reduced.
    """

    years: float
    branch_cm: FloatArray
    severity: FloatArray
    dose_factor: FloatArray
    closes: npt.NDArray[np.bool_]
    correctable: npt.NDArray[np.bool_]


def after(
    years: float,
    findings: Findings,
    catalogue: Catalogue,
    wounds: Wounds,
    *,
    dbh_cm: FloatArray,
    later_dbh_cm: FloatArray,
    mature_dbh_cm: FloatArray,
) -> Later:
    """Let findings stand for some years.

    A branch left alone keeps pace with its trunk, since both thicken with
    the leaves they carry; the fault worsens by ``worsens_per_year`` of the
    catalogue. Both are modelling choices; the trunk grows by the published
    equations.

    Parameters
    ----------
    years : float
    findings : Findings
    catalogue : Catalogue
    wounds : Wounds
    dbh_cm, later_dbh_cm, mature_dbh_cm : ndarray of float64
        One entry per tree.

    Returns
    -------
    Later
    """
    ratio = later_dbh_cm[findings.tree] / dbh_cm[findings.tree]
    branch_cm = findings.branch_cm * np.maximum(ratio, 1)
    worse = years * catalogue.column("worsens_per_year", findings.defect)
    severity = np.minimum(findings.severity + worse * findings.severity.clip(0.25), 1.0)
    severity = np.maximum(severity, findings.severity)
    relative = later_dbh_cm[findings.tree] / mature_dbh_cm[findings.tree]
    return Later(
        years=years,
        branch_cm=branch_cm,
        severity=severity,
        dose_factor=severity / findings.severity,
        closes=branch_cm <= wounds.largest_cm,
        correctable=relative <= catalogue.column("correctable_to", findings.defect),
    )


def years_left(
    findings: Findings,
    catalogue: Catalogue,
    wounds: Wounds,
    *,
    dbh_cm: FloatArray,
    growth_cm_per_year: FloatArray,
    mature_dbh_cm: FloatArray,
) -> FloatArray:
    """Return the years until a fault can no longer be corrected.

    That is when the cut passes the largest diameter that closes, or the tree
    outgrows the size up to which the fault is corrected, at the present pace
    of growth.

    Parameters
    ----------
    findings : Findings
    catalogue : Catalogue
    wounds : Wounds
    dbh_cm, growth_cm_per_year, mature_dbh_cm : ndarray of float64
        One entry per tree.

    Returns
    -------
    ndarray of float64
        0 where it is too late already, inf where nothing grows.
    """
    tree = findings.tree
    growth = np.maximum(growth_cm_per_year[tree], 1e-6)
    share = np.maximum(findings.branch_cm / dbh_cm[tree], 1e-6)
    until_too_thick = (wounds.largest_cm / share - dbh_cm[tree]) / growth
    limit = catalogue.column("correctable_to", findings.defect) * mature_dbh_cm[tree]
    until_too_large = (limit - dbh_cm[tree]) / growth
    left: FloatArray = np.maximum(np.minimum(until_too_thick, until_too_large), 0)
    return left
