"""An outlook folder is read as written, or refused in a line."""

import pytest

from forestcycle.errors import StoreError
from forestcycle.publish.outlook_folder import outlook_of_plan, read_outlook_folder
from tests.publish.example_outlook import write_example_outlook


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


@pytest.mark.parametrize("text", ["", "[]", "{}", "{"])
def test_a_spoilt_file_is_refused(text, tmp_path):
    folder = write_example_outlook(tmp_path / "outlook", city="A")
    (folder / "outlook.json").write_text(text, encoding="utf-8")
    with pytest.raises(StoreError, match="no outlook can be read"):
        read_outlook_folder(folder)
