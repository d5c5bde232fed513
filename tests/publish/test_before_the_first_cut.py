"""The cautions that hold at every tree, once per day: common practice."""

import re

import pytest
from pypdf import PdfReader

SAID = (
    "Helmet, eye, ear, hand and leg protection",
    "nobody below the cut",
    "undercut a quarter to a third",
    "outside branch bark ridge and collar",
    "overhead conductors",
    "ceiling, not a target",
    "Local codes and licensed practice come first",
)


def plain(text):
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("said", SAID)
def test_sheets_and_day_maps_show_them(site, said):
    sheet = PdfReader(sorted(site.glob("sheets/*/*.pdf"))[0])
    assert said in plain(" ".join(page.extract_text() for page in sheet.pages))
    assert said in plain(sorted(site.glob("maps/crews/*.html"))[0].read_text(encoding="utf-8"))
