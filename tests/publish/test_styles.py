"""Styles and aliases are there, well-formed, and never a user's."""

import sqlite3
from contextlib import closing
from xml.etree import ElementTree as Xml

import pyogrio
import pytest

from forestcycle.publish.output import Edition
from forestcycle.publish.styles import SE, SLD, STYLES, add_styles, qml, sld, write_styles


@pytest.fixture
def styled(plan, tmp_path):
    (path,) = write_styles(Edition(plan, tmp_path))
    return path


def rows(path, query):
    with closing(sqlite3.connect(path)) as database:
        return database.execute(query).fetchall()


def test_every_layer_has_one_default_style(plan, styled):
    found = rows(styled, "SELECT f_table_name, SUM(useAsDefault) FROM layer_styles GROUP BY 1")
    layers = {str(name) for name in pyogrio.list_layers(plan.path / "plan.gpkg")[:, 0]}
    assert dict(found) == {style.layer: 1 for style in STYLES if style.layer in layers}


def test_catalog_and_schema_are_empty_texts(styled):
    assert rows(
        styled,
        "SELECT COUNT(*) FROM layer_styles WHERE f_table_catalog = '' AND f_table_schema = ''",
    ) == rows(styled, "SELECT COUNT(*) FROM layer_styles")


def test_the_file_still_opens_and_is_whole(plan, styled):
    assert len(pyogrio.read_dataframe(styled, layer="trees")) == len(plan.trees)
    assert rows(styled, "PRAGMA integrity_check") == [("ok",)]
    assert rows(styled, "PRAGMA foreign_key_check") == []


def test_aliases_are_the_schema_extensions(styled):
    # OGC 12-128r18, annex F.9: rows name a column that exists; the extension is declared.
    aliases = rows(styled, "SELECT table_name, column_name, title FROM gpkg_data_columns")
    assert ("trees", "dbh_cm", "Trunk diameter (cm)") in aliases
    for table, column, _ in aliases:
        assert (column,) in rows(styled, f"SELECT name FROM pragma_table_info('{table}')")  # noqa: S608
    assert (
        len(rows(styled, "SELECT * FROM gpkg_extensions WHERE extension_name='gpkg_schema'")) == 1
    )


def test_a_users_style_stays_and_stays_the_default(styled):
    with closing(sqlite3.connect(styled)) as database, database:
        database.execute("DELETE FROM layer_styles")
        database.execute(
            "INSERT INTO layer_styles (f_table_name, styleName, styleQML, useAsDefault) "
            "VALUES ('trees', 'forestcycle', 'mine', 1)"
        )
    add_styles(styled)
    add_styles(styled)
    found = rows(
        styled,
        "SELECT styleQML = 'mine', useAsDefault FROM layer_styles "
        "WHERE f_table_name = 'trees' ORDER BY id",
    )
    assert found == [(1, 1), (0, 0)]


@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.layer)
def test_styles_are_well_formed(style):
    root = Xml.fromstring(sld(style))  # noqa: S314 - our own output
    assert root.tag == f"{{{SLD}}}StyledLayerDescriptor"
    assert len(root.findall(f".//{{{SE}}}Rule")) == len(style.symbols)
    renderer = Xml.fromstring(qml(style)).find("renderer-v2")  # noqa: S314 - our own output
    assert len(renderer.findall("symbols/symbol")) == len(style.symbols)
