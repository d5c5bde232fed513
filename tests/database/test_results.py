"""Our tables in the city's database: all of a sending or nothing, and never the city's own."""

import os
import signal
import subprocess
import sys
import textwrap
import time

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import LineString, Point

from forestcycle.errors import StoreError
from forestcycle.inventory.database import Database
from forestcycle.inventory.read import layer_info, read_layer
from forestcycle.inventory.results import write_tables
from forestcycle.inventory.source import Table
from tests.database.city import Town

SCHEMA = "forestcycle"
KILLS = int(os.environ.get("FORESTCYCLE_KILLS", "12"))


def send(town: Town, schema: str = SCHEMA, **tables: pd.DataFrame) -> dict[str, int]:
    readers = {name: (lambda table=table: table) for name, table in tables.items()}
    return write_tables(Database(town.address), schema, readers)


def stems(count: int = 3, crs: object = "EPSG:25832", **more) -> gpd.GeoDataFrame:
    columns = {
        "tree_id": [f"t{i}" for i in range(count)],
        "dose": np.linspace(0, 0.25, count),
        "planned_on": pd.date_range("2027-03-01", periods=count),
        "mandatory": [i % 2 == 0 for i in range(count)],
        "visits": np.arange(count),
    }
    points = [Point(500_000 + i, 5_500_000) for i in range(count)]
    return gpd.GeoDataFrame(columns | more, geometry=points, crs=crs)


def test_what_is_written_is_read_back_with_types_nulls_and_places(town: Town):
    frame = stems(note=["a\tb\\N\n\"c'", None, ""], worth=[1.5, np.nan, np.inf])
    frame.loc[1, ["planned_on", "geometry"]] = [pd.NaT, None]
    assert send(town, stops=frame) == {"stops": 3}
    kinds = town.sql(
        "SELECT string_agg(column_name || ' ' || data_type, ',' ORDER BY ordinal_position) "
        "FROM information_schema.columns WHERE table_name = 'stops'"
    )
    assert kinds == (
        "tree_id text,dose double precision,planned_on date,mandatory boolean,visits bigint,"
        "note text,worth double precision,geometry USER-DEFINED"
    )
    layer = read_layer(layer_info(Table(Database(town.address), f"{SCHEMA}.stops")))
    assert layer.table["note"].tolist()[0] == "a\tb\\N\n\"c'"
    assert layer.table["note"].isna().tolist() == [False, True, False]
    assert layer.table["worth"].tolist()[2] == np.inf
    assert layer.table["planned_on"].isna().tolist() == [False, True, False]
    assert (layer.geometry[0], layer.geometry[1]) == (frame.geometry[0], None)
    assert layer.crs.to_epsg() == 25832


def test_sending_twice_leaves_the_same_rows(town: Town):
    for _ in range(2):
        send(town, stops=stems(), days=pd.DataFrame({"day": ["x"]}))
    assert town.sql(f"SELECT count(*) FROM {SCHEMA}.stops") == "3"
    assert town.sql(f"SELECT count(*) FROM {SCHEMA}.days") == "1"


def test_views_and_rights_on_our_tables_survive(town: Town):
    send(town, stops=stems())
    town.sql(
        f"CREATE VIEW today AS SELECT tree_id, geometry FROM {SCHEMA}.stops;"
        f"GRANT SELECT ON {SCHEMA}.stops TO PUBLIC"
    )
    send(town, stops=stems(5, added=["new"] * 5))
    assert town.sql("SELECT count(*) FROM today") == "5"
    assert town.sql(f"SELECT count(added) FROM {SCHEMA}.stops") == "5"
    rights = town.sql("SELECT relacl::text FROM pg_class WHERE relname = 'stops'")
    assert "=r/" in rights


def test_a_column_may_change_its_type_and_the_layer_its_crs(town: Town):
    send(town, stops=stems(label=[1, 2, 3]))
    send(town, stops=stems(label=["a", "b", "c"], crs="EPSG:32633"))
    assert town.sql(f"SELECT string_agg(label, '') FROM {SCHEMA}.stops") == "abc"
    assert town.sql(f"SELECT DISTINCT ST_SRID(geometry) FROM {SCHEMA}.stops") == "32633"


def test_a_crs_without_a_code_becomes_wgs_84(town: Town):
    own = "+proj=tmerc +lat_0=49 +lon_0=8.5 +k=1 +x_0=500000 +y_0=5500000 +ellps=GRS80 +units=m"
    send(town, stops=stems(crs=own))
    found = town.sql(f"SELECT DISTINCT ST_SRID(geometry), ST_Y(geometry)::int FROM {SCHEMA}.stops")
    assert found == "4326|49"


def test_a_failure_at_the_last_table_leaves_all_as_they_were(town: Town):
    send(town, stops=stems(3), days=pd.DataFrame({"day": ["old"]}))
    bad = pd.DataFrame({"day": ["new", "nul \x00 byte"]})
    with pytest.raises(StoreError):
        send(town, stops=stems(9), days=bad)
    assert town.sql(f"SELECT count(*) FROM {SCHEMA}.stops") == "3"
    assert town.sql(f"SELECT day FROM {SCHEMA}.days") == "old"


