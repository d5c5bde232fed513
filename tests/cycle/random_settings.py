"""Random crews, calendars and budgets for the sample city."""

from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st

from forestcycle.settings import CycleSettings

SKILLS = ("ground", "climb", "lift", "line_clearance")


@st.composite
def crews(draw: st.DrawFn, depots: list[str]) -> list[dict[str, Any]]:
    made = []
    for number in range(draw(st.integers(1, 4))):
        shift = draw(st.integers(180, 600))
        skills = ["ground", *draw(st.sets(st.sampled_from(SKILLS[1:])))]
        made.append(
            {
                "name": f"Crew {number}",
                "depot": draw(st.sampled_from(depots)),
                "skills": skills,
                "shift_minutes": shift,
                "break_minutes": draw(st.integers(0, 60)),
                "setup_minutes": draw(st.integers(0, 60)),
                "day_cost_cents": draw(st.sampled_from([0, 90_000, 180_000])),
                "most_days": draw(st.integers(1, 8)),
                "days_off": [
                    date(2027, 1, 1) + timedelta(days=d)
                    for d in draw(st.lists(st.integers(0, 364), max_size=5))
                ],
            }
        )
    return made


@st.composite
def changed(draw: st.DrawFn, settings: CycleSettings, depots: list[str]) -> CycleSettings:
    """The settings with other crews, another calendar, budget and shares."""
    data = settings.model_dump()
    data["crews"] = draw(crews(depots))
    data["calendar"]["storm_reserve"] = draw(st.sampled_from([0.0, 0.1, 0.3]))
    data["budget"] = {
        "year_cents": draw(st.sampled_from([None, 300_000, 2_000_000])),
        "fund_cents": draw(st.sampled_from([{}, {"parks": 5_000}])),
    }
    data["plan"]["ward_least_share"] = draw(st.sampled_from([{}, {"Lower Quell": 0.15}]))
    data["travel"]["parking_minutes"] = draw(st.sampled_from([0.0, 3.0, 8.0]))
    return CycleSettings.model_validate(data)
