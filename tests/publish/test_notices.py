"""Notices: every stop is announced once, in time, for its block."""

from itertools import pairwise

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from forestcycle.publish.blocks import blocks_of
from forestcycle.publish.notices import notices, write_notices
from forestcycle.publish.output import Edition
from forestcycle.publish.plan_settings import settings_of
from tests.publish.test_crew_lists import read


def test_every_stop_is_announced_once(plan):
    table = notices(plan)
    assert table["trees"].sum() == len(plan.stops)
    assert not table.duplicated(["date", "street", "block", "crew"]).any()


def test_lead_time_and_hours(plan):
    table = notices(plan)
    lead = pd.to_datetime(table["date"]) - pd.to_datetime(table["post_by"])
    assert (lead == pd.Timedelta(days=settings_of(plan).publish.notice_days)).all()
    assert (table["from"] < table["until"]).all()
    earliest = plan.stops.groupby("date")["arrive"].min()
    for date, rows in table.groupby("date"):
        assert rows["from"].min() <= earliest[pd.Timestamp(date)]
        leave = plan.stops.loc[plan.stops["date"] == date, "leave"].max()
        assert rows["until"].max() >= leave


def test_file_is_inert(plan, tmp_path):
    (path,) = write_notices(Edition(plan, tmp_path))
    rows = read(path)
    assert len(rows) == len(notices(plan))
    assert not any(cell.startswith(("=", "+", "-", "@")) for row in rows for cell in row.values())


def street_grid(*, split: bool) -> gpd.GeoDataFrame:
    """One main street crossed at 0, 100 and 200 m, as one line or cut at the crossings."""
    cuts = [0, 100, 200] if split else [0, 200]
    lines = [shapely.LineString([(a, 0), (b, 0)]) for a, b in pairwise(cuts)]
    names = ["Main"] * len(lines) + ["A", "B", "C"]
    lines += [shapely.LineString([(x, -50), (x, 50)]) for x in (0, 100, 200)]
    return gpd.GeoDataFrame({"street": names}, geometry=lines, crs="EPSG:32633")


def test_a_block_lies_between_its_crossings():
    points = np.array([shapely.Point(40, 4), shapely.Point(150, -4)])
    for split in (True, False):
        blocks = blocks_of(points, ["Main", "Main"], street_grid(split=split))
        assert blocks == ["between A and B", "between B and C"]


def test_the_address_decides_at_a_corner():
    corner = np.array([shapely.Point(98, 6)])
    assert blocks_of(corner, ["Main"], street_grid(split=False)) == ["between A and B"]
    assert "Main" in blocks_of(corner, ["B"], street_grid(split=False))[0]


def test_without_streets_there_are_no_blocks():
    assert blocks_of(np.array([shapely.Point(0, 0)]), ["Main"], None) == [""]
