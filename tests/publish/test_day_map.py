"""A crew's week in a real browser: stops, next stop, cautions, harm."""

import re
from datetime import date

import pytest
from playwright.sync_api import expect

from forestcycle.publish.crew_rows import crew_rows
from forestcycle.publish.day_map import week_page
from tests.publish.browser import DESKTOP, PHONE, TABLET
from tests.publish.example_plan import CREWS, FIRST_DAY

pytestmark = pytest.mark.browser


@pytest.fixture
def week(site, opened):
    def open_week(**options):
        return opened(site / week_page(CREWS[0], FIRST_DAY), **options)

    return open_week


def test_the_page_is_named_by_crew_and_iso_week():
    # ISO 8601: 2027-01-03 is a Sunday and belongs to the last week of 2026.
    assert week_page("North", date(2027, 1, 3)) == "maps/crews/North 2026-W53.html"
    assert week_page("North", date(2027, 1, 4)) == "maps/crews/North 2027-W01.html"


def test_every_stop_stands_on_the_page_as_in_the_list(plan, week):
    page = week().page
    rows = crew_rows(plan)
    own = rows[plan.stops["crew"].astype(str).to_numpy() == CREWS[0]]
    shown = page.locator(".stop")
    assert shown.count() == len(own)
    texts = [" ".join(text.split()) for text in shown.all_text_contents()]
    for text, (_, row) in zip(texts, own.iterrows(), strict=True):
        for value in (row["tree_id"], row["address"], row["work"], row["cautions"], row["note"]):
            assert " ".join(str(value).split()) in text
        assert f"Take {row['dose_percent']} % of the live crown" in text
        assert f"Never more than {row['dose_limit_percent']} %" in text
        assert f"{row['minutes']} min at the tree" in text


def test_the_map_shows_the_stops_of_the_chosen_day(plan, week):
    page = week(fragment="2027-03-16").page
    stops = plan.stops[
        (plan.stops["crew"] == CREWS[0]) & (plan.stops["date"].dt.strftime("%F") == "2027-03-16")
    ]
    assert page.locator(".marker").all_text_contents() == [
        str(number) for number in stops["stop_order"]
    ]
    assert page.locator(".day:visible h2").text_content() == "Tuesday 16 March 2027"
    page.locator('.day-link[href="#2027-03-15"]').click()
    # The page changes when the browser tells it of the new address, a moment later.
    expect(page.locator(".day:visible h2")).to_have_text("Monday 15 March 2027")


def test_next_stop_walks_through_the_day_and_stops_at_its_end(week):
    page = week(size=PHONE).page
    button = page.locator("#next")
    box = button.bounding_box()
    assert box["height"] >= 48  # a finger's width: WCAG 2.2, 2.5.5, asks for 44
    assert box["y"] > 0.8 * PHONE["height"]
    count = page.locator(".day.open .stop").count()
    for number in range(1, count + 1):
        button.click()
        assert page.locator(".stop.current .number").text_content() == str(number)
        assert page.locator(".marker.current").text_content() == str(number)
        assert page.locator(".stop.current .work").is_visible()
    assert button.is_disabled()
    page.locator("#previous").click()
    assert page.locator(".stop.current .number").text_content() == str(count - 1)


def test_a_marker_opens_its_stop(week):
    page = week().page
    page.locator(".marker").nth(15).click(force=True)
    assert page.locator(".stop.current .number").text_content() == "16"


def test_cautions_are_visible_without_a_touch(week):
    page = week(size=PHONE).page
    general = page.locator(".day.open .overview .caution")
    assert "conductors" in general.text_content()
    assert general.is_visible()
    page.locator("#next").click()
    assert page.locator(".stop.current .details .caution").first.is_visible()


def test_a_place_opens_in_the_devices_own_map(plan, week):
    address = week().page.locator(".stop .way").first.get_attribute("href")
    lat, lon = map(float, re.fullmatch(r"geo:([\d.-]+),([\d.-]+)", address).groups())  # RFC 5870
    first = plan.stops[plan.stops["crew"] == CREWS[0]].to_crs("EPSG:4326").geometry.iloc[0]
    assert (lon, lat) == pytest.approx((first.x, first.y), abs=3e-6)


@pytest.mark.parametrize("size", [PHONE, TABLET, DESKTOP])
def test_nothing_sticks_out_and_no_serious_fault(week, size):
    opened_page = week(size=size)
    opened_page.page.locator("#next").click()
    assert opened_page.page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert opened_page.faults() == []


def test_the_page_prints_the_whole_week(week):
    page = week().page
    page.emulate_media(media="print")
    assert page.locator(".details:visible").count() == page.locator(".stop").count()
    assert not page.locator("#map_week").is_visible()


def test_stops_under_conductors_are_marked_on_map_and_list(plan, week):
    page = week(fragment="2027-03-15").page
    stops = plan.stops[
        (plan.stops["crew"] == CREWS[0]) & (plan.stops["date"].dt.strftime("%F") == "2027-03-15")
    ]
    live = stops[stops["conductors"].isin(["low_voltage", "high_voltage"])]
    numbers = [str(number) for number in live["stop_order"]]
    assert page.locator(".marker.warned").all_text_contents() == numbers
    listed = page.locator(".day.open .stop:has(.warns) .number")
    assert listed.all_text_contents() == numbers
