"""The worthiest route of one crew-day at given prices: the compiled inner loop.

Labels are partial routes. They are extended in the order of their time, and
three things keep them few:

* **Memory.** A label remembers, of the places it has been to, only those near
  where it stands (ng-routes: Baldacci, Mingozzi and Roberti 2011). A route may
  come back to what it has forgotten. That only adds routes, so the largest
  gain found is still an upper limit on the gain of real ones.
* **Dominance.** Of two labels at one tree, the one that is no later, gained no
  less and remembers no more makes the other needless.
* **Completion.** How much a label can still gain is limited by what a route
  that remembers only the last place could gain in the minutes left. Those
  minutes stand on a grid, each leg rounded down to it, which again only adds
  routes. A label that cannot come to more than is known is dropped.

Hours of the day are left aside, which adds routes too. Then a route need not
visit a *place* twice (triangle inequality), and does the trees there in the
order of their numbers, which loses nothing.
"""

from pathlib import Path

from forestcycle.schedule.kernel.compiled import forget_outdated
from forestcycle.schedule.route_search.completion import (
    Completion,
    completions,
    grid_limit,
    grid_route,
)
from forestcycle.schedule.route_search.labels import Labels
from forestcycle.schedule.route_search.search import search_routes
from forestcycle.schedule.route_search.stops import Grid, Steps, Stops, Words, grid_of

__all__ = [
    "Completion",
    "Grid",
    "Labels",
    "Steps",
    "Stops",
    "Words",
    "completions",
    "grid_limit",
    "grid_of",
    "grid_route",
    "search_routes",
]

forget_outdated(Path(__file__).parent)
