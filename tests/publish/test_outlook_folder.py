"""An outlook folder is read as written, or refused in a line."""

import shutil

import pypdf
import pytest

from forestcycle.errors import StoreError
from forestcycle.publish import publish
from forestcycle.publish.outlook_folder import KEPT, outlook_of_plan, read_outlook_folder
from forestcycle.publish.plan_folder import read_plan_folder
from forestcycle.publish.plan_settings import settings_of
from tests.cli.commands import run
from tests.publish.example_outlook import write_example_outlook
from tests.publish.example_plan import write_example_plan


def test_a_ward_called_na_is_a_ward_and_an_empty_cell_is_no_value(tmp_path):
    found = read_outlook_folder(write_example_outlook(tmp_path / "outlook", city="A"))
    assert found.wards["ward"].tolist() == ["NA"]
    assert found.row("100 %")["backlog_gone_year"] == 2030
    assert found.summary["backlog_gone_year"].isna().sum() == 2
    assert (found.first_year, found.last_year) == (2027, 2031)


def test_an_outlook_of_another_city_is_refused(plan, tmp_path):
    with pytest.raises(StoreError, match="city Elsewhere, but the plan's is"):
        outlook_of_plan(write_example_outlook(tmp_path / "outlook", city="Elsewhere"), plan)


@pytest.mark.parametrize("name", ["outlook.json", "years.csv"])
def test_a_missing_file_is_named(name, tmp_path):
    folder = write_example_outlook(tmp_path / "outlook", city="A")
    (folder / name).unlink()
    with pytest.raises(StoreError, match=f"holds no {name}"):
        read_outlook_folder(folder)


@pytest.mark.parametrize("text", ["", "[]", "{}", "{", '{"city": "A", "currency": "USD"}'])
def test_a_spoilt_file_is_refused(text, tmp_path):
    folder = write_example_outlook(tmp_path / "outlook", city="A")
    (folder / "outlook.json").write_text(text, encoding="utf-8")
    with pytest.raises(StoreError, match="no outlook can be read"):
        read_outlook_folder(folder)


@pytest.fixture
def with_outlook(tmp_path):
    """A plan's folder, published with an outlook that is gone since."""
    folder = write_example_plan(tmp_path / "plan")
    city = settings_of(read_plan_folder(folder)).city.name
    outlook = write_example_outlook(tmp_path / "outlook", city=city)
    (outlook / "outlook.html").write_text("the outlook's page", encoding="utf-8")
    publish(folder, outlook=outlook)
    shutil.rmtree(outlook)
    return folder


def tells_of_the_years_ahead(folder):
    pages = pypdf.PdfReader(folder / "report" / "report.pdf").pages
    told = {
        "40,000 EUR" in (folder / "report" / "report.html").read_text(encoding="utf-8"),
        any("40,000 EUR" in page.extract_text() for page in pages),
        (folder / "report" / "figures" / "years_ahead.csv").exists(),
        "years_ahead/outlook.html" in (folder / "index.html").read_text(encoding="utf-8"),
    }
    assert len(told) == 1
    return told.pop()


def test_the_years_ahead_stay_in_the_report_until_they_are_dropped(with_outlook):
    assert tells_of_the_years_ahead(with_outlook)
    assert (with_outlook / KEPT / "outlook.html").read_text(encoding="utf-8") == (
        "the outlook's page"
    )
    ended = run("publish", with_outlook, "--quiet", cwd=with_outlook.parent)
    assert ended.code == 0, ended.said
    assert "the report tells of the years ahead as kept in" in ended.out
    assert tells_of_the_years_ahead(with_outlook)
    ended = run("publish", with_outlook, "--no-outlook", "--quiet", cwd=with_outlook.parent)
    assert ended.code == 0, ended.said
    assert "years ahead" not in ended.out
    assert not tells_of_the_years_ahead(with_outlook)
    assert not (with_outlook / KEPT).exists()


def test_a_kept_outlook_that_is_spoilt_is_named_with_a_way_out(with_outlook):
    (with_outlook / KEPT / "years.csv").unlink()
    with pytest.raises(StoreError, match=r"holds no years\.csv -> publish .* with --no-outlook"):
        publish(with_outlook)
    publish(with_outlook, without_outlook=True)


def test_both_ways_at_once_are_refused(tmp_path):
    ended = run("publish", "plan", "--outlook", "o", "--no-outlook", cwd=tmp_path)
    assert ended.code == 2
    assert "exclude each other" in ended.err
