"""The faults that states tell apart, and what becomes of them with and without a visit."""

import numpy as np

FAULTS = (
    "nothing on record",
    "upkeep",
    "slight, one visit",
    "slight, more visits",
    "grave, one visit",
    "grave, two visits",
    "grave, more visits",
    "past correcting",
)
NO_RECORD, UPKEEP, SLIGHT_1, SLIGHT_2, GRAVE_1, GRAVE_2, GRAVE_3, PAST = range(len(FAULTS))
GRAVE_FROM = 0.5
"""Severity from which a fault is called grave; the middle of the scale."""
CORRECTABLE = np.isin(range(len(FAULTS)), range(SLIGHT_1, PAST)).astype(np.float64)
"""1 for structural faults on record that can still be corrected, by fault."""
WORSE = {SLIGHT_1: GRAVE_2, SLIGHT_2: GRAVE_3}
"""What a slight fault becomes when it gets worse: grave, and a visit more."""
AFTER_VISIT = np.array(
    [NO_RECORD, NO_RECORD, NO_RECORD, SLIGHT_1, NO_RECORD, GRAVE_1, GRAVE_2, NO_RECORD]
)
"""Fault on record after a visit, by the fault before it."""
DOSE_LEFT = np.array([0.0, 0.0, 0.0, 1 / 2, 0.0, 1 / 2, 2 / 3, 0.0])
"""Share of the dose that is still owed after a visit, by the fault before it."""
