"""Other ways to pack the same crew-days: two general solvers and two habits of practice.

Each takes a problem without windows, skills or money, and gives the ordered
trees of every crew-day. The solvers count whole hundredths of a minute, rounded
up, and whole hundredths of worth.
"""

import numpy as np
import pyvrp
from ortools.constraint_solver import pywrapcp, routing_enums_pb2
from pyvrp.stop import MaxRuntime

from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.territory import split_evenly

STEPS = 100
PRIZE_STEPS = 10
"""PyVRP needs a cost per minute to look for short routes; of 0, 1 and 10 to 100 times
the worth beside it, this did best on 1,000 trees (16,058; without that cost 13,213)."""
WARDS = 8


def _nodes(problem: Problem) -> IntArray:
    """Travel nodes: the depots in use, then every tree's place."""
    return np.concatenate([np.unique(problem.depot), problem.place])


def _whole_minutes(problem: Problem) -> IntArray:
    nodes = _nodes(problem)
    return np.ceil(problem.travel.minutes(nodes, nodes) * STEPS - 1e-7).astype(np.int64)


def pyvrp_alone(problem: Problem, seconds: float, seed: int) -> list[IntArray]:
    """PyVRP: optional clients with prizes, one vehicle type per depot."""
    minutes = _whole_minutes(problem)
    depots = np.unique(problem.depot)
    service = np.ceil(problem.service_minutes * STEPS).astype(np.int64)
    prize = np.floor(problem.worth * STEPS * PRIZE_STEPS).astype(np.int64)
    days = [np.flatnonzero(problem.depot == depot) for depot in depots]
    data = pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0) for _ in range(len(minutes))],
        clients=[
            pyvrp.Client(
                len(depots) + tree,
                service_duration=int(service[tree]),
                prize=int(prize[tree]),
                required=False,
            )
            for tree in range(problem.trees)
        ],
        depots=[pyvrp.Depot(number) for number in range(len(depots))],
        vehicle_types=[
            pyvrp.VehicleType(
                num_available=len(own),
                start_depot=number,
                end_depot=number,
                shift_duration=int(problem.capacity_minutes[own[0]] * STEPS),
            )
            for number, own in enumerate(days)
        ],
        distance_matrices=[minutes],
        duration_matrices=[minutes],
    )
    result = pyvrp.solve(data, MaxRuntime(seconds), seed=seed)
    routes: list[IntArray] = [np.empty(0, dtype=np.int64)] * problem.crew_days
    taken = [0] * len(depots)
    for route in result.best.routes():
        number = route.vehicle_type()
        visits = [activity.idx for activity in route.schedule() if activity.is_client()]
        routes[days[number][taken[number]]] = np.array(visits, dtype=np.int64)
        taken[number] += 1
    return routes


def routing_alone(problem: Problem, seconds: float, seed: int) -> list[IntArray]:
    """OR-Tools routing: parallel cheapest insertion, then guided local search."""
    del seed  # its search has none
    minutes = _whole_minutes(problem)
    depots = np.unique(problem.depot)
    first = len(depots)
    service = np.concatenate([np.zeros(first), np.ceil(problem.service_minutes * STEPS)])
    home = np.searchsorted(depots, problem.depot).tolist()
    manager = pywrapcp.RoutingIndexManager(len(minutes), problem.crew_days, home, home)
    routing = pywrapcp.RoutingModel(manager)
    transit = routing.RegisterTransitMatrix((minutes + service[:, None]).astype(int).tolist())
    routing.SetArcCostEvaluatorOfAllVehicles(routing.RegisterTransitMatrix(minutes.tolist()))
    limit = [int(capacity * STEPS) for capacity in problem.capacity_minutes]
    routing.AddDimensionWithVehicleCapacity(transit, 0, limit, True, "minutes")  # noqa: FBT003
    # Worth counts far more than minutes, which only break ties.
    for tree, worth in enumerate(problem.worth):
        routing.AddDisjunction([manager.NodeToIndex(first + tree)], int(worth * STEPS * 1000))
    search = pywrapcp.DefaultRoutingSearchParameters()
    search.first_solution_strategy = (
        routing_enums_pb2.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
    )
    search.local_search_metaheuristic = (
        routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    )
    search.time_limit.FromMilliseconds(int(seconds * 1000))
    found = routing.SolveWithParameters(search)
    return [_stops(routing, manager, found, day, first) for day in range(problem.crew_days)]


