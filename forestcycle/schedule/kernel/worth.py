"""What routes are worth to the search."""

from numba import njit

from forestcycle.schedule.kernel.arrays import Ground, Routes


@njit(cache=True, nogil=True)
def value_of_route(ground: Ground, routes: Routes, r: int) -> float:
    """Worth of a route, less its day's price and a small price per minute to break ties.

    Parameters
    ----------
    ground : Ground
    routes : Routes
    r : int
        Route, by its crew-day.

    Returns
    -------
    float
        0 for a crew-day without stops.
    """
    count = routes.length[r]
    if count == 0:
        return 0.0
    total = -ground.minute_price * routes.minutes[r] - ground.day_price[r]
    for p in range(count):
        v = routes.stop[r, p]
        total += ground.worth[v] + ground.bonus[r, v]
    return float(total)


@njit(cache=True, nogil=True)
def value_of(ground: Ground, routes: Routes) -> float:
    """Value of all routes.

    Parameters
    ----------
    ground : Ground
    routes : Routes

    Returns
    -------
    float
    """
    total = 0.0
    for r in range(len(routes.length)):
        total += value_of_route(ground, routes, r)
    return float(total)
