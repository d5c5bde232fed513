"""States of trees."""

import numpy as np
import pandas as pd

from forestcycle.practice.state import STATES, states


def test_stress_outweighs_all_and_unknown_counts_as_sound():
    condition = pd.Series(["good", "fair", "poor", "dead", "unknown", "good", "poor"])
    new = np.array([False] * 5 + [True] * 2)
    assert [STATES[code] for code in states(condition, new)] == [
        "sound", "fair", "stressed", "stressed", "sound", "newly planted", "stressed",
    ]  # fmt: skip
