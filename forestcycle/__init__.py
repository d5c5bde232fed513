"""Structural pruning of a city's trees as a yearly cycle.

::

    import forestcycle

    city = forestcycle.open_city("cycle.toml")
    assessment = forestcycle.assess_city(city)
    summary = forestcycle.plan_city(city, "plan", time_limit=60, seed=1)

The names load on first use, so that ``forestcycle --help`` need not wait for
the solver.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from forestcycle.version import VERSION

if TYPE_CHECKING:
    from forestcycle.cycle import (
        City,
        Summary,
        assess_city,
        calibrate_city,
        compare_scenarios,
        explain_tree,
        inspect_source,
        open_city,
        outlook_of,
        plan_city,
        publish_plan,
        record_returns,
        revise_city,
        undo_last,
        write_assessment,
    )

__all__ = [
    "City",
    "Summary",
    "__version__",
    "assess_city",
    "calibrate_city",
    "compare_scenarios",
    "explain_tree",
    "inspect_source",
    "open_city",
    "outlook_of",
    "plan_city",
    "publish_plan",
    "record_returns",
    "revise_city",
    "undo_last",
    "write_assessment",
]


__version__ = VERSION


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the public name is
    if name not in __all__:
        raise AttributeError(f"module 'forestcycle' has no attribute {name!r}")
    return getattr(import_module("forestcycle.cycle"), name)
