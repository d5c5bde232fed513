"""The year's crew-days."""

from forestcycle.schedule.bound import Bound, allocate, certificate
from forestcycle.schedule.build import build_problem
from forestcycle.schedule.calendar import CrewCalendar, crew_calendar
from forestcycle.schedule.candidates import CandidateGenerator, installed_generators
from forestcycle.schedule.choose import Column
from forestcycle.schedule.eligibility import Ineligible
from forestcycle.schedule.evidence import price_rows, round_trip_rows
from forestcycle.schedule.pack import solve
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import Problem
from forestcycle.schedule.reasons import reasons
from forestcycle.schedule.route_evidence import route_evidence
from forestcycle.schedule.timetable import Timetable, timetable
from forestcycle.schedule.tree_rules import equipment_texts, hours_texts
from forestcycle.schedule.verify import Verification, verify

__all__ = [
    "Bound",
    "CandidateGenerator",
    "Column",
    "CrewCalendar",
    "Ineligible",
    "Plan",
    "Problem",
    "Timetable",
    "Verification",
    "allocate",
    "build_problem",
    "certificate",
    "crew_calendar",
    "equipment_texts",
    "hours_texts",
    "installed_generators",
    "price_rows",
    "reasons",
    "round_trip_rows",
    "route_evidence",
    "solve",
    "timetable",
    "verify",
]
