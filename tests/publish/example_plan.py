"""A small plan folder of invented data, with texts meant to do harm.

``python -m tests.publish.example_plan FOLDER`` writes one to look at.
"""

import json
import sys
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
from shapely.geometry import LineString, Point, box

from forestcycle.settings import CycleSettings

CRS = "EPSG:32633"
ORIGIN = np.array([500_000.0, 5_400_000.0])
BLOCK = 120.0
COLUMNS, ROWS = 8, 7
"""Avenues and streets of the grid."""

SCRIPT = "<script>document.title='harmed'</script>"
CLOSING = "</script><img src=x onerror=\"document.title='harmed'\">"
FORMULA = '=HYPERLINK("http://192.0.2.1/","pay")'
RIGHT_TO_LEFT = "Ahorn \u202egnp.xe\u2066"
WIDE = "槭树 Érable à sucre 🌳 „Żółty“"
HOSTILE = (
    SCRIPT,
    CLOSING,
    FORMULA,
    RIGHT_TO_LEFT,
    WIDE,
    'O\'Neil & "Sons"; DROP TABLE',
    "+1+1",
    "@x",
    "-2",
)

CREWS = ("Crew Nørd <b>1</b>", "South/East: crew 2")
FIRST_DAY = date(2027, 3, 15)
SHIFT_START, CAPACITY = 450.0, 420.0
PARKING = 3.0

STREETS = (
    "Mill Row",
    "Orchard Street",
    "Łąkowa",
    "Rue de l'Église",
    "Harbour Street",
    "Tanner's Way",
    CLOSING,
)
AVENUES = (
    "First Avenue",
    "Second Avenue",
    "Third Avenue",
    "Linden Avenue",
    "Fifth Avenue",
    "Sixth Avenue",
    "Seventh Avenue",
    "Quay Avenue",
)
SPECIES = (
    ("Acer platanoides", "Norway maple"),
    ("Tilia cordata", "small-leaved lime"),
    ("Quercus robur", "English oak"),
    ("Platanus × hispanica", "London plane"),
    ("Acer", WIDE),
    ("unknown", SCRIPT),
    ("Fraxinus excelsior", RIGHT_TO_LEFT),
)
WORK = (
    (
        "Reduce the lower codominant stem by a third; cut back to a lateral of at least 5 cm",
        "codominant stem with included bark",
    ),
    ("Shorten two low limbs over the roadway to 4.5 m clearance", "low limb over the roadway"),
    ("Remove dead wood over 3 cm; leave live crown as it is", "dead branches over 5 cm"),
    ("Subordinate the competing leader to the chosen one", "competing leaders"),
    ("Thin the end-heavy limb on the east side", FORMULA),
)
CAUTIONS = (
    "Traffic: cones, signs and a spotter at the kerb.",
    "Low-voltage line in the crown: keep the local approach distance; ask the utility.",
    "High-voltage line near: only line-clearance qualified workers; de-energise first.",
    "Decay suspected at the union: do not climb before it has been sounded. " + SCRIPT,
)
COPIED = str.split(
    "species common_name street address ward dbh_cm age_class dose dose_limit work note cautions "
    "priority not_before due overdue_after cost_cents fund skill brush_kg conductors visits_needed"
)
REASONS = (
    ("planned", "Planned."),
    ("not before", "Its last dose was on 2025-04-02; it may be pruned again from 2028-04-01 on."),
    ("worth", "Worth 0.12 per minute; the year's hours go to trees from 0.31 per minute up."),
    (
        "costs more than its fund has left",
        "Its cost would exceed what the fund 'avenues' has left. " + CLOSING,
    ),
    ("no skill", "Needs line clearance; no crew of this plan has it on an open day."),
)


@dataclass(frozen=True)
class _Grid:
    """Trees on the streets of the grid, with the kerb point in front of each."""

    kerb: np.ndarray
    tree: np.ndarray
    street: np.ndarray


