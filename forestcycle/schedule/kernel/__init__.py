"""Ruin and recreate on a handful of crew-days: the compiled inner loop.

Every step takes some stops out of the current routes (strings of consecutive
stops around a random tree, as in slack induction by string removals, or
scattered ones), puts trees back in at their cheapest places, and keeps the
outcome by the rule of simulated annealing. Routes that come by on the way are
gathered in a pool, from which the city-wide choice is made later.

The functions work on plain arrays, release the interpreter's lock, and draw
random numbers from their own generator, so that one seed gives one outcome on
any thread. Times are minutes since the crew left the depot.
"""

from pathlib import Path

from forestcycle.schedule.kernel.anneal import search
from forestcycle.schedule.kernel.arrays import Ground, Pool, Routes, Scratch
from forestcycle.schedule.kernel.compiled import forget_outdated
from forestcycle.schedule.kernel.pool import gather
from forestcycle.schedule.kernel.route import copy_routes, refresh
from forestcycle.schedule.kernel.worth import value_of

__all__ = [
    "Ground",
    "Pool",
    "Routes",
    "Scratch",
    "copy_routes",
    "gather",
    "refresh",
    "search",
    "value_of",
]

forget_outdated(Path(__file__).parent)
