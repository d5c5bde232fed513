"""A city in which every name tries to be more than a name."""

import json
import tomllib
from pathlib import Path

import pyogrio
from pyogrio import list_layers

import sample_city

HARM = "document.title='harmed'"
HOSTILE = f'</script><script>{HARM}</script><img src=x onerror="{HARM}">'
FORMULA = '=HYPERLINK("http://harm.invalid","x")'
RENAMED = {
    "trees": ("species", "common_name", "street", "address", "fund"),
    "streets": ("street",),
    "wards": ("ward",),
    "depots": ("depot",),
    "parks": ("park",),
    "defects": ("note",),
    "requests": ("note",),
}


def make_hostile_city(folder: Path, *, trees: int, seed: int) -> Path:
    """Write a sample city whose names are markup, half of them formulas too.

    Returns
    -------
    Path
        Its ``cycle.toml``.
    """
    settings = sample_city.make(folder, trees=trees, seed=seed)
    path = folder / "city.gpkg"
    layers = {name: pyogrio.read_dataframe(path, layer=name) for name, _ in list_layers(path)}
    for layer, columns in RENAMED.items():
        for column in columns:
            layers[layer][column] = spoil(layers[layer][column])
    path.unlink()
    for name, table in layers.items():
        pyogrio.write_dataframe(table, path, layer=name, driver="GPKG")
    text = settings.read_text()
    crews = tomllib.loads(text)["crews"]
    plain = {crew["depot"] for crew in crews} | {crew["name"] for crew in crews}
    plain |= {"Quellhaven", "Lower Quell"}
    for name in plain:
        text = text.replace(json.dumps(name), json.dumps(FORMULA + name + HOSTILE))
    text = text.replace("{ parks =", f"{{ {json.dumps(FORMULA + 'parks' + HOSTILE)} =")
    settings.write_text(text)
    return settings


def spoil(names):
    """Keep each name in the middle, so that names that differ still do."""
    return (FORMULA + names.astype(str) + HOSTILE).where(names.notna() & (names != ""), names)
