"""Pages that are one file each: a folium figure and map that ask the network for nothing."""

import html
import json
import re
from base64 import b64encode
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Any
from urllib.parse import urlsplit

import folium
from branca.element import Element, Figure, MacroElement
from jinja2 import Environment, FunctionLoader, StrictUndefined, Template

ASSETS = files("forestcycle.publish") / "assets"
CLOSEST_ZOOM = 21
FINE_ZOOM = 0.25
"""Steps of the scale at which all stops fill the map; tiles are drawn for whole ones only."""


@cache
def asset(name: str) -> str:
    """Read a file of ``publish/assets``.

    Parameters
    ----------
    name : str
        Its path below ``assets``.

    Returns
    -------
    str
    """
    return (ASSETS / name).read_text(encoding="utf-8")


def script_json(value: Any) -> str:  # noqa: ANN401 - whatever JSON can hold
    """Write JSON that may stand inside a ``<script>``.

    Parameters
    ----------
    value : JSON value

    Returns
    -------
    str
        With ``<`` escaped, since ``</script`` or ``<!--`` in a tree's name would end or swallow
        the script block, and with U+2028 and U+2029, which old browsers take as line ends.
    """
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def render(template: str, **values: Any) -> str:  # noqa: ANN401 - whatever a template shows
    """Fill in a template of ``publish/assets``; every value is escaped.

    Parameters
    ----------
    template : str
        File name.
    **values
        What the template names.

    Returns
    -------
    str
        HTML.
    """
    return _environment().get_template(template).render(**values)


