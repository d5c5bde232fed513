"""Text on a PDF page: embedded fonts, fallback for other scripts, width and wrapping."""

import re
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import as_file, files
from typing import Any, Literal

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

REGULAR = "DejaVuSansCondensed"
BOLD = "DejaVuSansCondensed-Bold"
FALLBACKS = ("DroidSansFallback", "NotoEmoji-Regular")
"""Han, kana and Hangul; then pictographs."""

FONTS = files("forestcycle.publish") / "fonts"

MISSING = "\ufffd"
"""Stands for a character that no embedded font has, so that none is lost unseen."""

JOINERS = frozenset("\u200b\u200c\u200d\ufe0e\ufe0f")
"""Shape what stands around them and print as nothing."""

ELLIPSIS = "…"

Align = Literal["left", "centre", "right"]


class _SearchableFont(TTFont):  # type: ignore[misc]
    """A font whose characters beyond U+FFFF can be searched and copied.

    The base class writes them with five hexadecimal digits; a ToUnicode map
    wants UTF-16BE (ISO 32000-1, 9.10.3).
    """

    def addObjects(self, doc: Any) -> None:  # noqa: ANN401, N802 - the base class's own signature
        super().addObjects(doc)
        for name, stream in doc.idToObject.items():
            if name.startswith("toUnicodeCMap:"):
                stream.content = re.sub(r"<([0-9A-F]{5,6})>", _utf16, stream.content)


def _utf16(match: re.Match[str]) -> str:
    return f"<{chr(int(match[1], 16)).encode('utf-16-be').hex().upper()}>"


@lru_cache(maxsize=1)
def fonts() -> dict[str, frozenset[int]]:
    """Make the embedded fonts known, once per process.

    Returns
    -------
    dict of str to frozenset of int
        The code points that each font has.
    """
    known = {}
    for name in (REGULAR, BOLD, *FALLBACKS):
        with as_file(FONTS / f"{name}.ttf") as path:
            font = _SearchableFont(name, str(path))
        pdfmetrics.registerFont(font)
        known[name] = frozenset(font.face.charToGlyph)
    return known


@lru_cache(maxsize=65_536)
def runs(text: str, *, bold: bool = False) -> tuple[tuple[str, str], ...]:
    """Split a text into stretches that one font can print.

    Parameters
    ----------
    text : str
    bold : bool

    Returns
    -------
    tuple of (font name, text)
    """
    first = BOLD if bold else REGULAR
    if text.isascii():
        return ((first, text),)
    known = fonts()
    stretches: list[tuple[str, str]] = []
    for character in text:
        if character in JOINERS:
            continue
        font = next((f for f in (first, *FALLBACKS) if ord(character) in known[f]), None)
        name, shown = (font, character) if font else (first, MISSING)
        if stretches and stretches[-1][0] == name:
            stretches[-1] = (name, stretches[-1][1] + shown)
        else:
            stretches.append((name, shown))
    return tuple(stretches)


def printable(text: str) -> str:
    """Replace what no embedded font can print.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return "".join(part for _, part in runs(text))


@lru_cache(maxsize=65_536)
def width(text: str, size: float, *, bold: bool = False) -> float:
    """Measure a text.

    Parameters
    ----------
    text : str
    size : float
        Font size in points.
    bold : bool

    Returns
    -------
    float
        Points.
    """
    fonts()
    return float(
        sum(pdfmetrics.stringWidth(part, font, size) for font, part in runs(text, bold=bold))
    )


@lru_cache(maxsize=16_384)
def wrap(text: str, size: float, room: float, *, bold: bool = False) -> tuple[str, ...]:
    """Break a text into lines no wider than the room there is.

    Parameters
    ----------
    text : str
    size : float
        Font size in points.
    room : float
        Points.
    bold : bool

    Returns
    -------
    tuple of str
        Empty for an empty text. A word wider than the room is broken.
    """
    lines: list[str] = []
    line, across = "", 0.0
    space = width(" ", size, bold=bold)
    for word in text.split():
        needed = width(word, size, bold=bold)  # there is no kerning: widths of words add up
        if line and across + space + needed <= room:
            line, across = f"{line} {word}", across + space + needed
            continue
        if line:
            lines.append(line)
        line, across = word, needed
        if needed > room:
            *full, line = _broken(word, size, room, bold=bold)
            lines.extend(full)
            across = width(line, size, bold=bold)
    return (*lines, line) if line else tuple(lines)


def _broken(word: str, size: float, room: float, *, bold: bool) -> list[str]:
    pieces = [""]
    for character in word:
        if pieces[-1] and width(pieces[-1] + character, size, bold=bold) > room:
            pieces.append("")
        pieces[-1] += character
    return pieces


def shortened(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """Cut a text to one line, with an ellipsis where something is left out.

    Parameters
    ----------
    text : str
    size : float
        Font size in points.
    room : float
        Points.
    bold : bool

    Returns
    -------
    str
    """
    if width(text, size, bold=bold) <= room:
        return text
    while text and width(text + ELLIPSIS, size, bold=bold) > room:
        text = text[:-1]
    return text.rstrip() + ELLIPSIS


def draw(
    canvas: Canvas,
    x: float,
    y: float,
    text: str,
    size: float,
    *,
    bold: bool = False,
    align: Align = "left",
) -> None:
    """Print one line.

    Parameters
    ----------
    canvas : Canvas
    x, y : float
        Points from the page's lower left corner; ``y`` is the base line.
    text : str
        Plain text; see `forestcycle.publish.text.plain`.
    size : float
        Font size in points.
    bold : bool
    align : {"left", "centre", "right"}
        What ``x`` is of the text.
    """
    fonts()
    if align != "left":
        x -= width(text, size, bold=bold) * (0.5 if align == "centre" else 1.0)
    line = canvas.beginText(x, y)
    for font, part in runs(text, bold=bold):
        line.setFont(font, size)
        line.textOut(part)
    canvas.drawText(line)


def draw_lines(
    canvas: Canvas,
    x: float,
    y: float,
    lines: Sequence[str],
    size: float,
    leading: float,
    *,
    bold: bool = False,
) -> None:
    """Print lines of one size, one below the other.

    Parameters
    ----------
    canvas : Canvas
    x, y : float
        Points from the page's lower left corner; ``y`` is the first base line.
    lines : sequence of str
        Plain text.
    size, leading : float
        Font size, and from one base line to the next, in points.
    bold : bool
    """
    first = BOLD if bold else REGULAR
    fonts()
    block = canvas.beginText(x, y)
    block.setFont(first, size, leading)
    for line in lines:
        parts = runs(line, bold=bold)
        if len(parts) == 1 and parts[0][0] == first:
            block.textLine(parts[0][1])  # at once: to be told where the line ends costs time
            continue
        for font, part in parts:
            block.setFont(font, size, leading)
            block.textOut(part)
        block.setFont(first, size, leading)
        block.textLine("")
    canvas.drawText(block)
