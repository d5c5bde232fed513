"""Overhead conductors: who may work, never how near.

A tree with high-voltage conductors on record is routed to crews qualified for
line clearance; conductors nobody has looked at carry a caution. The package states what the US
rule calls line-clearance work; it computes no permitted approach. The owner of
the line, local law and licensed practice come first.
"""

from math import ceil
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

BASE_METRES: Final = 3.05
BASE_KILOVOLTS: Final = 50.0
METRES_PER_STEP: Final = 0.10
KILOVOLTS_PER_STEP: Final = 10.0
ROUNDING: Final = 1e-9

CAUTIONS: Final = {
    "none": "",
    "low_voltage": "Low-voltage conductors: treat as live, keep clear, call the owner if the "
    "work would touch them.",
    "high_voltage": "High-voltage conductors: only crews qualified for line clearance; speak "
    "with the line's owner first.",
    "unknown": "Conductors not on record: look up and establish what they are before any work; "
    "if in doubt, stop.",
}


def needs_line_clearance(conductors: "pd.Series[str] | pd.Categorical") -> NDArray[np.bool_]:
    """Whether the work is for crews qualified for line clearance.

    Parameters
    ----------
    conductors : Series or Categorical of str, shape (n,)
        ``none``, ``low_voltage``, ``high_voltage`` or ``unknown``.

    Returns
    -------
    ndarray of bool, shape (n,)
        True at high voltage. Unknown conductors do not reroute a tree, since
        most inventories leave them out; they carry a caution instead.
    """
    return np.asarray(np.asarray(conductors, dtype=object) == "high_voltage", dtype=np.bool_)


def conductor_cautions(conductors: "pd.Series[str] | pd.Categorical") -> NDArray[np.object_]:
    """Return what the crew must know about conductors, empty where there are none.

    Parameters
    ----------
    conductors : Series or Categorical of str, shape (n,)

    Returns
    -------
    ndarray of str, shape (n,)
    """
    words = pd.Series(np.asarray(conductors, dtype=object))
    return words.map(CAUTIONS).fillna(CAUTIONS["unknown"]).to_numpy(dtype=object)


def line_clearance_distance_m(kilovolts_to_ground: float) -> float:
    """Return the distance within which work on trees *is* line clearance.

    This says who may do the work, not how near anyone may come: the line's owner,
    local law and licensed practice come first. Source: 29 CFR 1910.269, definition of
    line-clearance tree trimming: within 3.05 m (10 ft) of conductors of up to 50 kV to
    ground, and 0.10 m (4 in) more for every 10 kV above that. Part steps are rounded up,
    which the rule does not state.

    Parameters
    ----------
    kilovolts_to_ground : float
        Voltage to ground, not between phases.

    Returns
    -------
    float
        In m.

    Raises
    ------
    ValueError
        If the voltage is negative or not a number.
    """
    if not 0 <= kilovolts_to_ground < float("inf"):
        raise ValueError(f"voltage to ground must not be negative, got {kilovolts_to_ground}")
    above = max(kilovolts_to_ground - BASE_KILOVOLTS, 0.0)
    steps = ceil(above / KILOVOLTS_PER_STEP - ROUNDING)
    return BASE_METRES + METRES_PER_STEP * steps
