"""The sample city, pushed into PostGIS by tools that are not forestcycle's."""

import json
from dataclasses import dataclass
from pathlib import Path

import pyogrio

import sample_city
from tests.database.server import Server

FOLDER = Path(sample_city.__file__).parent
LAYERS = ("trees", "streets", "wards", "depots", "parks", "defects", "visits", "requests")


@dataclass(frozen=True)
class Town:
    """A database, and a folder for files."""

    server: Server
    name: str
    folder: Path

    @property
    def address(self) -> str:
        return self.server.address(self.name)

    @property
    def settings(self) -> Path:
        return self.folder / "cycle.toml"

    def sql(self, statements: str) -> str:
        return self.server.sql(self.name, statements)


KINDS = {"int32": "integer", "int64": "bigint", "float64": "double precision", "bool": "boolean"}


def push_layers(town: Town) -> None:
    """Copy all layers with psql alone: GeoJSON geometries, and rows as JSON."""
    for layer in LAYERS:
        frame = pyogrio.read_dataframe(FOLDER / "city.gpkg", layer=layer)
        columns = {str(name): frame[name] for name in frame.columns if name != "geometry"}
        kinds = {
            name: "date" if column.dtype.kind == "M" else KINDS.get(str(column.dtype), "text")
            for name, column in columns.items()
        }
        shape = ""
        if hasattr(frame, "geom_type"):
            srid = frame.crs.to_epsg()
            types = set(frame.geom_type.dropna())
            name = types.pop() if len(types) == 1 else "Geometry"
            shape = f", geom geometry({name},{srid})"
            columns["geom"] = frame.geometry.to_wkb(hex=True)
        declared = ", ".join(f'"{name}" {kind}' for name, kind in kinds.items())
        town.sql(f"CREATE TABLE {layer} (fid bigserial PRIMARY KEY, {declared}{shape});")
        rows = _as_json(columns)
        into = ", ".join(f'"{name}"' for name in columns)
        chosen = ", ".join(
            f"ST_SetSRID(ST_GeomFromWKB(decode(r->>'geom', 'hex')), {frame.crs.to_epsg()})"
            if name == "geom"
            else f"(r->>'{name}')::{kinds[name]}"
            for name in columns
        )
        town.sql(
            f"CREATE TEMP TABLE raw (n bigserial, r jsonb);\n"
            f"COPY raw (r) FROM STDIN WITH (FORMAT csv, DELIMITER E'\\x01', QUOTE E'\\x02');\n"
            f"{rows}\n\\.\n"
            f"INSERT INTO {layer} ({into}) SELECT {chosen} FROM raw ORDER BY n;"
        )


def _as_json(columns) -> str:
    lists = {
        name: [
            None if missing else (str(value.date()) if hasattr(value, "date") else value)
            for value, missing in zip(column.tolist(), column.isna(), strict=True)
        ]
        for name, column in columns.items()
    }
    return "\n".join(
        json.dumps(dict(zip(lists, row, strict=True))) for row in zip(*lists.values(), strict=True)
    )


def write_settings(town: Town) -> None:
    text = (FOLDER / "cycle.toml").read_text()
    town.settings.write_text(text.replace('"city.gpkg"', f'"{town.address}"'))