def _stops(routing, manager, found, day: int, first: int) -> IntArray:
    stops = []
    index = routing.Start(day)
    while found is not None and not routing.IsEnd(index):
        if not routing.IsStart(index):
            stops.append(manager.IndexToNode(index) - first)
        index = found.Value(routing.NextVar(index))
    return np.array(stops, dtype=np.int64)


class _Day:
    """A crew-day that is filled tree by tree."""

    def __init__(self, problem: Problem, minutes: np.ndarray, home: int, capacity: float) -> None:
        self._service, self._minutes, self._home = problem.service_minutes, minutes, home
        self._first = len(np.unique(problem.depot))
        self.left = capacity
        self.trees: list[int] = []

    def cheapest(self, tree: int) -> tuple[float, int]:
        """Minutes that the tree adds in its best place, and that place."""
        way = np.array([self._home, *(self._first + t for t in self.trees), self._home])
        node = self._first + tree
        added = (
            self._minutes[way[:-1], node]
            + self._minutes[node, way[1:]]
            - self._minutes[way[:-1], way[1:]]
        )
        place = int(np.argmin(added))
        return float(added[place]) + self._service[tree], place


def _empty_days(problem: Problem) -> list[_Day]:
    nodes = _nodes(problem)
    minutes = problem.travel.minutes(nodes, nodes)
    home = np.searchsorted(np.unique(problem.depot), problem.depot)
    return [
        _Day(problem, minutes, int(home[day]), float(problem.capacity_minutes[day]))
        for day in range(problem.crew_days)
    ]


def _routes(days: list[_Day]) -> list[IntArray]:
    return [np.array(day.trees, dtype=np.int64) for day in days]


def greedy_by_priority(problem: Problem, seconds: float, seed: int) -> list[IntArray]:
    """Worthiest tree first, into the crew-day that it lengthens least."""
    del seconds, seed
    days = _empty_days(problem)
    least = problem.service_minutes.min()
    for tree in np.argsort(-problem.worth, kind="stable").tolist():
        offers = [(*day.cheapest(tree), day) for day in days if day.left > least]
        fitting = [offer for offer in offers if offer[0] <= offer[2].left]
        if fitting:
            minutes, place, day = min(fitting, key=lambda offer: offer[0])
            day.trees.insert(place, tree)
            day.left -= minutes
    return _routes(days)


def ward_rotation(problem: Problem, seconds: float, seed: int) -> list[IntArray]:
    """Ward after ward, street after street, whatever the trees need."""
    del seconds, seed
    where = np.column_stack([problem.x, problem.y])
    ward = split_evenly(where, np.ones(problem.trees), WARDS)
    turn = np.concatenate([_by_nearest(where, np.flatnonzero(ward == w)) for w in range(WARDS)])
    days = iter(_empty_days(problem))
    filled = [next(days)]
    for tree in turn.tolist():
        minutes, place = filled[-1].cheapest(tree)
        if minutes > filled[-1].left:
            following = next(days, None)
            if following is None:
                break
            filled.append(following)
            minutes, place = following.cheapest(tree)
        filled[-1].trees.insert(place, tree)
        filled[-1].left -= minutes
    empty = [np.empty(0, dtype=np.int64)] * (problem.crew_days - len(filled))
    return [*_routes(filled), *empty]


def _by_nearest(where: np.ndarray, trees: IntArray) -> IntArray:
    """Trees in the order of a walk to the nearest not yet seen."""
    left, order = trees.tolist(), []
    here = where[trees].min(axis=0)
    while left:
        nearest = int(np.argmin(np.abs(where[left] - here).sum(axis=1)))
        order.append(left.pop(nearest))
        here = where[order[-1]]
    return np.array(order, dtype=np.int64)
