"""Default styles and field aliases, so that a plan opens in a desktop GIS as it is meant.

Styles go into the table ``layer_styles``, a convention that desktop GIS programs
share, as SLD 1.1 (OGC 05-077r4 with 05-078r4) and as the same program's own XML; aliases
go into ``gpkg_data_columns``, the Schema extension of the GeoPackage standard (OGC 12-128r18,
annex F.9). Rows that a user made are never changed.
"""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as Xml

from forestcycle.inventory.atomic import replacing
from forestcycle.publish.output import Edition, Link, Output
from forestcycle.publish.plan_folder import PLAN_FILE

STYLE_NAME = "forestcycle"
DESCRIPTION = "Written by forestcycle; copy it under another name to change it."

LAYER_STYLES = """
CREATE TABLE IF NOT EXISTS layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256),
  f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT,
  useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')))
"""
DATA_COLUMNS = """
CREATE TABLE IF NOT EXISTS gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT,
  mime_type TEXT, constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name))
"""
SCHEMA_EXTENSION = "http://www.geopackage.org/spec121/#extension_schema"

SLD = "http://www.opengis.net/sld"
SE = "http://www.opengis.net/se"
OGC = "http://www.opengis.net/ogc"


@dataclass(frozen=True)
class Symbol:
    """How the features with one value look.

    Attributes
    ----------
    label : str
    shape : str
        A mark's name for points, ``line`` or ``area`` otherwise.
    fill, stroke : str
        ``#rrggbb``; an empty fill leaves areas open.
    size : float
        Points' diameter or lines' width in pixels.
    value : str
        Value of the layer's ``column``; empty for all features.
    """

    label: str
    shape: str
    fill: str
    stroke: str = "#333333"
    size: float = 7.0
    value: str = ""


@dataclass(frozen=True)
class LayerStyle:
    """How a layer looks: one symbol, or one per value of a column."""

    layer: str
    symbols: tuple[Symbol, ...]
    column: str = ""


STYLES = (
    LayerStyle(
        "trees",
        # Okabe and Ito's colours, "Color Universal Design" (2008); the shape says it as well.
        (
            Symbol("overdue", "triangle", "#D55E00", size=8, value="overdue"),
            Symbol("due", "square", "#E69F00", size=6, value="due"),
            Symbol("not yet due", "circle", "#56B4E9", "#777777", 4, "not yet due"),
        ),
        "recall_state",
    ),
    LayerStyle("stops", (Symbol("stop", "circle", "#009E73", size=8),)),
    LayerStyle("crew_days", (Symbol("route", "line", "", "#0072B2", 1.6),)),
    LayerStyle("legs", (Symbol("leg", "line", "", "#0072B2", 0.8),)),
    LayerStyle("streets", (Symbol("street", "line", "", "#999999", 0.8),)),
    LayerStyle("wards", (Symbol("ward", "area", "", "#444444", 1.4),)),
    LayerStyle("depots", (Symbol("depot", "star", "#000000", size=13),)),
)

ALIASES = {
    "tree_id": "Tree",
    "species": "Species",
    "common_name": "Common name",
    "dbh_cm": "Trunk diameter (cm)",
    "height_m": "Height (m)",
    "crown_diameter_m": "Crown diameter (m)",
    "age_class": "Age class",
    "worst_defect": "Worst defect",
    "severity": "Severity (0-1)",
    "defects_are_prior": "No defect on record",
    "dose_needed": "Dose needed in all (share of live crown)",
    "dose": "Dose this visit (share of live crown)",
    "dose_limit": "Dose limit (share of live crown)",
    "visits_needed": "Visits needed",
    "not_before": "Not before",
    "due": "Due",
    "overdue_after": "Overdue after",
    "recall_state": "Recall",
    "priority": "Priority",
    "planned_on": "Planned on",
    "crew_day_id": "Crew-day",
    "reason": "Why not planned",
    "reason_text": "Why not planned, with its facts",
    "stop_order": "Stop",
    "arrive": "Arrive",
    "leave": "Leave",
    "travel_minutes": "Way (min)",
    "service_minutes": "At trees (min)",
    "free_minutes": "Spare (min)",
    "capacity_minutes": "Working time (min)",
    "cost_cents": "Cost (cents)",
    "brush_kg": "Brush (kg)",
    "work": "What to do",
    "note": "Note",
    "cautions": "Cautions",
    "hours": "Work within",
    "equipment": "Equipment",
    "next_due": "Next visit due",
}


