"""The first page: its figures are the plan's, and every link leads somewhere."""

from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from forestcycle.publish.index import link
from tests.publish.browser import DESKTOP, PHONE, TABLET

pytestmark = pytest.mark.browser


def test_links_are_percent_encoded():
    # RFC 3986, 2.4: '%' itself must be encoded; '#' and '?' would end the path.
    assert link("maps/a b#1?%.html") == "maps/a%20b%231%3F%25.html"


def test_every_link_leads_to_a_file(site, opened):
    page = opened(site / "index.html").page
    links = page.eval_on_selector_all("a", "links => links.map(link => link.href)")
    assert len(links) > 8 * 4
    for address in links:
        assert (site / unquote(urlsplit(address).path)).is_file()


def test_every_day_fragment_exists(site, opened):
    page = opened(site / "index.html").page
    for address in page.eval_on_selector_all(".map-link", "links => links.map(link => link.href)"):
        parts = urlsplit(address)
        text = Path(unquote(parts.path)).read_text(encoding="utf-8")
        assert f'id="{parts.fragment}"' in text


def test_figures_agree_with_the_summary(plan, site, opened):
    text = opened(site / "index.html").page.inner_text("body")
    summary = plan.summary
    assert f"{summary['trees_planned']:,}\ntrees to visit" in text
    assert f"{summary['crew_days_used']:,}\ncrew-days of work" in text
    assert f"{summary['cost_cents'] / 100:,.0f} EUR" in text
    for count in summary["unplanned_reasons"].values():
        assert f"{count:,}" in text


@pytest.mark.parametrize("size", [PHONE, TABLET, DESKTOP])
def test_nothing_sticks_out_and_no_serious_fault(site, opened, size):
    opened_page = opened(site / "index.html", size=size)
    assert opened_page.page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert opened_page.faults() == []
