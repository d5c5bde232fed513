"""The years ahead in the council report: both forms say what the outlook's tables say."""

import re

import pypdf
import pytest

from forestcycle.publish.outlook_folder import outlook_of_plan
from forestcycle.publish.output import Edition
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.report import write_report
from tests.publish.example_outlook import write_example_outlook


@pytest.fixture(scope="module")
def texts(plan, tmp_path_factory):
    """HTML and PDF of a report with an outlook that has draws."""
    folder = tmp_path_factory.mktemp("ahead")
    name = settings_of(plan).city.name
    outlook = outlook_of_plan(write_example_outlook(folder / "outlook", city=name, draws=40), plan)
    page, paper, *tables = write_report(Edition(plan, folder, outlook))
    pages = [part.extract_text() for part in pypdf.PdfReader(paper).pages]
    return page.read_text(encoding="utf-8"), pages, {path.stem for path in tables}


def test_both_forms_show_every_budget_with_its_figures(texts):
    page, pages, _ = texts
    assert len(pages) == 4
    assert "page 3 of 4" in pages[2]
    for text in (page, pages[2]):
        flat = re.sub(r"\s+", " ", text)
        for cell in ("40,000 EUR", "50,000 EUR", "not yet", "2030"):
            assert cell in flat


def test_intervals_stand_beside_the_figures_they_belong_to(texts):
    page, pages, _ = texts
    assert "21 (11 to 23)" in page
    assert "26 (11 to 23)" in page
    for text in (page, pages[2]):
        assert "(11 to 23)" in text
        assert "nine in ten of 40 draws" in re.sub(r"\s+", " ", text)


def test_money_and_the_end_of_the_backlog_have_intervals_too(texts):
    page, pages, _ = texts
    assert "40,000 EUR (39,000 to 40,000 EUR)" in page
    assert "not yet (after 2031)" in page
    assert "2030 (2029 to after 2031)" in page
    for interval in ("(39,000 to 40,000 EUR)", "(after 2031)", "(2029 to after 2031)"):
        assert interval in re.sub(r"\s+", " ", pages[2])


def test_draws_that_never_see_the_end_of_the_backlog_are_told(texts):
    page, pages, _ = texts
    sentence = (
        "The backlog is gone by the end of 2031 in 0 of 40 draws with the budget 80 % and in 37 "
        "of 40 draws with the budget 100 %."
    )
    for text in (page, pages[2]):
        assert sentence in re.sub(r"\s+", " ", text)


def test_what_waiting_costs_is_the_difference_of_two_budgets(texts):
    sentence = (
        "80 % against 100 %: 10,000 EUR less over the years shown, 6 more structural faults past "
        "correcting, 6 whole crowns more of work still owed; the backlog is not gone by 2031; "
        "young trees on recall at the end: -5 percentage points."
    )
    page, pages, _ = texts
    for text in (page, pages[2]):
        assert sentence in re.sub(r"\s+", " ", text)


def test_the_least_budget_for_a_target_is_told(texts):
    sentence = (
        "Least budget for young on recall 90% by year 4: about 9,500 EUR a year, 95 % of the "
        "present one, known to 10 EUR. This money reaches it in 24 of 40 draws, the budget 80 % "
        "in 11 and the budget 100 % in 38. This is a count of draws: the least budget has no "
        "interval."
    )
    page, pages, _ = texts
    for text in (page, pages[2]):
        assert sentence in re.sub(r"\s+", " ", text)


def test_the_numbers_lie_beside_the_report(texts):
    page, _, tables = texts
    names = {
        "years_ahead",
        "years_ahead_by_year",
        "years_ahead_intervals",
        "years_ahead_summary_intervals",
    }
    assert names <= tables
    assert all(f'href="figures/{name}.csv"' in page for name in names)
    assert page.count("<img") == 9


def test_without_draws_there_are_no_intervals(plan, tmp_path):
    name = settings_of(plan).city.name
    outlook = outlook_of_plan(write_example_outlook(tmp_path / "outlook", city=name), plan)
    page = write_report(Edition(plan, tmp_path, outlook))[0].read_text(encoding="utf-8")
    assert " to 23)" not in page
    assert page.count("<img") == 7