def test_a_table_that_is_not_ours_is_never_written(town: Town):
    town.sql("CREATE TABLE trees (id int); INSERT INTO trees VALUES (7)")
    with pytest.raises(StoreError, match=r"public.trees: is there already and was not made by"):
        send(town, "public", stops=stems(), trees=stems())
    assert town.sql("SELECT id FROM trees") == "7"
    assert town.sql("SELECT to_regclass('public.stops') IS NULL") == "t"


def test_hostile_names_of_schema_table_and_column_are_only_names(town: Town):
    town.sql("CREATE TABLE precious (id int)")
    name = 'x"; DROP TABLE precious; -- %(a)s %'
    assert send(town, name, **{name: stems(2, **{name: ["'; DROP", "b"]})}) == {name: 2}
    assert town.sql("SELECT count(*) FROM precious") == "0"


def test_a_reader_is_not_kept_waiting_and_sees_the_old_until_the_end(town: Town):
    """PostgreSQL manual, chapter 13: readers do not block writers nor writers readers."""
    send(town, stops=stems(3))
    seen = []

    def look() -> pd.DataFrame:
        seen.append(town.sql(f"SET statement_timeout = '5s'; SELECT count(*) FROM {SCHEMA}.stops"))
        return pd.DataFrame({"day": ["x"]})

    write_tables(Database(town.address), SCHEMA, {"stops": lambda: stems(9), "days": look})
    assert seen == ["3"]
    assert town.sql(f"SELECT count(*) FROM {SCHEMA}.stops") == "9"


def test_two_at_once_the_second_waits_and_then_says_so(town: Town, monkeypatch):
    monkeypatch.setattr("forestcycle.inventory.results.LOCK_SECONDS", 1)

    def second() -> pd.DataFrame:
        with pytest.raises(StoreError, match="lock timeout"):
            send(town, stops=stems(4))
        return stems(2)

    write_tables(Database(town.address), SCHEMA, {"stops": second})
    assert town.sql(f"SELECT count(*) FROM {SCHEMA}.stops") == "2"


def test_a_role_without_rights_is_told_which_are_missing(town: Town):
    town.sql("DROP ROLE IF EXISTS viewer; CREATE ROLE viewer LOGIN PASSWORD 'x'")
    password = os.environ["PGPASSWORD"].replace("'", "''")
    town.sql(f"ALTER ROLE viewer PASSWORD '{password}'")
    try:
        with pytest.raises(StoreError, match=r"permission denied.*-> .*GRANT"):
            write_tables(Database(town.server.address(town.name, "viewer")), SCHEMA, {"a": stems})
    finally:
        town.sql("DROP ROLE viewer")


WRITER = """
    import sys
    import geopandas as gpd, numpy as np, pandas as pd
    from shapely import Point
    from forestcycle.inventory.database import Database
    from forestcycle.inventory.results import write_tables
    address, rows = sys.argv[1], int(sys.argv[2])
    def table():
        print("table", flush=True)
        points = gpd.points_from_xy(np.arange(rows), np.arange(rows))
        return gpd.GeoDataFrame({"version": [rows] * rows}, geometry=points, crs=25832)
    print("ready", flush=True)
    while True:
        write_tables(Database(address), "forestcycle", dict.fromkeys(("a", "b", "c"), table))
        rows += 1
"""


def test_a_writer_killed_at_any_moment_leaves_the_old_or_the_new(town: Town):
    """The server ends the transaction of a client that is gone (PostgreSQL manual, 52.2)."""
    random = np.random.default_rng(7)
    code = textwrap.dedent(WRITER)
    empty = gpd.GeoDataFrame({"version": [0]}, geometry=[Point(0, 0)], crs=25832)
    send(town, a=empty, b=empty, c=empty)
    kills = 0
    while kills < KILLS:
        command = [sys.executable, "-c", code, town.address, str(2_000 + 1_000 * kills)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == "ready\n"
            for _ in range(4):
                time.sleep(random.uniform(0, 0.15))
            writer.send_signal(signal.SIGKILL)
        kills += 1
        seen = {
            town.sql(f"SELECT count(*), min(version), max(version) FROM {SCHEMA}.{name}")
            for name in "abc"
        }
        assert len(seen) == 1, seen
        count, least, most = seen.pop().split("|")
        assert count in {least, "1"}
        assert least == most


def test_lines_points_and_none_have_types_of_their_own(town: Town):
    lines = gpd.GeoDataFrame(
        {"day": ["a", "b"]}, geometry=[LineString([(0, 0), (1, 1)]), None], crs=25832
    )
    nothing = gpd.GeoDataFrame({"day": ["a"]}, geometry=[None], crs=25832)
    send(town, lines=lines, nothing=nothing)
    kinds = town.sql("SELECT f_table_name, type, srid FROM geometry_columns ORDER BY 1")
    assert kinds.splitlines() == ["lines|LINESTRING|25832", "nothing|GEOMETRY|0"]
