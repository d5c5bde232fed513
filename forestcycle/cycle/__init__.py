"""The main road, one file per verb."""

from forestcycle.cycle.assess import assess_city, count_states, write_assessment
from forestcycle.cycle.city import City, open_city
from forestcycle.cycle.demo import run_demo
from forestcycle.cycle.explain import explain_tree
from forestcycle.cycle.inspect import inspect_source
from forestcycle.cycle.plan import pack_year, plan_city
from forestcycle.cycle.summary import Summary

__all__ = [
    "City",
    "Summary",
    "assess_city",
    "count_states",
    "explain_tree",
    "inspect_source",
    "open_city",
    "pack_year",
    "plan_city",
    "run_demo",
    "write_assessment",
]
