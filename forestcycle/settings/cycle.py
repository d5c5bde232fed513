"""The whole of ``cycle.toml``."""

from datetime import date
from typing import Self

from pydantic import Field, model_validator

from forestcycle.settings.base import Part
from forestcycle.settings.city import City
from forestcycle.settings.crews import WEEKDAYS, Calendar, Crew
from forestcycle.settings.database import Database
from forestcycle.settings.fields import Layers, Trees
from forestcycle.settings.money import Budget
from forestcycle.settings.outlook import OutlookRules
from forestcycle.settings.plan import PlanRules
from forestcycle.settings.practice import Practice
from forestcycle.settings.publishing import Publishing
from forestcycle.settings.revision import Revision
from forestcycle.settings.rules import EquipmentRule, HoursRule
from forestcycle.settings.travel import TravelRules

MOST_EQUIPMENT = 24
"""Kinds of equipment; each is a bit beside those of the skills."""


class CycleSettings(Part):
    """Everything that ``cycle.toml`` may say."""

    city: City
    layers: Layers = Field(default_factory=Layers)
    trees: Trees = Field(default_factory=Trees)
    practice: Practice = Field(default_factory=Practice)
    calendar: Calendar = Field(default_factory=Calendar)
    crews: tuple[Crew, ...] = ()
    hours: tuple[HoursRule, ...] = ()
    equipment: tuple[EquipmentRule, ...] = ()
    budget: Budget = Field(default_factory=Budget)
    travel: TravelRules = Field(default_factory=TravelRules)
    plan: PlanRules = Field(default_factory=PlanRules)
    outlook: OutlookRules = Field(default_factory=OutlookRules)
    revision: Revision = Field(default_factory=Revision)
    publish: Publishing = Field(default_factory=Publishing)
    database: Database = Field(default_factory=Database)

    @model_validator(mode="after")
    def _crew_names_differ(self) -> Self:
        names = [crew.name for crew in self.crews]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"two crews share the name {', '.join(map(repr, twice))}")
        return self

    @model_validator(mode="after")
    def _equipment_is_known(self) -> Self:
        known = {rule.name for rule in self.equipment}
        if len(known) > MOST_EQUIPMENT:
            raise ValueError(f"{len(known)} kinds of equipment; {MOST_EQUIPMENT} are the most")
        for crew in self.crews:
            for name in crew.equipment:
                if name not in known:
                    listed = ", ".join(map(repr, sorted(known))) or "there is none"
                    raise ValueError(
                        f"crew {crew.name!r}: no [[equipment]] is named {name!r}; {listed}"
                    )
        return self

    @model_validator(mode="after")
    def _ward_shares_fit(self) -> Self:
        shares = self.plan.ward_least_share
        bad = {ward: share for ward, share in shares.items() if not 0 <= share <= 1}
        if bad:
            raise ValueError(f"plan.ward_least_share must lie in 0..1, not {bad}")
        if sum(shares.values()) > 1:
            raise ValueError(
                f"plan.ward_least_share adds up to {sum(shares.values()):.2f}; 1 is the most"
            )
        return self

    def works(self, crew: Crew, day: date) -> bool:
        """Whether a crew works on a day, by calendar, holidays and its own days.

        Parameters
        ----------
        crew : Crew
        day : date

        Returns
        -------
        bool
        """
        workdays = crew.workdays if crew.workdays is not None else self.calendar.workdays
        return (
            WEEKDAYS[day.weekday()] in workdays
            and day not in self.calendar.holidays
            and day not in crew.days_off
            and (crew.first_day is None or day >= crew.first_day)
            and (crew.last_day is None or day <= crew.last_day)
        )
