"""The city map in a real browser: all trees, colours, filters, search and cards."""

import re

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from forestcycle.publish.city_map import CITY_PAGE, RECALL_STATES, priority_bands
from tests.publish.browser import DESKTOP, PHONE, TABLET
from tests.publish.example_plan import CLOSING, HOSTILE, SCRIPT

pytestmark = pytest.mark.browser


@pytest.fixture
def city(site, opened):
    def open_city(**options):
        return opened(site / CITY_PAGE, **options)

    return open_city


def legend(page):
    labels = page.locator("#legend li").all_inner_texts()
    return {name: int(count.replace(",", "")) for name, count in (t.split("\n") for t in labels)}


def test_every_tree_is_counted_in_its_class(plan, city):
    page = city().page
    for button, column in (("Recall", "recall_state"), ("Age class", "age_class")):
        page.get_by_role("button", name=button).click()
        assert legend(page) == plan.trees[column].astype(str).value_counts().to_dict()
    page.get_by_role("button", name="Priority").click()
    assert list(legend(page).values()) == [120] * 5
    page.get_by_role("button", name="Planned month").click()
    planned = int(plan.trees["planned_on"].notna().sum())
    assert legend(page) == {"not planned": 600 - planned, "March 2027": planned}


def test_the_canvas_shows_each_class_in_its_colour(city):
    page = city().page
    colours = page.evaluate(
        """() => {
          const canvas = document.querySelector('.leaflet-trees-pane canvas');
          const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
          const seen = new Set();
          for (let i = 0; i < data.length; i += 4) {
            if (data[i + 3] === 255) seen.add([data[i], data[i + 1], data[i + 2]].join());
          }
          return [...seen];
        }"""
    )
    # Okabe and Ito: sky blue, orange, vermilion.
    assert {"86,180,233", "230,159,0", "213,94,0"} <= set(colours)


def test_colours_are_seen_from_afar(city):
    """Rings of planned trees must not hide what the colours say."""
    page = city().page
    page.evaluate("map_city.setZoom(13, { animate: false })")
    shares = page.evaluate(
        """() => {
          const canvas = document.querySelector('.leaflet-trees-pane canvas');
          const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
          let seen = 0, dark = 0;
          for (let i = 0; i < data.length; i += 4) {
            if (data[i + 3] < 200) continue;
            seen++;
            if (data[i] + data[i + 1] + data[i + 2] < 120) dark++;
          }
          return [seen, dark];
        }"""
    )
    assert shares[0] > 100
    assert shares[1] < 0.05 * shares[0]


def test_filters_narrow_what_is_shown(plan, city):
    page = city().page
    page.locator("#planned button", has_text="Not planned").click()
    page.locator("#filter-recall_state").select_option(label="overdue")
    expected = (plan.trees["planned_on"].isna() & (plan.trees["recall_state"] == "overdue")).sum()
    assert page.locator("#count").text_content() == f"{expected} of 600 trees shown"
    page.locator("#reset").click()
    assert page.locator("#count").text_content() == "600 of 600 trees shown"


@pytest.mark.parametrize("tree_id", ["T-00321", *HOSTILE])
def test_any_tree_is_found_by_its_id_and_says_why(plan, city, tree_id):
    page = city().page
    page.locator("#query").fill(tree_id)
    shown = " ".join(tree_id.replace("\u202e", "").replace("\u2066", "").split())
    page.locator("#found button", has=page.get_by_text(shown, exact=True)).last.click()
    tree = plan.trees[plan.trees["tree_id"] == tree_id].iloc[0]
    card = page.locator("#card")
    text = card.inner_text()
    assert f"{tree['dbh_cm']:.1f} cm at breast height" in text
    assert str(tree["reason_text"]) in text
    priority = float(re.search(r"([\d.]+) in all", text)[1])
    assert priority == pytest.approx(tree["priority"], rel=0.005)
    assert str(tree["worst_defect"]) in text
    assert f"{tree['due']:%-d %B %Y}" in text
    assert f"{tree['not_before']:%-d %B %Y}" in text
    if tree["crew_day_id"]:
        assert "Planned for" in text
    page.keyboard.press("Escape")
    assert not card.is_visible()


