"""The main road, one file per verb."""

from forestcycle.cycle.assess import assess_city, count_states, write_assessment
from forestcycle.cycle.calibrate import Calibrated, calibrate_city
from forestcycle.cycle.city import City, open_city
from forestcycle.cycle.compare import Compared, compare_scenarios
from forestcycle.cycle.demo import run_demo
from forestcycle.cycle.explain import explain_tree
from forestcycle.cycle.inspect import inspect_source
from forestcycle.cycle.outlook import CityOutlook, outlook_of
from forestcycle.cycle.plan import pack_year, plan_city
from forestcycle.cycle.record import Recorded, record_returns
from forestcycle.cycle.revise import RevisedCity, revise_city
from forestcycle.cycle.summary import Summary
from forestcycle.cycle.undo import Undone, undo_last_record
from forestcycle.cycle.undo_revision import UndoneRevision, undo_last
from forestcycle.publish import publish as publish_plan

__all__ = [
    "Calibrated",
    "City",
    "CityOutlook",
    "Compared",
    "Recorded",
    "RevisedCity",
    "Summary",
    "Undone",
    "UndoneRevision",
    "assess_city",
    "calibrate_city",
    "compare_scenarios",
    "count_states",
    "explain_tree",
    "inspect_source",
    "open_city",
    "outlook_of",
    "pack_year",
    "plan_city",
    "publish_plan",
    "record_returns",
    "revise_city",
    "run_demo",
    "undo_last",
    "undo_last_record",
    "write_assessment",
]
