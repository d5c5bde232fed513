"""Names of crew-days, such as ``2027-03-15 North crew``."""

from datetime import timedelta

from forestcycle.cycle.city import City
from forestcycle.schedule.problem import IntArray


def crew_day_ids(city: City, crew: IntArray, day: IntArray) -> list[str]:
    """Name crew-days.

    Parameters
    ----------
    city : City
    crew : (c,) int64
        Position in the settings.
    day : (c,) int64
        Days since the year's first.

    Returns
    -------
    list of str
    """
    first = city.settings.city.year_start
    names = [crew.name for crew in city.settings.crews]
    return [
        f"{first + timedelta(days=later)} {names[number]}"
        for number, later in zip(crew.tolist(), day.tolist(), strict=True)
    ]
