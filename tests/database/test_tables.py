"""An inventory in PostGIS reads like the same inventory in a file.

The tables are filled with psql, PostgreSQL's own client.
"""

import threading

import pandas as pd
import pytest

from forestcycle.cycle import assess_city, open_city
from forestcycle.errors import InventoryError
from forestcycle.inventory.database import Database
from forestcycle.inventory.read import layer_info, list_layers, read_layer
from forestcycle.inventory.source import Table
from forestcycle.inventory.tables import BLOCK_ROWS, sha256_of_layer
from tests.cli.commands import run
from tests.database.city import FOLDER, Town

PARTS = (
    *("trees", "set_aside", "defects", "visits", "requests"),
    *("streets", "wards", "depots", "parks"),
)


def table(town: Town, name: str | None = None) -> Table:
    return Table(Database(town.address), name)


def read(town: Town, name: str):
    return read_layer(layer_info(table(town, name)))


def test_the_sample_city_is_the_same_from_postgis_as_from_its_geopackage(sample_town):
    ours, files = open_city(sample_town.settings), open_city(FOLDER / "cycle.toml")
    for part in PARTS:
        pd.testing.assert_frame_equal(getattr(ours.inventory, part), getattr(files.inventory, part))
    assert ours.inventory.trees.crs == files.inventory.trees.crs
    assert ours.inventory.rows_read == files.inventory.rows_read
    assessed, expected = assess_city(ours), assess_city(files)
    pd.testing.assert_frame_equal(assessed.trees, expected.trees)
    pd.testing.assert_frame_equal(assessed.work, expected.work)


def test_the_same_rows_give_the_same_hash_and_a_changed_one_another(sample_town):
    before = open_city(sample_town.settings).inventory.sha256
    assert open_city(sample_town.settings).inventory.sha256 == before
    sample_town.sql("UPDATE trees SET dbh_cm = dbh_cm + 1 WHERE fid = 7")
    assert open_city(sample_town.settings).inventory.sha256 != before


def test_tables_are_listed_with_their_geometry_and_without_those_of_postgis(sample_town):
    sample_town.sql("CREATE SCHEMA parks_office; CREATE TABLE parks_office.benches (id int)")
    listed = list_layers(table(sample_town))
    assert listed["trees"] == "Point"
    assert listed["visits"] is None
    assert listed["parks_office.benches"] is None
    assert "spatial_ref_sys" not in listed
    assert layer_info(table(sample_town)).source == table(
        sample_town, "depots"
    )  # first with points


def test_more_rows_than_a_block_come_in_the_order_of_the_key(town):
    rows = 2 * BLOCK_ROWS + 3
    town.sql(
        "CREATE TABLE many (id int PRIMARY KEY, geom geometry(Point,25832));"
        f"INSERT INTO many SELECT i, ST_Point(i, i, 25832) FROM generate_series({rows}, 1, -1) i"
    )
    layer = read(town, "many")
    assert layer.table["id"].tolist() == list(range(1, rows + 1))
    assert [shape.x for shape in layer.geometry[[0, -1]]] == [1, rows]
    assert layer.crs.to_epsg() == 25832


def test_types_that_files_do_not_have_come_as_text(town):
    town.sql(
        "CREATE TYPE vigour AS ENUM ('good', 'poor');"
        "CREATE TABLE odd (i int, n numeric(9,2), b boolean, d date, t timestamptz, u uuid, "
        "v vigour, a int[], j json);"
        "INSERT INTO odd VALUES (1, 12.50, true, 'infinity', '2024-03-15 23:30+00', "
        "'5f0c7c8e-1111-4222-8333-444455556666', 'good', '{1,2}', '{\"k\": 1}'),"
        "(NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL)"
    )
    found = read(town, "odd").table
    assert found["i"].tolist()[0] == 1
    assert pd.isna(found["i"][1])
    shown = found.loc[0, ["n", "d", "v", "a", "j"]].tolist()
    assert shown == ["12.50", "infinity", "good", "{1,2}", '{"k": 1}']
    assert found["t"][0].startswith("2024-03-1")
    assert found.loc[1].isna().all()


def test_geographies_curves_heights_and_views_are_read(town):
    town.sql(
        "CREATE TABLE places (id int, at geography(PointZ, 4326));"
        "INSERT INTO places VALUES (1, 'POINTZ(10 50 300)'), (2, NULL);"
        "CREATE VIEW seen AS SELECT id, at FROM places ORDER BY id DESC;"
        "CREATE TABLE rounds (id int, geom geometry);"
        "INSERT INTO rounds VALUES (1, ST_GeomFromText('CIRCULARSTRING(0 0, 1 1, 2 0)', 25832))"
    )
    layer = read(town, "seen")
    assert layer.table["id"].tolist() == [1, 2]
    assert (layer.geometry[0].x, layer.geometry[0].has_z, layer.geometry[1]) == (10, False, None)
    assert layer.crs.to_epsg() == 4326
    assert read(town, "rounds").geometry[0].geom_type == "LineString"


