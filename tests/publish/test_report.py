"""The report's figures come from the plan, and both its forms say the same."""

import dataclasses
import re
import shutil
import subprocess
from html.parser import HTMLParser

import numpy as np
import pandas as pd
import pypdf
import pytest

from forestcycle.publish.output import Edition
from forestcycle.publish.report import write_report
from forestcycle.publish.report_figures import report_figures
from forestcycle.publish.report_paper import LEFT, RIGHT
from tests.conftest import skip_or_fail
from tests.publish.test_crew_lists import read


@pytest.fixture(scope="module")
def figures(plan):
    return report_figures(plan)


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    return write_report(Edition(plan, tmp_path_factory.mktemp("report")))


def test_recall_counts_by_hand(plan, figures):
    trees = plan.trees
    last = pd.Timestamp(2027, 12, 31)
    planned = trees["planned_on"].notna()
    within = (trees["overdue_after"] >= last) | planned
    for table in (figures.recall_by_ward, figures.recall_by_age_class):
        assert table["trees"].sum() == len(trees)
        assert table["within_with_plan"].sum() == within.sum()
        assert (table["within_without_plan"] <= table["within_with_plan"]).all()
    assert figures.value("within recall at year end with the plan") == pytest.approx(
        within.mean(), abs=1e-4
    )


def test_due_trees_are_planned_or_deferred(plan, figures):
    value = figures.value
    assert value("trees due in the year") == value("trees planned") + value(
        "trees due and deferred"
    )
    assert value("trees planned") == len(plan.stops)


def test_money_adds_up(plan, figures):
    value = figures.value
    assert value("cost of the plan") == plan.summary["cost_cents"]
    assert (
        value("cost of all trees due")
        == value("cost of the plan") + figures.deferred["cost_cents"].sum()
    )
    assert value("cost per tree") == pytest.approx(
        value("cost of the plan") / value("trees planned"), abs=0.5
    )


def test_extra_cost_is_growth_times_slope_times_rate(plan, figures):
    slope = np.polyfit(plan.trees["dbh_cm"], plan.trees["minutes"], 1)[0]
    minutes = plan.stops["service_minutes"].sum()
    rate = (plan.summary["cost_cents"] - plan.stops["cost_cents"].sum()) / minutes
    left = (plan.trees["due"] <= "2027-12-31") & plan.trees["planned_on"].isna()
    expected = (plan.trees.loc[left, "growth_cm_per_year"] * slope * rate).sum()
    assert figures.value("extra cost if the deferred wait a year") == pytest.approx(expected, abs=5)


def test_ward_shares_are_shares(figures):
    for column in ("share_of_need", "share_of_work"):
        assert figures.wards[column].sum() == pytest.approx(1, abs=1e-3)
    assert figures.wards["served"].between(0, 1).all()


def test_every_month_of_the_year_is_listed(plan, figures):
    assert len(figures.months) == 12
    assert figures.months["trees"].sum() == len(plan.stops)


def test_every_figure_is_written_as_csv(figures, written):
    names = {path.stem for path in written if path.suffix == ".csv"}
    assert names == set(figures.tables())
    for path in written:
        if path.suffix == ".csv":
            assert len(read(path)) == len(figures.tables()[path.stem])


def test_html_is_one_inert_file(written):
    text = written[0].read_text(encoding="utf-8")
    seen = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag, attrs):
            seen.append((tag, dict(attrs)))

    Reader().feed(text)
    tags = {tag for tag, _ in seen}
    assert not tags & {"script", "iframe", "object", "link", "b"}
    for _, attributes in seen:
        for name in ("src", "href"):
            if name in attributes:
                assert re.match(r"data:image/svg|figures/\w+\.csv$|report\.pdf$", attributes[name])
    images = [attributes for tag, attributes in seen if tag == "img"]
    assert len(images) == 5
    assert all(image["alt"] for image in images)


def test_pdf_has_two_pages_and_the_method(written):
    pages = [page.extract_text() for page in pypdf.PdfReader(written[1]).pages]
    assert len(pages) == 3
    assert "within recall" in pages[0]
    assert "Why" in pages[1]
    assert "How these figures came about" in pages[2]


def test_both_forms_say_the_same_numbers(figures, written):
    page = written[0].read_text(encoding="utf-8")
    paper = "".join(page.extract_text() for page in pypdf.PdfReader(written[1]).pages)
    for figure in ("trees planned", "trees due and deferred"):
        number = f"{figures.value(figure):,.0f}"
        assert number in page
        assert number in paper
    cost = f"{figures.value('cost of the plan') / 100:,.0f} EUR"
    assert cost in page
    assert cost in paper


def test_the_same_plan_gives_the_same_report(plan, written, tmp_path):
    again = write_report(Edition(plan, tmp_path))
    assert [path.read_bytes() for path in again] == [path.read_bytes() for path in written]


def test_the_method_says_what_hangs_on_the_weights_and_promises_no_fewer_failures(plan, written):
    page = written[0].read_text(encoding="utf-8")
    paper = pypdf.PdfReader(written[1]).pages[2].extract_text()
    shares = ", ".join(f"{k} {100 * v:.1f} %" for k, v in plan.summary["sensitivity"].items())
    # Luley, Sisinni and Pleninger 2002: 7.6 per 1,000 trees and year by requests, 6.5 by work.
    n = len(plan.trees)
    failures = f"{0.0076 * n:,.0f} by service requests or {0.0065 * n:,.0f} by work done"
    for text in (page, paper):
        flat = re.sub(r"\s+", " ", text)
        assert shares in flat
        assert failures in flat
        assert "promises no reduction" in flat


def test_a_plan_without_sensitivity_has_a_report_all_the_same(plan, tmp_path):
    summary = {key: value for key, value in plan.summary.items() if key != "sensitivity"}
    page = write_report(Edition(dataclasses.replace(plan, summary=summary), tmp_path))[0]
    assert "judgements" not in page.read_text(encoding="utf-8")


def test_no_line_on_paper_leaves_the_margins(written):
    """Measured by Poppler, which shares no code with what draws or breaks the lines."""
    if shutil.which("pdftotext") is None:
        skip_or_fail("needs Debian's package poppler-utils")
    told = subprocess.run(
        ["pdftotext", "-bbox-layout", written[1], "-"], capture_output=True, text=True, check=True
    )
    width = float(re.search(r'<page width="([\d.]+)"', told.stdout)[1])
    lines = [
        (float(left), float(right))
        for left, right in re.findall(r'<line xMin="([\d.]+)" .*?xMax="([\d.]+)"', told.stdout)
    ]
    assert min(left for left, _ in lines) >= 0.02 * width
    assert max(right for _, right in lines) <= RIGHT * width + 1
    full = [right for left, right in lines if left == pytest.approx(LEFT * width, abs=1)]
    assert sum(right > 0.95 * RIGHT * width for right in full) >= 10
