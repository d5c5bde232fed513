"""Damage to settings that stay TOML, or nearly."""

import json
import re
from collections.abc import Callable
from random import Random

from tests.fuzz.bad_words import CELLS, bad_cell, bad_name

VALUES = (
    "0", "-1", "nan", "inf", "-inf", "1e308", "9" * 40, "true", "[]", "{}", '""', "[[[[]]]]",
    "1979-05-27", "9999-12-31", "0001-01-01", "24:00:00", "00:00:00", "0x7fffffffffffffff",
    "2027-01-01", "1e-300", "960", "1", '"EPSG:4326"', '"EPSG:3857"', '"EPSG:0"', '"+proj=harm"',
)  # fmt: skip
LINE = re.compile(r"^([\w.]+) = (.*)$", re.MULTILINE)


def spoil_settings(data: bytes, random: Random) -> bytes:
    """Spoil settings in one to three ways."""
    text = data.decode("utf-8")
    for _ in range(random.choice([1, 1, 2, 3])):
        text = random.choice(WAYS)(text, random)
    return text.encode("utf-8", "surrogatepass")


def _value(text: str, random: Random) -> str:
    """Give one key another value."""
    found = random.choice(list(LINE.finditer(text)) or [None])
    if found is None:
        return text
    value = random.choice([random.choice(VALUES), json.dumps(bad_cell(random))])
    return f"{text[: found.start()]}{found[1]} = {value}{text[found.end() :]}"


def _text(text: str, random: Random) -> str:
    """Give one text another content, so that the type stays right."""
    found = random.choice(list(re.finditer(r'"[^"\n]*"', text)) or [None])
    if found is None:
        return text
    return text[: found.start()] + json.dumps(bad_name(random)) + text[found.end() :]


def _crew(text: str, random: Random) -> str:
    """Name a crew as no crew is named."""
    return re.sub(r'name = "[^"]*crew"', lambda _: f"name = {json.dumps(bad_name(random))}", text)


def _line_lost(text: str, random: Random) -> str:
    lines = text.splitlines()
    del lines[random.randrange(len(lines) or 1) :][:1]
    return "\n".join(lines)


def _line_repeated(text: str, random: Random) -> str:
    lines = text.splitlines() or [""]
    line = random.choice(lines)
    lines.insert(random.randrange(len(lines)), line)
    return "\n".join(lines)


def _nested(text: str, random: Random) -> str:
    """Nest deeper than any reader's stack."""
    depth = random.choice([50, 2000, 100_000])
    kind = random.choice(["[", "{a=", "table"])
    if kind == "table":
        return f"{text}\n[{'.'.join(['a'] * min(depth, 20_000))}]\nb = 1\n"
    return f"{text}\n[deep]\nx = {kind * depth}1{(']' if kind == '[' else '}') * depth}\n"


def _laughs(text: str, random: Random) -> str:
    """Say much with little: many crews, many words, long arrays."""
    many = random.choice([100, 3000])
    crews = "".join(f'\n[[crews]]\nname = "Crew {number}"\n' for number in range(many // 30))
    words = "\n[trees.values.species]\n" + "".join(f'"w{n}" = "Acer"\n' for n in range(many))
    days = f"\n[calendar2]\nholidays = [{', '.join(['2027-01-01'] * many)}]\n"
    return text + random.choice([crews, words, days])


def _unknown_key(text: str, random: Random) -> str:
    table = random.choice(re.findall(r"^\[+[\w.]+\]+$", text, re.MULTILINE) or ["[x]"])
    return text.replace(table, f"{table}\n{json.dumps(bad_name(random))} = 1", 1)


def _layer(text: str, random: Random) -> str:
    """Point a layer, the inventory, the books or the tables elsewhere."""
    where = json.dumps(random.choice([*CELLS, "city.gpkg", "cycle.toml", "trees", "plan", "."]))
    if random.random() < 0.3:
        return text.replace("[layers]", f"[layers]\nbooks = {where}", 1)
    if random.random() < 0.3:
        return f"{text}\n[practice]\ntables = {where}\n"
    keys = "inventory|trees|streets|wards|depots|parks|defects|visits|requests"
    found = random.choice(list(re.finditer(rf"^({keys}) = .*$", text, re.MULTILINE)) or [None])
    if found is None:
        return text
    return f"{text[: found.start()]}{found[1]} = {where}{text[found.end() :]}"


WAYS: tuple[Callable[[str, Random], str], ...] = (
    _value, _value, _value, _text, _text, _crew, _line_lost, _line_repeated, _nested, _laughs,
    _unknown_key, _layer, _layer,
)  # fmt: skip
