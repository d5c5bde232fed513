"""Pages that carry everything inside themselves."""

import json
import re
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.publish.page import (
    ASSETS,
    Drawing,
    OfflineMap,
    Page,
    Verbatim,
    asset,
    script_json,
)

VENDOR = Path(__file__).parent / "vendor"


@pytest.mark.parametrize("folder", [Path(str(ASSETS)), VENDOR])
def test_vendored_files_are_as_the_registry_gave_them(folder):
    for line in (folder / "SHA256SUMS.txt").read_text().splitlines():
        digest, name = line.split()
        assert sha256((folder / name).read_bytes()).hexdigest() == digest


@given(st.recursive(st.text(), st.lists))
def test_json_survives_and_cannot_end_its_script(value):
    text = script_json(value)
    assert json.loads(text) == value
    assert "<" not in text
    assert not set(text) & {"\u2028", "\u2029"}


def test_a_foreign_text_is_never_a_template():
    page = Page("{{ 7 * 7 }}", styles=[], scripts=[])
    page.add_html("{{ 7 * 7 }} {% raw %}")
    page.html.add_child(Verbatim("{{ this }}"))
    text = page.render()
    assert text.count("{{ 7 * 7 }}") == 2
    assert "{{ this }}" in text


def test_the_title_is_escaped():
    assert "<title>&lt;/title&gt;" in Page("</title>", styles=[], scripts=[]).render()


def test_no_file_on_any_page_refers_to_the_network(site):
    reference = re.compile(r"""(?:src|href|url\(|@import)\s*[=(]?\s*["']?\s*(?:https?:)?//""")
    leaflet = re.sub(r"//# .*", "", asset("leaflet/leaflet.js"))  # its credit line is switched off
    for file in site.glob("**/*.html"):
        own = file.read_text(encoding="utf-8").replace(leaflet, "")
        assert not reference.search(own), file


def test_the_policy_lets_only_the_pages_own_scripts_run(site, opened):
    page = opened(site / "maps/city.html")
    page.page.evaluate(
        """() => {
          const script = document.createElement('script');
          script.textContent = "document.title = 'harmed'";
          document.body.append(script);
          document.body.insertAdjacentHTML('beforeend', '<img src="x" onerror="document.title=1">');
        }"""
    )
    assert page.page.title() != "harmed"
    assert any("Content Security Policy" in complaint for complaint in page.complaints)
    page.complaints.clear()
    page.asked.clear()


def test_tiles_come_only_where_the_city_asks_for_them():
    page = Page(
        "t", styles=[], scripts=[], tile_address="https://{s}.tiles.example/{z}/{x}/{y}.png"
    )
    shown = OfflineMap("m", tile_address="https://{s}.tiles.example/{z}/{x}/{y}.png")
    page.add_child(shown)
    text = page.render()
    assert "img-src data: https://*.tiles.example" in text
    assert "Map tiles: {s}.tiles.example" in text
    bare = Page("t", styles=[], scripts=[])
    bare.add_child(OfflineMap("m"))
    assert "tileLayer" not in bare.render()


def test_the_same_page_is_the_same_file():
    def text() -> str:
        page = Page("t", styles=["site.css"], scripts=["leaflet/leaflet.js"])
        shown = OfflineMap("m")
        page.add_child(shown)
        shown.add_child(Drawing("draw", "data"))
        return page.render()

    assert text() == text()
