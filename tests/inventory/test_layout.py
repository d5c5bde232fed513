"""A plan of a later layout is refused by whoever reads one, not misread."""

import pandas as pd
import pyogrio
import pytest

from forestcycle.cycle.in_force import read_plan_in_force
from forestcycle.errors import StoreError
from forestcycle.inventory.layout import PLAN_LAYOUT, refuse_later, refuse_later_plan
from forestcycle.publish.plan_folder import read_plan_folder, read_plan_layer
from forestcycle.schedule.verification.files import read_plan

READERS = {
    "publish": read_plan_folder,
    "one layer": lambda folder: read_plan_layer(folder, "run"),
    "revise": read_plan_in_force,
    "verify": read_plan,
}


def plan_with(folder, *rows):
    table = pd.DataFrame([("seed", "1"), *rows], columns=["key", "value"])
    pyogrio.write_dataframe(table, folder / "plan.gpkg", layer="run", driver="GPKG")
    (folder / "summary.json").write_text("{}")
    return folder


@pytest.mark.parametrize("reader", READERS)
def test_a_later_layout_is_refused_before_anything_else_is_looked_for(tmp_path, reader):
    folder = plan_with(tmp_path, ("layout", str(PLAN_LAYOUT + 1)))
    with pytest.raises(StoreError) as caught:
        READERS[reader](folder)
    (fault,) = caught.value.faults
    assert "later version" in fault.what
    assert fault.where == str(folder / "plan.gpkg")
    assert fault.remedy == "update forestcycle"


def test_a_layout_that_is_no_number_is_refused(tmp_path):
    with pytest.raises(StoreError, match="layout 'newest' is no number"):
        refuse_later_plan(plan_with(tmp_path, ("layout", "newest")) / "plan.gpkg")


@pytest.mark.parametrize("rows", [(), (("layout", str(PLAN_LAYOUT)),)])
def test_the_present_layout_and_a_plan_without_a_number_are_read(tmp_path, rows):
    refuse_later_plan(plan_with(tmp_path, *rows) / "plan.gpkg")


def test_a_file_without_facts_is_left_to_its_reader(tmp_path):
    table = pd.DataFrame({"tree_id": ["a"]})
    pyogrio.write_dataframe(table, tmp_path / "plan.gpkg", layer="stops", driver="GPKG")
    refuse_later_plan(tmp_path / "plan.gpkg")


def test_the_number_known_is_not_later(tmp_path):
    refuse_later(3, 3, tmp_path)
