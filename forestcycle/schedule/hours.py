"""Hours of the day in a crew's working minutes.

Inside, time is counted in working minutes since the crew left the depot; on
the clock the break comes on top once it is due. A service begins before the
break or after it, never with the break inside.
"""

import numpy as np

from forestcycle.schedule.problem import MINUTES_PER_DAY, FloatArray

Minutes = FloatArray | float

BEFORE_BREAK = 1e-6
"""Minutes by which a service that must begin before the break does so at least."""


def earliest_begin(
    opens: Minutes, leaves: Minutes, break_after: Minutes, break_minutes: Minutes
) -> FloatArray:
    """Least working minutes at which the clock shows at least a minute of the day.

    Parameters
    ----------
    opens : float64
        Minute of the day.
    leaves : float64
        Minute of the day at which the crew leaves the depot.
    break_after, break_minutes : float64
        As in :class:`Problem`. All arguments are broadcast.

    Returns
    -------
    float64
        Below 0 where the clock shows more than that already.
    """
    passed = opens - leaves
    rested = np.maximum(break_after, passed - break_minutes)
    return np.asarray(np.where(passed < break_after, passed, rested), dtype=np.float64)


def latest_begin(
    shuts: Minutes,
    service: Minutes,
    leaves: Minutes,
    break_after: Minutes,
    break_minutes: Minutes,
) -> FloatArray:
    """Most working minutes at which a service may begin to end by a minute of the day.

    Parameters
    ----------
    shuts : float64
        Minute of the day by which work must have ended.
    service : float64
        Minutes.
    leaves, break_after, break_minutes : float64
        As for :func:`earliest_begin`.

    Returns
    -------
    float64
        Infinite where work may go on to the day's end; below 0 where it is
        too late already.
    """
    last = shuts - service - leaves
    rested = last - break_minutes
    before = np.where(rested < break_after, break_after - BEFORE_BREAK, rested)
    latest = np.where(last < break_after, last, before)
    return np.asarray(np.where(shuts >= MINUTES_PER_DAY, np.inf, latest), dtype=np.float64)