def write_styles(edition: Edition) -> list[Path]:
    """Put styles and aliases into ``plan.gpkg`` in one step.

    Parameters
    ----------
    edition : Edition
        Its plan's ``plan.gpkg`` is copied, styled and put into its place whole.

    Returns
    -------
    list of Path
    """
    path = edition.folder / PLAN_FILE
    with replacing(path) as part:
        shutil.copyfile(edition.plan.path / PLAN_FILE, part)
        add_styles(part)
    return [path]


def add_styles(file: Path | str) -> None:
    """Add styles and aliases to a plan's GeoPackage.

    Parameters
    ----------
    file : Path or str
        A closed file that nothing else has open, such as the temporary one of
        `forestcycle.inventory.atomic.replacing`: two SQLite libraries in one process do not see
        each other's locks.
    """
    with closing(sqlite3.connect(file)) as database, database:
        columns = _columns(database)
        database.execute(LAYER_STYLES)
        _register(database, "layer_styles")
        for style in STYLES:
            if style.layer in columns:
                _add_style(database, style)
        database.execute(DATA_COLUMNS)
        _declare_schema_extension(database)
        database.executemany(
            "INSERT OR IGNORE INTO gpkg_data_columns (table_name, column_name, title) "
            "VALUES (?, ?, ?)",
            [
                (layer, column, ALIASES[column])
                for layer, names in columns.items()
                for column in names
                if column in ALIASES
            ],
        )


def _columns(database: sqlite3.Connection) -> dict[str, list[str]]:
    layers = database.execute(
        "SELECT table_name FROM gpkg_contents WHERE table_name <> 'layer_styles'"
    )
    return {
        layer: [
            row[0] for row in database.execute("SELECT name FROM pragma_table_info(?)", (layer,))
        ]
        for (layer,) in layers.fetchall()
    }


def _register(database: sqlite3.Connection, table: str) -> None:
    database.execute(
        "INSERT OR IGNORE INTO gpkg_contents (table_name, data_type, identifier, srs_id) "
        "VALUES (?, 'attributes', ?, 0)",
        (table, table),
    )


def _declare_schema_extension(database: sqlite3.Connection) -> None:
    database.execute(
        "CREATE TABLE IF NOT EXISTS gpkg_extensions (table_name TEXT, column_name TEXT, "
        "extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL, "
        "CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))"
    )
    known = "SELECT 1 FROM gpkg_extensions WHERE extension_name = 'gpkg_schema'"
    if not database.execute(known).fetchone():
        database.execute(
            "INSERT INTO gpkg_extensions "
            "VALUES ('gpkg_data_columns', NULL, 'gpkg_schema', ?, 'read-write')",
            (SCHEMA_EXTENSION,),
        )


def _add_style(database: sqlite3.Connection, style: LayerStyle) -> None:
    """Insert or renew our own row; it is the default only where the layer has no other."""
    geometry = database.execute(
        "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?", (style.layer,)
    ).fetchone()
    if geometry is None:
        return
    database.execute(
        "DELETE FROM layer_styles WHERE f_table_name = ? AND styleName = ? AND description = ?",
        (style.layer, STYLE_NAME, DESCRIPTION),
    )
    others = database.execute(
        "SELECT COUNT(*) FROM layer_styles WHERE f_table_name = ? AND useAsDefault", (style.layer,)
    ).fetchone()[0]
    database.execute(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
        "f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner, ui) "
        "VALUES ('', '', ?, ?, ?, ?, ?, ?, ?, '', '')",
        (
            style.layer,
            geometry[0],
            STYLE_NAME,
            qml(style),
            sld(style),
            int(others == 0),
            DESCRIPTION,
        ),
    )


def sld(style: LayerStyle) -> str:
    """Write a style as SLD 1.1.

    Parameters
    ----------
    style : LayerStyle

    Returns
    -------
    str
    """
    root = Xml.Element(
        "StyledLayerDescriptor",
        {"xmlns": SLD, "xmlns:se": SE, "xmlns:ogc": OGC, "version": "1.1.0"},
    )
    named = Xml.SubElement(root, "NamedLayer")
    Xml.SubElement(named, "se:Name").text = style.layer
    user = Xml.SubElement(named, "UserStyle")
    Xml.SubElement(user, "se:Name").text = STYLE_NAME
    features = Xml.SubElement(user, "se:FeatureTypeStyle")
    for symbol in style.symbols:
        rule = Xml.SubElement(features, "se:Rule")
        Xml.SubElement(rule, "se:Name").text = symbol.label
        if symbol.value:
            equal = Xml.SubElement(Xml.SubElement(rule, "ogc:Filter"), "ogc:PropertyIsEqualTo")
            Xml.SubElement(equal, "ogc:PropertyName").text = style.column
            Xml.SubElement(equal, "ogc:Literal").text = symbol.value
        _sld_symbol(rule, symbol)
    return Xml.tostring(root, encoding="unicode")


