"""Draw the rooms and their imports from the code: ``python -m tests.tools.draw_rooms``.

One row per room, in the order in which data flows, with the first line of its
docstring and a dot for each room that it imports. A dot right of the diagonal would be
an import against the flow.
"""

import ast
import tomllib
from dataclasses import dataclass
from html import escape
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PICTURE = ROOT / "docs" / "pictures" / "rooms.svg"

ROW, TOP, LEFT, CELL = 34, 84, 12, 30
BOX_WIDTH, TEXT_WIDTH = 92, 560
MOST_LETTERS = 76


@dataclass(frozen=True)
class Room:
    """A room as its code shows it."""

    name: str
    sentence: str
    imports: set[str]


def room_names() -> list[str]:
    """Rooms in the order in which data flows, as import-linter holds it."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    layers = settings["tool"]["importlinter"]["contracts"][0]["layers"]
    names = [name.strip() for layer in layers for name in layer.split("|")]
    return [name.removeprefix("forestcycle.") for name in reversed(names)]


def read_room(name: str, names: list[str]) -> Room:
    """Read a room's files."""
    package = ROOT / "forestcycle" / name
    paths = sorted(package.rglob("*.py")) if package.is_dir() else [package.with_suffix(".py")]
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in paths]
    front = paths.index(package / "__init__.py") if package.is_dir() else 0
    sentence = (ast.get_docstring(trees[front]) or "").splitlines()[0]
    imports = set().union(*map(_rooms_imported, trees)) & {*names} - {name}
    return Room(name, sentence.removesuffix(".").replace("`", ""), imports)


def _rooms_imported(tree: ast.Module) -> set[str]:
    modules = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            modules.add(node.module)
        if isinstance(node, ast.Import):
            modules |= {alias.name for alias in node.names}
    parts = [module.split(".") for module in modules]
    return {part[1] for part in parts if part[0] == "forestcycle" and len(part) > 1}


def drawing(rooms: list[Room]) -> str:
    """Return the picture as SVG."""
    names = [room.name for room in rooms]
    columns = [LEFT + BOX_WIDTH + TEXT_WIDTH + CELL * column for column in range(len(rooms))]
    width, height = columns[-1] + CELL + 20, TOP + ROW * len(rooms) + 8
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
            f'viewBox="0 0 {width} {height}" font-family="system-ui, sans-serif" font-size="13">'
        ),
        "<title>The rooms of forestcycle and what each imports</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
    ]
    parts += [
        f'<text transform="translate({x + 4} {TOP - 10}) rotate(-55)" fill="#333">{name}</text>'
        for x, name in zip(columns, names, strict=True)
    ]
    for row, room in enumerate(rooms):
        parts += _row(room, TOP + ROW * row, columns, names)
    return "\n".join([*parts, "</svg>", ""])


def _row(room: Room, y: int, columns: list[int], names: list[str]) -> list[str]:
    parts = [
        f'<rect x="{LEFT}" y="{y}" width="{BOX_WIDTH}" height="{ROW - 6}" rx="6" fill="#2f6f4e"/>',
        (
            f'<text x="{LEFT + BOX_WIDTH / 2}" y="{y + 19}" text-anchor="middle" fill="#fff" '
            f'font-weight="600">{room.name}</text>'
        ),
        (
            f'<text x="{LEFT + BOX_WIDTH + 12}" y="{y + 19}" fill="#222">'
            f"{escape(_shortened(room.sentence))}</text>"
        ),
    ]
    for x, name in zip(columns, names, strict=True):
        if name == room.name:
            parts.append(f'<rect x="{x - 5}" y="{y + 9}" width="10" height="10" fill="#cfd8d3"/>')
        elif name in room.imports:
            parts.append(
                f'<circle cx="{x}" cy="{y + 14}" r="7" fill="#b5651d">'
                f"<title>{room.name} imports {name}</title></circle>"
            )
    return parts


def _shortened(sentence: str) -> str:
    if len(sentence) <= MOST_LETTERS:
        return sentence
    return sentence[:MOST_LETTERS].rsplit(" ", 1)[0] + " …"


def picture() -> str:
    """Draw the code as it stands."""
    names = room_names()
    return drawing([read_room(name, names) for name in names])


if __name__ == "__main__":
    PICTURE.write_text(picture(), encoding="utf-8")
