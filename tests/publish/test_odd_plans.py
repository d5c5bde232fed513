"""Plans at the edge: nothing planned, no backdrop, hostile and many wards."""

import dataclasses

import pandas as pd
import pypdf
import pytest

from forestcycle.publish.crew_lists import write_crew_lists
from forestcycle.publish.index import write_index
from forestcycle.publish.output import Edition
from forestcycle.publish.outputs import OUTPUTS
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.report import write_report
from forestcycle.publish.sheets import write_sheets
from tests.publish.test_crew_lists import read


@pytest.mark.parametrize("output", OUTPUTS, ids=lambda output: output.name)
def test_nothing_planned(plan, output, tmp_path):
    trees = plan.trees.assign(planned_on=pd.NaT, crew_day_id="")
    trees["planned_on"] = trees["planned_on"].astype("datetime64[ns]")
    days = plan.crew_days.assign(use="free", stops=0, cost_cents=0)
    summary = {**plan.summary, "cost_cents": 0, "minutes_service": 0.0, "minutes_travel": 0.0}
    empty = dataclasses.replace(
        plan,
        trees=trees,
        stops=plan.stops.iloc[:0],
        legs=plan.legs.iloc[:0],
        crew_days=days,
        summary=summary,
    )
    for path in output.write(Edition(empty, tmp_path)):
        assert path.stat().st_size > 0


@pytest.mark.parametrize("output", OUTPUTS, ids=lambda output: output.name)
def test_no_backdrop(plan, output, tmp_path):
    bare = dataclasses.replace(plan, streets=None, wards=None, depots=None, parks=None)
    assert all(path.stat().st_size > 0 for path in output.write(Edition(bare, tmp_path)))


def test_many_wards_with_odd_names(plan, tmp_path):
    names = ["$x_{1}$", "=1+1", "槭 🌳", "\u202eabc", "<b>"] + [f"Ward {k}" for k in range(30)]
    trees = plan.trees.assign(ward=[names[k % len(names)] for k in range(len(plan.trees))])
    odd = dataclasses.replace(plan, trees=trees)
    written = {path.name: path for path in write_report(Edition(odd, tmp_path))}
    rows = read(written["wards.csv"])
    assert len(rows) == len(names)
    assert "'=1+1" in {row["ward"] for row in rows}
    assert len(pypdf.PdfReader(written["report.pdf"]).pages) == 3


@pytest.mark.parametrize(("certified", "word"), [(True, "proven"), (False, "estimated")])
def test_a_bound_is_called_proven_only_where_it_is(plan, tmp_path, certified, word):
    changed = dataclasses.replace(plan, summary={**plan.summary, "certified": certified})
    page = write_index(Edition(changed, tmp_path), OUTPUTS).read_text(encoding="utf-8")
    assert word in page
    assert {"proven": "estimated", "estimated": "proven"}[word] not in page


def test_a_revised_plan_leads_to_what_was_changed(plan, tmp_path):
    page = write_index(Edition(plan, tmp_path), OUTPUTS).read_text(encoding="utf-8")
    assert "revision.csv" not in page
    revised = dataclasses.replace(plan, run={**plan.run, "revised_from": "2027-03-09"})
    page = write_index(Edition(revised, tmp_path), OUTPUTS).read_text(encoding="utf-8")
    assert 'href="revision.csv"' in page
    assert "revised from 9 March 2027 on" in page


def test_a_city_of_one_ward_is_compared_with_none(plan, tmp_path):
    one = dataclasses.replace(plan, trees=plan.trees.assign(ward="Harbour"))
    page = {path.name: path for path in write_report(Edition(one, tmp_path))}["report.html"]
    text = page.read_text(encoding="utf-8")
    assert "of the minutes that the due trees need" in text
    assert "of all wards" not in text


def test_us_city(plan, tmp_path):
    settings = settings_of(plan)
    american = settings.model_copy(
        update={"publish": settings.publish.model_copy(update={"units": "us", "paper": "Letter"})}
    )
    changed = dataclasses.replace(plan, run={**plan.run, "settings": american.model_dump_json()})
    rows = read(write_crew_lists(Edition(changed, tmp_path))[0])
    # NIST Special Publication 811: 1 in = 2.54 cm exactly.
    inches = [float(row["dbh_in"]) for row in rows]
    assert inches == pytest.approx((plan.stops["dbh_cm"] / 2.54).tolist(), abs=0.051)
    page = pypdf.PdfReader(write_sheets(Edition(changed, tmp_path))[0]).pages[0]
    text = page.extract_text()
    assert " in\n" in text or " in " in text
    assert "lb of brush" in text
    assert (float(page.mediabox.width), float(page.mediabox.height)) == (612, 792)