def test_a_table_that_is_missing_or_not_allowed_is_named_with_those_there_are(town):
    town.sql(
        "CREATE TABLE elms (id int); CREATE TABLE secret (id int);"
        "CREATE ROLE clerk LOGIN PASSWORD 'leaf'; GRANT SELECT ON elms TO clerk"
    )
    with pytest.raises(InventoryError, match=r"no table 'oaks'.*tables there: elms, secret"):
        layer_info(table(town, "oaks"))


def test_sql_in_the_name_of_a_table_or_column_is_only_a_name(town):
    hostile = 'trees"; DROP TABLE precious; --'
    quoted = '"' + hostile.replace('"', '""') + '"'
    town.sql(
        f"CREATE TABLE precious (id int); CREATE TABLE {quoted} (id int, {quoted} text);"
        f"INSERT INTO {quoted} VALUES (1, 'x')"
    )
    assert read(town, hostile).table[hostile].tolist() == ["x"]
    with pytest.raises(InventoryError, match="no table"):
        layer_info(table(town, "precious; DROP TABLE precious"))
    assert town.sql("SELECT count(*) FROM precious") == "0"


@pytest.mark.parametrize(
    ("geometries", "said"),
    [
        ("ST_Point(1, 1, 4326), ST_Point(1, 1, 25832)", "mixes the SRIDs 4326, 25832"),
        ("ST_Point(1, 1, 999000), NULL", "SRID 999000 is no CRS"),
    ],
)
def test_a_wrong_srid_is_a_fault_with_a_remedy(town, geometries, said):
    town.sql(
        "CREATE TABLE stems (geom geometry);"
        f"INSERT INTO stems SELECT unnest(ARRAY[{geometries}]::geometry[])"
    )
    with pytest.raises(InventoryError, match=rf"table stems: {said}.* -> .*ST_"):
        read(town, "stems")


def test_srid_zero_is_a_crs_that_nobody_says(town):
    town.sql("CREATE TABLE stems AS SELECT 1 AS id, ST_Point(1, 2) AS geom")
    assert read(town, "stems").crs is None


def test_nothing_can_be_changed_while_reading(town):
    from forestcycle.inventory.database import reading

    with (
        pytest.raises(InventoryError, match="read-only transaction"),
        reading(Database(town.address)) as connection,
    ):
        connection.exec_driver_sql("CREATE TABLE t (id int)")


def test_a_table_is_one_snapshot_while_others_write(town):
    """PostgreSQL manual, transaction isolation: REPEATABLE READ sees one state."""
    town.sql("CREATE TABLE stems AS SELECT i AS id, 0 AS version FROM generate_series(1, 60000) i")
    stop = threading.Event()

    def keep_changing() -> None:
        while not stop.is_set():
            town.sql("UPDATE stems SET version = version + 1")

    writer = threading.Thread(target=keep_changing)
    writer.start()
    try:
        versions = [read(town, "stems").table["version"].unique() for _ in range(3)]
    finally:
        stop.set()
        writer.join()
    assert all(len(seen) == 1 for seen in versions)


def test_inspect_takes_an_address_and_its_settings_open(sample_town):
    sample_town.settings.unlink()
    done = run(
        "inspect", sample_town.address, "--layer", "trees", "--quiet", cwd=sample_town.folder
    )
    assert done.code == 0, done.err
    assert f'inventory = "{sample_town.address}"' in sample_town.settings.read_text()
    again = run("inspect", "cycle.toml", "--quiet", cwd=sample_town.folder)
    assert again.code == 0, again.err
    assert "5,9" in again.out


def test_the_hash_counts_geometry_order_and_names(town):
    town.sql(
        "CREATE TABLE a AS SELECT i AS id, ST_Point(i, 1, 4326) AS g FROM generate_series(1, 3) i;"
        "CREATE TABLE b AS SELECT * FROM a ORDER BY id DESC;"
        "CREATE TABLE c AS SELECT id, ST_Translate(g, 1, 0) AS g FROM a;"
        "CREATE TABLE d AS SELECT id AS number, g FROM a; CREATE TABLE e AS SELECT * FROM a"
    )
    hashes = {name: sha256_of_layer(read(town, name)) for name in "abcde"}
    assert hashes["a"] == hashes["e"]
    assert len(set(hashes.values())) == 4
