"""A tree's state as far as dose and recall ask for it."""

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.practice.catalogue import IntArray

STATES = ("newly planted", "sound", "fair", "stressed")
NEWLY_PLANTED, SOUND, FAIR, STRESSED = range(4)
STATE_OF_CONDITION = {"fair": FAIR, "poor": STRESSED, "dead": STRESSED}


def states(condition: "pd.Series[str]", newly_planted: npt.NDArray[np.bool_]) -> IntArray:
    """Return the code of each tree's state.

    Parameters
    ----------
    condition : Series
        ``good fair poor dead unknown``; an unknown condition counts as sound.
    newly_planted : ndarray of bool

    Returns
    -------
    ndarray of int64
        Position in ``STATES``; stress outweighs all else.
    """
    words = pd.Categorical(condition)
    by_word = np.array([STATE_OF_CONDITION.get(str(word), SOUND) for word in words.categories])
    by_word = np.append(by_word, SOUND).astype(np.int64)
    state = by_word[words.codes]
    return np.where(newly_planted & (state != STRESSED), NEWLY_PLANTED, state)
