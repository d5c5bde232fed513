"""The ``cycle.toml`` of the sample city."""

from sample_city.names import CITY, depot_names

TREES_PER_CREW_DAY = 80
MOST_DAYS = 215
LEAST_CREWS = 3
SHARE_OF_DAYS_PAID = 0.8
"""The year's money pays fewer days than the crews have, so that the budget binds."""

TRAILER = "traffic-control trailer"

_KINDS = (
    # name, skills, equipment, start, minutes, cost of a day
    ("Ground crew", ("ground",), (), "07:00:00", 480, 92_000),
    ("Climbing crew", ("ground", "climb", "lift"), (TRAILER,), "07:00:00", 480, 148_000),
    (
        "Line crew",
        ("ground", "climb", "lift", "line_clearance"),
        (TRAILER,),
        "06:30:00",
        510,
        185_000,
    ),
)

_HEAD = """\
# {city} is an invented city; every tree, street and record of it is made up.

[city]
name = "{city}"
inventory = "city.gpkg"
year_start = 2027-01-01
year_end = 2027-12-31
currency = "USD"

[layers]
trees = "trees"
streets = "streets"
wards = "wards"
depots = "depots"
parks = "parks"
defects = "defects"
visits = "visits"
requests = "requests"

[trees.fields]
tree_id = "tree_id"
species = "species"
common_name = "common_name"
dbh = "dbh_cm"
height = "height_m"
crown_diameter = "crown_diameter_m"
condition = "condition"
status = "status"
planted_on = "planted_on"
conductors = "conductors"
site_width = "site_width_m"
target = "target"
fund = "fund"
street = "street"
address = "address"

[trees.units]
dbh = "cm"
height = "m"
crown_diameter = "m"
site_width = "m"

[trees.values]
status = {{ standing = "standing", removed = "removed", stump = "removed" }}

[calendar]
workdays = ["mon", "tue", "wed", "thu", "fri"]
holidays = [2027-01-01, 2027-05-31, 2027-07-05, 2027-09-06, 2027-11-25, 2027-11-26, 2027-12-24]
storm_reserve = 0.05
"""

_CREW = """
[[crews]]
name = "{name}"
depot = "{depot}"
skills = [{skills}]
equipment = [{equipment}]
shift_start = {start}
shift_minutes = {minutes}
break_minutes = 30
setup_minutes = 25
day_cost_cents = {day_cost}
most_days = {days}
"""

_TAIL = """
[[hours]]
name = "after school"
targets = ["school"]
work_from = 12:30:00
work_until = 18:00:00

[[hours]]
name = "outside rush hours"
street_kmh = 60
work_from = 09:00:00
work_until = 15:30:00

[[equipment]]
name = "{trailer}"
street_kmh = 60

[budget]
year_cents = {budget}
fund_cents = {{ parks = {parks} }}

[travel]
speed_kmh = 25
parking_minutes = 3
place_metres = 30
farthest_snap_metres = 250

[plan]
ward_least_share = {{ "Lower Quell" = 0.10 }}
"""


def settings_text(trees: int) -> str:
    """Write the settings for a city of a size.

    Parameters
    ----------
    trees : int

    Returns
    -------
    str
        TOML; the crew-days grow with the trees, and the budget pays for
        fewer than there are.
    """
    crews, days = _crew_count(trees)
    depots = depot_names(trees)
    blocks, available = [_HEAD.format(city=CITY)], 0
    for number in range(crews):
        name, skills, equipment, start, minutes, day_cost = _KINDS[number % len(_KINDS)]
        group = number // len(_KINDS)
        blocks.append(
            _CREW.format(
                name=name if group == 0 else f"{name} {group + 1}",
                depot=depots[number % len(depots)],
                skills=_quoted(skills),
                equipment=_quoted(equipment),
                start=start,
                minutes=minutes,
                day_cost=day_cost,
                days=days,
            )
        )
        available += days * day_cost
    budget = round(available * SHARE_OF_DAYS_PAID / 100_000) * 100_000
    parks = max(50_000, round(budget * 0.01))
    blocks.append(_TAIL.format(trailer=TRAILER, budget=budget, parks=parks))
    return "".join(blocks)


def _quoted(words: tuple[str, ...]) -> str:
    return ", ".join(f'"{word}"' for word in words)


def _crew_count(trees: int) -> tuple[int, int]:
    crew_days = max(LEAST_CREWS, round(trees / TREES_PER_CREW_DAY))
    crews = max(LEAST_CREWS, -(-crew_days // MOST_DAYS))
    return crews, max(1, round(crew_days / crews))