@cache
def _environment() -> Environment:
    return Environment(
        autoescape=True,
        loader=FunctionLoader(asset),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


class Verbatim(Element):
    """Text for a page that is put in as it is, and never read as a template.

    Parameters
    ----------
    text : str
        HTML, CSS or JavaScript with every foreign text escaped already.
    """

    _template = Template("{{ this.text }}")

    def __init__(self, text: str) -> None:
        super().__init__()
        self._name = "Verbatim"
        self.text = text


class Page(Figure):
    """An HTML page in one file.

    A content security policy allows the page's own scripts, by their hash, and nothing else: no
    request to anywhere (but the tiles that the city asked for), and no script that came in with
    a tree's name.

    Parameters
    ----------
    title : str
        Shown in the window's title.
    styles : list of str
        Names of style sheets in ``assets``.
    scripts : list of str
        Names of scripts in ``assets``, run before the map's.
    tile_address : str, optional
        Where map tiles may come from.
    """

    _template = Template(
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<title>{{ this.title | e }}</title>\n"
        "{{ this.header.render(**kwargs) }}\n</head>\n<body>\n"
        "{{ this.html.render(**kwargs) }}\n"
        "{{ this.scripts.render(**kwargs) }}\n"
        "<script>\n{{ this.script.render(**kwargs) }}\n</script>\n</body>\n</html>\n"
    )

    def __init__(
        self,
        title: str,
        *,
        styles: list[str],
        scripts: list[str],
        tile_address: str | None = None,
    ) -> None:
        super().__init__(title=title)
        self.header, self.scripts = Element(), Element()
        self.header._parent = self.scripts._parent = self  # noqa: SLF001 - as in Figure itself
        self._tile_address = tile_address
        for name in styles:
            self.header.add_child(Verbatim(f"<style>\n{_style(name)}</style>"))
        for name in scripts:
            self.scripts.add_child(Verbatim(f"<script>\n{_script(name)}</script>"))

    def add_html(self, html: str) -> None:
        """Add to the page's body.

        Parameters
        ----------
        html : str
            As `render` returns it: every foreign text escaped.
        """
        self.html.add_child(Verbatim(html))

    def add_data(self, name: str, text: str, *, kind: str = "application/json") -> None:
        """Add data that the scripts read.

        Parameters
        ----------
        name : str
            The element's id.
        text : str
            As `script_json` returns it, or base64.
        kind : str
            Its media type.
        """
        self.add_html(f'<script type="{kind}" id="{name}">{text}</script>')

    def render(self, **kwargs: Any) -> str:  # noqa: ANN401 - as Figure's
        """Write the page, with the hashes of its scripts in its policy.

        Parameters
        ----------
        **kwargs : object
            As for ``branca.element.Figure.render``.

        Returns
        -------
        str
            HTML.
        """
        page = str(super().render(**kwargs))
        scripts = re.findall(r"<script>(.*?)</script>", page, flags=re.DOTALL)
        start = '<meta charset="utf-8">\n'
        return page.replace(start, start + _policy(scripts, self._tile_address), 1)


def _policy(scripts: list[str], tile_address: str | None) -> str:
    hashes = [b64encode(sha256(script.encode()).digest()).decode() for script in scripts]
    allowed = " ".join(f"'sha256-{digest}'" for digest in hashes)
    images = "data:" if tile_address is None else f"data: {_origin(tile_address)}"
    rules = (
        f"default-src 'none'; script-src {allowed}; style-src 'unsafe-inline'; img-src {images}; "
        "base-uri 'none'; form-action 'none'"
    )
    return f'<meta http-equiv="Content-Security-Policy" content="{rules}">\n'


def _origin(tile_address: str) -> str:
    """Name the hosts that tiles come from; ``{s}`` stands for any first label."""
    parts = urlsplit(tile_address.replace("{s}", "*"))
    return html.escape(f"{parts.scheme}://{parts.netloc}", quote=True)


def _style(name: str) -> str:
    """Without the pictures of controls that no page has."""
    return re.sub(r"url\(images/[^)]*\)", "none", asset(name))


def _script(name: str) -> str:
    """Without a source map, which a browser would look for; a module becomes a global."""
    text = re.sub(r"//# sourceMappingURL=\S*", "", asset(name))
    if name.startswith("tiny_inflate/"):
        return (
            f"const tinyInflate = (function (module) {{\n{text}\nreturn module.exports;}})({{}});\n"
        )
    return text


class OfflineMap(folium.Map):
    """A folium map whose code is in the page already.

    Parameters
    ----------
    name : str
        A JavaScript name; the same plan gives the same page, byte for byte.
    tile_address : str, optional
        Map tiles; none by default.
    """

    default_js: list[tuple[str, str]] = []  # noqa: RUF012 - as in folium.Map
    default_css: list[tuple[str, str]] = []  # noqa: RUF012
    _template = Template(
        "{% macro html(this, kwargs) %}"
        '<div class="map" id="{{ this.get_name() }}" role="application" aria-label="Map"></div>'
        "{% endmacro %}"
        "{% macro script(this, kwargs) %}"
        "const {{ this.get_name() }} = "
        "L.map({{ this.get_name() | tojson }}, {{ this.options | tojson }}).setView([0, 0], 2);\n"
        "{% endmacro %}"
    )

    def __init__(self, name: str, *, tile_address: str | None = None) -> None:
        super().__init__(tiles=None, zoom_control=False)
        self._name, self._id = "map", name
        self.options = {
            "zoomControl": False,
            "attributionControl": bool(tile_address),
            "maxZoom": CLOSEST_ZOOM,
            "zoomSnap": 1.0 if tile_address else FINE_ZOOM,
        }
        if tile_address:
            credit = html.escape(f"Map tiles: {urlsplit(tile_address).netloc}")
            tiles = folium.TileLayer(
                tile_address, attr=credit, max_zoom=CLOSEST_ZOOM, max_native_zoom=19
            )
            tiles._id = name  # noqa: SLF001 - the only way to a name that stays the same
            self.add_child(tiles)


class Drawing(MacroElement):
    """Runs one of the project's scripts on the map: ``call(map, arguments...)``.

    Parameters
    ----------
    call : str
        The JavaScript function.
    arguments : str
        JavaScript after ``map``, such as the ids of data elements.
    """

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "{{ this.call }}({{ this._parent.get_name() }}{{ this.arguments }});"
        "{% endmacro %}"
    )

    def __init__(self, call: str, *arguments: str) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = "Drawing"
        self.call = call
        self.arguments = "".join(f", {script_json(argument)}" for argument in arguments)
