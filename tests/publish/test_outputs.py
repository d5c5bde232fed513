"""All outputs together: what is declared of them is what they do."""

from pathlib import Path

import pytest

from forestcycle.publish import publish
from forestcycle.publish.index import INDEX_PAGE
from forestcycle.publish.output import Carried, Edition, Output
from forestcycle.publish.outputs import OUTPUTS
from forestcycle.publish.plan_folder import SUMMARY_FILE, PlanFolder
from forestcycle.publish.unchanged import Unchanged
from tests.publish.example_plan import write_example_plan

WRITTEN_ELSEWHERE = {INDEX_PAGE, SUMMARY_FILE}


def files_in(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def papers_of(output: Output, plan: PlanFolder, *, carried: bool) -> set[str]:
    """Files for every crew and day; with ``carried``, only those that a revision takes over."""
    days = plan.crew_days[plan.crew_days["use"] == "planned"]
    return {
        paper.path(str(crew), day)
        for paper in output.papers
        if paper.carried or not carried
        for crew, day in zip(days["crew"], days["date"].dt.date, strict=True)
    }


def crew_days(plan: PlanFolder) -> set[str]:
    return set(plan.crew_days.loc[plan.crew_days["use"] == "planned", "crew_day_id"].astype(str))


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory) -> dict[str, set[str]]:
    """By output: the files that it says it wrote, and did, alone in a folder."""
    found = {}
    for output in OUTPUTS:
        folder = tmp_path_factory.mktemp("alone")
        paths = output.write(Edition(plan, folder))
        found[output.name] = {path.relative_to(folder).as_posix() for path in paths}
        assert found[output.name] == files_in(folder)
    return found


def test_a_publication_is_what_its_outputs_write(site, written):
    assert files_in(site) == set().union(WRITTEN_ELSEWHERE, *written.values())


@pytest.mark.parametrize("output", OUTPUTS, ids=lambda output: output.name)
def test_an_output_keeps_to_its_place(output, written):
    assert {path.split("/")[0] for path in written[output.name]} <= {output.place}


@pytest.mark.parametrize("output", OUTPUTS, ids=lambda output: output.name)
def test_an_output_writes_what_it_links_and_what_its_papers_are_called(output, written, plan):
    files = written[output.name]
    assert papers_of(output, plan, carried=False) <= files
    if files:
        assert {link.path for link in output.links} <= files


@pytest.mark.parametrize("output", OUTPUTS, ids=lambda output: output.name)
def test_what_is_carried_over_is_not_written_again(output, written, plan, tmp_path):
    every = crew_days(plan)
    edition = Edition(plan, tmp_path, carried=Carried(every, every))
    again = {path.relative_to(tmp_path).as_posix() for path in output.write(edition)}
    assert again == written[output.name] - papers_of(output, plan, carried=True)


def test_a_changed_day_gets_new_papers_and_its_week_too_but_not_the_other_days(plan, tmp_path):
    older, newer = (write_example_plan(tmp_path / name) for name in ("older", "newer"))
    publish(older)
    days = plan.crew_days[plan.crew_days["use"] == "planned"]
    week = days["crew"].astype(str) + days["date"].dt.strftime("%G-W%V")
    chosen = days[week == week.value_counts().index[0]]
    assert len(chosen) > 1
    changed, others = chosen.iloc[0], chosen.iloc[1:]
    carried = [paper for output in OUTPUTS for paper in output.papers if paper.carried]
    for path in set().union(*(papers_of(output, plan, carried=True) for output in OUTPUTS)):
        (older / path).write_text("the older plan's")
    publish(newer, unchanged=Unchanged(older, crew_days(plan) - {str(changed["crew_day_id"])}))

    def old(paper, day) -> bool:
        path = newer / paper.path(str(day["crew"]), day["date"].date())
        return path.read_bytes() == b"the older plan's"

    for paper in carried:
        assert not old(paper, changed)
        assert all(old(paper, day) != paper.of_week for _, day in others.iterrows())


def test_links_and_papers_stand_in_one_order():
    for kind in ("links", "papers"):
        ranks = [item.rank for output in OUTPUTS for item in getattr(output, kind) if item.rank]
        assert len(ranks) == len(set(ranks))


def test_papers_of_unchanged_weeks_are_those_of_the_older_plan(plan, tmp_path):
    older, newer = (write_example_plan(tmp_path / name) for name in ("older", "newer"))
    publish(older)
    papers = set().union(*(papers_of(output, plan, carried=True) for output in OUTPUTS))
    for path in papers:
        (older / path).write_text("the older plan's")
    publish(newer, unchanged=Unchanged(older, crew_days(plan)))
    assert all((newer / path).read_text() == "the older plan's" for path in papers)
    assert files_in(newer) == files_in(older)