def _sld_symbol(rule: Xml.Element, symbol: Symbol) -> None:
    if symbol.shape == "line":
        parent = Xml.SubElement(rule, "se:LineSymbolizer")
    elif symbol.shape == "area":
        parent = Xml.SubElement(rule, "se:PolygonSymbolizer")
    else:
        graphic = Xml.SubElement(Xml.SubElement(rule, "se:PointSymbolizer"), "se:Graphic")
        parent = Xml.SubElement(graphic, "se:Mark")
        Xml.SubElement(parent, "se:WellKnownName").text = symbol.shape
        _parameter(Xml.SubElement(parent, "se:Fill"), "fill", symbol.fill)
        Xml.SubElement(graphic, "se:Size").text = f"{symbol.size:g}"
    stroke = Xml.SubElement(parent, "se:Stroke")
    _parameter(stroke, "stroke", symbol.stroke)
    width = symbol.size if symbol.shape in {"line", "area"} else 0.6
    _parameter(stroke, "stroke-width", f"{width:g}")


def _parameter(parent: Xml.Element, name: str, value: str) -> None:
    Xml.SubElement(parent, "se:SvgParameter", {"name": name}).text = value


def qml(style: LayerStyle) -> str:
    """Write a style in the XML that the ``styleQML`` column holds.

    Parameters
    ----------
    style : LayerStyle

    Returns
    -------
    str
    """
    root = Xml.Element("qgis", {"version": "3.22", "styleCategories": "Symbology|Fields"})
    kind = "categorizedSymbol" if style.column else "singleSymbol"
    attributes = {"type": kind, "enableorderby": "0", "forceraster": "0"}
    if style.column:
        attributes["attr"] = style.column
    renderer = Xml.SubElement(root, "renderer-v2", attributes)
    if style.column:
        categories = Xml.SubElement(renderer, "categories")
        for k, symbol in enumerate(style.symbols):
            Xml.SubElement(
                categories,
                "category",
                {"value": symbol.value, "label": symbol.label, "symbol": str(k), "render": "true"},
            )
    symbols = Xml.SubElement(renderer, "symbols")
    for k, symbol in enumerate(style.symbols):
        _qml_symbol(symbols, str(k), symbol)
    aliases = Xml.SubElement(root, "aliases")
    for column, alias in ALIASES.items():
        Xml.SubElement(aliases, "alias", {"field": column, "name": alias})
    return "<!DOCTYPE qgis>\n" + Xml.tostring(root, encoding="unicode")


def _qml_symbol(parent: Xml.Element, name: str, symbol: Symbol) -> None:
    kind = {"line": "line", "area": "fill"}.get(symbol.shape, "marker")
    layer_class = {"line": "SimpleLine", "fill": "SimpleFill", "marker": "SimpleMarker"}[kind]
    element = Xml.SubElement(parent, "symbol", {"name": name, "type": kind, "alpha": "1"})
    layer = Xml.SubElement(element, "layer", {"class": layer_class, "enabled": "1", "pass": "0"})
    for key, value in _qml_properties(kind, symbol):
        Xml.SubElement(layer, "prop", {"k": key, "v": value})


def _qml_properties(kind: str, symbol: Symbol) -> Iterator[tuple[str, str]]:
    """Widths and sizes in pixels."""
    stroke = _rgba(symbol.stroke)
    if kind == "line":
        yield from (
            ("line_color", stroke),
            ("line_width", f"{symbol.size:g}"),
            ("line_width_unit", "Pixel"),
        )
        return
    yield from (
        ("outline_color", stroke),
        ("outline_style", "solid"),
        ("outline_width_unit", "Pixel"),
    )
    if kind == "fill":
        yield from (("style", "no"), ("outline_width", f"{symbol.size:g}"))
        return
    yield from (
        ("name", symbol.shape),
        ("color", _rgba(symbol.fill)),
        ("outline_width", "0.6"),
        ("size", f"{symbol.size:g}"),
        ("size_unit", "Pixel"),
    )


def _rgba(colour: str) -> str:
    return ",".join(str(int(colour[k : k + 2], 16)) for k in (1, 3, 5)) + ",255"


OUTPUT = Output(
    "map layers",
    PLAN_FILE,
    write_styles,
    "styles of the map layers",
    links=(
        Link(
            PLAN_FILE,
            "Map layers",
            "GeoPackage for a desktop GIS; opens with its styles.",
            rank=70,
        ),
    ),
)