def test_doses_read_as_on_the_crew_lists(plan, site, city):
    prior = plan.trees.set_index("tree_id")["defects_are_prior"]
    rows = pd.read_csv(site / "crew_lists" / "all.csv", encoding="utf-8-sig", dtype=str)
    page = city().page
    some = rows[rows["tree_id"].str.startswith("T-")].drop_duplicates("dose_percent").head(4)
    for row in some.itertuples():
        page.evaluate(f"location.hash = 'tree={row.tree_id}'")
        page.locator("#card", has_text=row.tree_id).wait_for()
        verb = "expect" if prior[row.tree_id] else "take"
        limit = f"never over {row.dose_limit_percent} %"
        dose = f"{verb} {row.dose_percent} % of the live crown, {limit}"
        text = page.locator("#card").inner_text()
        assert (dose if row.dose_percent != "0" else "no live wood") in text


@pytest.mark.parametrize(("size", "visible"), [(PHONE, True), (DESKTOP, False)])
def test_a_phone_shows_the_legend_on_the_map(city, size, visible):
    page = city(size=size).page
    key = page.locator("#key")
    assert key.is_visible() == visible
    assert key.locator("li").all_text_contents() == RECALL_STATES
    assert "plan of 2027" in page.locator("h1").inner_text()


def test_a_street_is_found_by_a_part_of_its_name(plan, city):
    page = city().page
    page.locator("#query").fill("ORCHARD")
    count = (plan.trees["street"] == "Orchard Street").sum()
    found = page.locator("#found button").first
    assert found.inner_text() == f"Orchard Street {count} trees"
    before = page.evaluate("map_city.getZoom()")
    found.click()
    assert page.evaluate("map_city.getZoom()") >= before


def test_a_hostile_street_is_only_a_name(city):
    page = city().page
    page.locator("#query").fill("</script>")
    assert page.locator("#found button").first.inner_text().startswith(CLOSING)


def test_a_click_on_a_tree_opens_its_card(plan, city):
    page = city().page
    tree = plan.trees[plan.trees["tree_id"] == "T-00321"].to_crs("EPSG:4326").geometry.iloc[0]
    page.evaluate(f"map_city.setView([{tree.y}, {tree.x}], 20, {{animate: false}})")
    box = page.locator("#map_city").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert "T-00321" in page.locator("#card").inner_text()


def test_a_planned_tree_links_to_its_crews_day(plan, site, city):
    tree = plan.trees[plan.trees["crew_day_id"] != ""].iloc[-1]
    opened_page = city(fragment=f"tree={tree['tree_id']}")
    link = opened_page.page.locator("#card a").get_attribute("href")
    address = opened_page.page.evaluate("(link) => new URL(link, location.href).href", link)
    path, day = address.split("#")
    assert day == tree["crew_day_id"][:10]
    assert any(page.resolve().as_uri() == path for page in site.glob("maps/crews/*.html"))


@pytest.mark.parametrize("size", [PHONE, TABLET, DESKTOP])
def test_a_card_never_covers_its_tree(plan, city, size):
    page = city(size=size, fragment="tree=T-00321").page
    tree = plan.trees[plan.trees["tree_id"] == "T-00321"].to_crs("EPSG:4326").geometry.iloc[0]
    on_top = page.evaluate(
        """([lat, lng]) => {
          const map = document.getElementById('map_city').getBoundingClientRect();
          const point = map_city.latLngToContainerPoint([lat, lng]);
          const top = document.elementFromPoint(map.left + point.x, map.top + point.y);
          return top.closest('#map_city') !== null;
        }""",
        [tree.y, tree.x],
    )
    assert on_top


def test_an_old_browser_unpacks_the_trees_too(plan, city):
    page = city(before="delete window.DecompressionStream").page
    assert page.evaluate("typeof DecompressionStream") == "undefined"
    assert legend(page) == plan.trees["recall_state"].astype(str).value_counts().to_dict()


@pytest.mark.parametrize("size", [PHONE, TABLET, DESKTOP])
def test_nothing_sticks_out_and_no_serious_fault(city, size):
    opened_page = city(size=size, fragment="tree=T-00321")
    page = opened_page.page
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert opened_page.faults() == []
    if size == PHONE:
        page.locator("#card .close").click()
        page.locator("#toggle").click()
        assert opened_page.faults() == []


def test_hostile_text_is_escaped_in_the_file(site):
    text = (site / CITY_PAGE).read_text(encoding="utf-8")
    assert SCRIPT not in text
    assert CLOSING not in text
    assert len(re.findall("</script>", text)) == len(re.findall("<script", text))


@given(arrays(np.float64, st.integers(0, 50), elements=st.floats(0, 100)))
def test_priority_bands_follow_priority(priority):
    band, edges = priority_bands(priority)
    assert len(edges) == 4
    assert set(band) <= {0, 1, 2, 3, 4}
    order = np.argsort(priority)
    assert (np.diff(band[order]) >= 0).all()
