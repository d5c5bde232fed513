"""The year's crew-days."""

from forestcycle.schedule.build import Ineligible, build_problem
from forestcycle.schedule.calendar import CrewCalendar, crew_calendar
from forestcycle.schedule.pack import solve
from forestcycle.schedule.problem import Plan, Problem
from forestcycle.schedule.timetable import Timetable, timetable

__all__ = [
    "CrewCalendar",
    "Ineligible",
    "Plan",
    "Problem",
    "Timetable",
    "build_problem",
    "crew_calendar",
    "solve",
    "timetable",
]