def write_example_plan(folder: Path, *, trees: int = 600, seed: int = 7) -> Path:
    """Write ``plan.gpkg`` and ``summary.json`` into `folder` and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng(seed)
    grid = _plant(random, trees)
    frame = _assess(random, grid)
    depots = gpd.GeoDataFrame(
        {"depot": ["North yard", "<i>South</i> yard"]},
        geometry=[Point(_at(60, ROWS * BLOCK - 120)), Point(_at(600, 0))],
        crs=CRS,
    )
    stops, crew_days, legs = _schedule(random, grid, frame, depots)
    layers = {
        "trees": frame,
        "stops": stops,
        "crew_days": crew_days,
        "legs": legs,
        "streets": _streets(),
        "wards": _wards(),
        "depots": depots,
        "work": _work(frame, stops),
        "set_aside": _set_aside(),
        "prices": pd.DataFrame({"kind": ["budget"], "key": ["year"], "price": [0.0031]}),
        "run": _run(),
    }
    plan = folder / "plan.gpkg"
    plan.unlink(missing_ok=True)
    for layer, data in layers.items():
        pyogrio.write_dataframe(data, plan, layer=layer, driver="GPKG")
    summary = json.dumps(_summary(frame, stops, crew_days), indent=2, ensure_ascii=False)
    (folder / "summary.json").write_text(summary + "\n", encoding="utf-8")
    return folder


def _at(east: float, north: float) -> np.ndarray:
    return ORIGIN + np.array([east, north])


def _plant(random: np.random.Generator, trees: int) -> _Grid:
    along_street = random.random(trees) < 0.6
    line = np.where(
        along_street, random.integers(0, ROWS, trees), random.integers(0, COLUMNS, trees)
    )
    length = np.where(along_street, COLUMNS - 1, ROWS - 1) * BLOCK
    position = random.random(trees) * length
    side = random.choice([-5.0, 5.0], trees)
    kerb = np.column_stack(
        [
            np.where(along_street, position, line * BLOCK),
            np.where(along_street, line * BLOCK, position),
        ]
    )
    shift = np.column_stack([np.where(along_street, 0, side), np.where(along_street, side, 0)])
    names = np.where(
        along_street, np.array(STREETS)[line % len(STREETS)], np.array(AVENUES)[line % len(AVENUES)]
    )
    return _Grid(kerb=kerb + ORIGIN, tree=kerb + shift + ORIGIN, street=names)


def _assess(random: np.random.Generator, grid: _Grid) -> gpd.GeoDataFrame:
    n = len(grid.tree)
    kind = random.choice(len(SPECIES), n, p=[0.3, 0.25, 0.2, 0.1, 0.06, 0.03, 0.06])
    work = random.integers(0, len(WORK), n)
    dbh = np.round(random.gamma(4.0, 8.0, n) + 3, 1)
    age = np.digitize(dbh, [15, 30, 55])
    due = pd.Timestamp(2027, 1, 1) + pd.to_timedelta(random.integers(-500, 900, n), unit="D")
    parts = random.gamma(2.0, 1.0, (4, n)).round(3)
    needed = np.round(random.uniform(0.05, 0.5, n), 3)
    limit = np.array([0.25, 0.25, 0.15, 0.10])[age]
    ids = np.array([f"T-{i:05d}" for i in range(n)], dtype=object)
    ids[: len(HOSTILE)] = HOSTILE
    east = grid.tree[:, 0] > ORIGIN[0] + 3.5 * BLOCK
    north = grid.tree[:, 1] > ORIGIN[1] + 3 * BLOCK
    wards = np.array(["Riverside", "Hill", "Old Town <b>", "Harbour"])
    columns = {
        "tree_id": ids,
        "species": [SPECIES[k][0] for k in kind],
        "common_name": [SPECIES[k][1] for k in kind],
        "dbh_cm": dbh,
        "height_m": np.round(3 + dbh * 0.3, 1),
        "crown_diameter_m": np.round(2 + dbh * 0.15, 1),
        "condition": random.choice(["good", "fair", "poor", "unknown"], n),
        "planted_on": pd.Timestamp(2027, 1, 1) - pd.to_timedelta(dbh * 300, unit="D"),
        "conductors": random.choice(
            ["none", "low_voltage", "high_voltage"], n, p=[0.8, 0.15, 0.05]
        ),
        "site_width_m": np.round(random.uniform(1, 4, n), 1),
        "target": random.choice(["street", "footway", "school", "playground", "park"], n),
        "fund": random.choice(["", "avenues"], n, p=[0.8, 0.2]),
        "street": grid.street,
        "address": [f"{number}" for number in random.integers(1, 220, n)],
        "ward": wards[east * 1 + north * 2],
        "source_row": np.arange(n),
        "age_class": np.array(["young", "semi-mature", "mature", "old"])[age],
        "mature_dbh_cm": 60.0,
        "relative_diameter": dbh / 60,
        "growth_table": "genus",
        "growth_cm_per_year": 0.6,
        "worst_defect": [WORK[w][1] for w in work],
        "severity": np.round(random.random(n), 2),
        "defects_are_prior": random.random(n) < 0.6,
        "dose_needed": needed,
        "dose": np.minimum(needed, 0.8 * limit).round(3),
        "dose_limit": limit,
        "visits_needed": np.ceil(needed / (0.8 * limit)).astype(int),
        "not_before": due - pd.Timedelta(days=365),
        "due": due,
        "overdue_after": due + pd.Timedelta(days=365),
        "recall_state": np.select(
            [
                due + pd.Timedelta(days=365) < pd.Timestamp(2027, 1, 1),
                due < pd.Timestamp(2027, 7, 1),
            ],
            ["overdue", "due"],
            "not yet due",
        ),
        "priority": parts.sum(axis=0),
        "priority_waiting": parts[0],
        "priority_overdue": parts[1],
        "priority_target": parts[2],
        "priority_request": parts[3],
        "minutes": np.round(8 + dbh * 0.35, 1),
        "brush_kg": np.round(dbh * 2.1, 0),
        "skill": np.array(["ground", "climb", "lift", "line_clearance"])[age],
        "cost_cents": (dbh * 40).astype(int),
        "season": 0,
        "work": [WORK[w][0] for w in work],
        "note": np.where(
            random.random(n) < 0.05, FORMULA, np.where(random.random(n) < 0.1, SCRIPT, "")
        ),
        "cautions": [CAUTIONS[c] if c < len(CAUTIONS) else "" for c in random.integers(0, 7, n)],
        "mandatory": random.random(n) < 0.02,
        "deadline": pd.Series(pd.NaT, index=range(n), dtype="datetime64[ns]"),
        "planned_on": pd.Series(pd.NaT, index=range(n), dtype="datetime64[ns]"),
        "crew_day_id": "",
        "reason": [REASONS[1 + r][0] for r in random.integers(0, 4, n)],
        "reason_text": "",
    }
    frame = gpd.GeoDataFrame(columns, geometry=gpd.points_from_xy(*grid.tree.T), crs=CRS)
    frame["reason_text"] = frame["reason"].map(dict(REASONS))
    return frame


def _schedule(
    random: np.random.Generator, grid: _Grid, trees: gpd.GeoDataFrame, depots: gpd.GeoDataFrame
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame, gpd.GeoDataFrame]:
    yards = np.column_stack([depots.geometry.x, depots.geometry.y])
    days = [FIRST_DAY + timedelta(days=d) for d in (0, 1, 2, 4)]
    crew_days = [(crew, day) for day in days for crew in range(len(CREWS))]
    centres = ORIGIN + random.uniform(0.15, 0.85, (len(crew_days), 2)) * (
        (COLUMNS - 1) * BLOCK,
        (ROWS - 1) * BLOCK,
    )
    free = np.ones(len(trees), dtype=bool)
    stops, days_out, legs = [], [], []
    for (crew, day), centre in zip(crew_days, centres, strict=True):
        near = np.argsort(np.hypot(*(grid.kerb - centre).T) + np.where(free, 0, np.inf))[:16]
        if not stops:
            near = np.concatenate([np.arange(4), near[:12]])
        rows, day_row, day_legs = _crew_day(
            grid, trees, near, CREWS[crew], day, (crew, depots["depot"][crew], yards[crew])
        )
        planned = [row["row"] for row in rows]
        free[planned] = False
        trees.loc[planned, ["planned_on", "crew_day_id"]] = [
            pd.Timestamp(day),
            day_row["crew_day_id"],
        ]
        trees.loc[planned, ["reason", "reason_text"]] = REASONS[0]
        stops += rows
        days_out.append(day_row)
        legs += day_legs
    days_out += [
        _unused(use, FIRST_DAY + timedelta(days=3), crew, depots["depot"][crew])
        for crew, use in enumerate(("storm reserve", "free"))
    ]
    stop_rows = pd.DataFrame(stops)
    copied = COPIED
    stop_frame = pd.concat(
        [stop_rows.drop(columns="row"), trees.loc[stop_rows["row"], copied].reset_index(drop=True)],
        axis=1,
    )
    return (
        gpd.GeoDataFrame(
            stop_frame, geometry=gpd.points_from_xy(*grid.tree[stop_rows["row"]].T), crs=CRS
        ),
        gpd.GeoDataFrame(pd.DataFrame(days_out), geometry="geometry", crs=CRS),
        gpd.GeoDataFrame(pd.DataFrame(legs), geometry="geometry", crs=CRS),
    )


def _crew_day(grid, trees, chosen, crew, day, home):
    """Nearest next stop until the shift is full."""
    number, depot, yard = home
    name = f"{day.isoformat()} {crew}"
    left, here, clock, rows, legs, path = list(chosen), yard, SHIFT_START, [], [], []
    from_node, travel = depot, 0.0
    while left:
        nearest = min(left, key=lambda tree: np.abs(grid.kerb[tree] - here).sum())
        way = _along_streets(here, grid.kerb[nearest])
        minutes = round(way.length / 250 + PARKING, 1)
        home_minutes = _along_streets(grid.kerb[nearest], yard).length / 250
        service = float(trees["minutes"][nearest])
        if clock + minutes + service + home_minutes > SHIFT_START + CAPACITY:
            break
        left.remove(nearest)
        clock += minutes
        travel += minutes
        node = trees["tree_id"][nearest]
        legs.append(
            {
                "crew_day_id": name,
                "leg_order": len(legs) + 1,
                "from_node": from_node,
                "to_node": node,
                "minutes": minutes,
                "metres": round(way.length, 1),
                "geometry": way,
            }
        )
        rows.append(
            {
                "row": nearest,
                "crew_day_id": name,
                "crew": crew,
                "date": pd.Timestamp(day),
                "stop_order": len(rows) + 1,
                "tree_id": node,
                "arrive": _clock(clock),
                "leave": _clock(clock + service),
                "arrive_minute": round(clock, 1),
                "travel_minutes": minutes,
                "service_minutes": service,
                "place": int(nearest),
            }
        )
        path += list(way.coords)
        here, from_node = grid.kerb[nearest], node
        clock += service
    way = _along_streets(here, yard)
    minutes = round(way.length / 250, 1)
    travel += minutes
    legs.append(
        {
            "crew_day_id": name,
            "leg_order": len(legs) + 1,
            "from_node": from_node,
            "to_node": depot,
            "minutes": minutes,
            "metres": round(way.length, 1),
            "geometry": way,
        }
    )
    service = sum(row["service_minutes"] for row in rows)
    row = {
        "crew_day_id": name,
        "crew": crew,
        "date": pd.Timestamp(day),
        "depot": depot,
        "start_minute": SHIFT_START,
        "capacity_minutes": CAPACITY,
        "service_minutes": round(service, 1),
        "travel_minutes": round(travel, 1),
        "free_minutes": round(CAPACITY - service - travel, 1),
        "stops": len(rows),
        "cost_cents": 120_000 + 5_000 * number,
        "use": "planned",
        "geometry": LineString(path + list(way.coords)),
    }
    return rows, row, legs


def _unused(use, day, crew, depot):
    return {
        "crew_day_id": f"{day.isoformat()} {CREWS[crew]}",
        "crew": CREWS[crew],
        "date": pd.Timestamp(day),
        "depot": depot,
        "start_minute": SHIFT_START,
        "capacity_minutes": CAPACITY,
        "service_minutes": 0.0,
        "travel_minutes": 0.0,
        "free_minutes": CAPACITY,
        "stops": 0,
        "cost_cents": 0,
        "use": use,
        "geometry": None,
    }


def _along_streets(start: np.ndarray, end: np.ndarray) -> LineString:
    """By way of the junctions nearest to both ends."""
    corners = [ORIGIN + np.round((point - ORIGIN) / BLOCK) * BLOCK for point in (start, end)]
    bend = np.array([corners[1][0], corners[0][1]])
    return LineString([start, corners[0], bend, corners[1], end])


def _clock(minute: float) -> str:
    whole = round(minute)
    return f"{whole // 60:02d}:{whole % 60:02d}"


def _streets() -> gpd.GeoDataFrame:
    east, north = (COLUMNS - 1) * BLOCK, (ROWS - 1) * BLOCK
    lines = [LineString([_at(0, y * BLOCK), _at(east, y * BLOCK)]) for y in range(ROWS)]
    lines += [LineString([_at(x * BLOCK, 0), _at(x * BLOCK, north)]) for x in range(COLUMNS)]
    names = [STREETS[y % len(STREETS)] for y in range(ROWS)] + [
        AVENUES[x % len(AVENUES)] for x in range(COLUMNS)
    ]
    return gpd.GeoDataFrame(
        {"street": names, "one_way": False, "speed_kmh": np.nan}, geometry=lines, crs=CRS
    )


def _wards() -> gpd.GeoDataFrame:
    x, y = ORIGIN
    cx, cy, ex, ny = (
        x + 3.5 * BLOCK,
        y + 3 * BLOCK,
        x + (COLUMNS - 1) * BLOCK,
        y + (ROWS - 1) * BLOCK,
    )
    shapes = [
        box(x - 60, y - 60, cx, cy),
        box(cx, y - 60, ex + 60, cy),
        box(x - 60, cy, cx, ny + 60),
        box(cx, cy, ex + 60, ny + 60),
    ]
    return gpd.GeoDataFrame(
        {"ward": ["Riverside", "Hill", "Old Town <b>", "Harbour"]}, geometry=shapes, crs=CRS
    )


def _work(trees: gpd.GeoDataFrame, stops: gpd.GeoDataFrame) -> pd.DataFrame:
    planned = trees[trees["tree_id"].isin(stops["tree_id"])]
    return pd.DataFrame(
        {
            "tree": planned.index,
            "visit": 1,
            "order": 1,
            "action": "reduce",
            "defect": planned["worst_defect"],
            "position": "crown",
            "dose": planned["dose"],
            "minutes": planned["minutes"],
            "cut_diameter_cm": 6.0,
            "text": planned["work"],
            "source": "example",
        }
    )


def _set_aside() -> pd.DataFrame:
    rows = [
        ("trees", 611, SCRIPT, "dbh_cm", "-4", "diameter is negative", "measure again", False),
        ("trees", 612, "T-9", "geometry", "", "no coordinates", "survey the tree", False),
    ]
    return pd.DataFrame(
        rows, columns=["layer", "row", "tree_id", "field", "value", "fault", "remedy", "used"]
    )


def _run() -> pd.DataFrame:
    values = {
        "city": "Aldermere <b>&</b> Sons",
        "first_day": "2027-01-01",
        "last_day": "2027-12-31",
        "currency": "EUR",
        "seed": "7",
        "forestcycle": "0.1.0",
        "travel": "streets",
        "sha256": "0" * 64,
        "settings": _settings().model_dump_json(),
    }
    return pd.DataFrame({"key": list(values), "value": list(values.values())})


def _settings() -> CycleSettings:
    crews = [{"name": crew, "shift_start": "07:30", "shift_minutes": 470} for crew in CREWS]
    return CycleSettings.model_validate(
        {
            "city": {
                "name": "Aldermere <b>&</b> Sons",
                "inventory": "city.gpkg",
                "year_start": "2027-01-01",
                "year_end": "2027-12-31",
                "currency": "EUR",
            },
            "crews": crews,
            "budget": {"year_cents": 2_000_000},
        }
    )


def _summary(trees, stops, crew_days):
    unplanned = trees.loc[trees["crew_day_id"] == "", "reason"].value_counts()
    worth = float(stops["priority"].sum())
    return {
        "trees_in_inventory": len(trees) + 2,
        "trees_usable": len(trees),
        "trees_eligible": int((trees["reason"] != "not before").sum()),
        "trees_planned": len(stops),
        "crew_days_available": len(crew_days),
        "crew_days_used": int((crew_days["use"] == "planned").sum()),
        "worth": worth,
        "bound": worth * 1.03,
        "gap": 1 - 1 / 1.03,
        "minutes_service": float(crew_days["service_minutes"].sum()),
        "minutes_travel": float(crew_days["travel_minutes"].sum()),
        "cost_cents": int(crew_days["cost_cents"].sum() + stops["cost_cents"].sum()),
        "budget_cents": 2_000_000,
        "unplanned_reasons": {str(key): int(count) for key, count in unplanned.items()},
        "sensitivity": {"waiting": 0.031, "overdue": 0.012, "target": 0.004, "request": 0.0},
        "verified": True,
        "seconds": 1.0,
        "seed": 7,
        "versions": {"forestcycle": "0.1.0"},
    }


if __name__ == "__main__":
    print(write_example_plan(Path(sys.argv[1])))
