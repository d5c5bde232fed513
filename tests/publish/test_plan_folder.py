"""Reading a plan's folder, whole or not at all."""

import pandas as pd
import pyogrio
import pytest

from forestcycle.errors import StoreError
from forestcycle.publish.plan_folder import read_plan_folder
from tests.publish.example_plan import write_example_plan


def test_layers_are_in_the_order_of_the_work(plan):
    order = plan.stops[["date", "crew", "stop_order"]]
    pd.testing.assert_frame_equal(order, order.sort_values(["date", "crew", "stop_order"]))
    legs = plan.legs.groupby("crew_day_id").size()
    used = plan.crew_days.set_index("crew_day_id")["stops"]
    assert (legs == used[used > 0] + 1).all()


def test_dates_are_dates_and_missing_text_is_empty(plan):
    assert pd.api.types.is_datetime64_any_dtype(plan.trees["planned_on"])
    assert plan.trees["planned_on"].notna().sum() == len(plan.stops)
    assert not plan.trees[["tree_id", "note", "fund", "crew_day_id"]].isna().any().any()
    assert plan.parks is None


def test_every_missing_file_is_named(tmp_path):
    with pytest.raises(StoreError) as caught:
        read_plan_folder(tmp_path)
    assert len(caught.value.faults) == 2


def test_every_missing_layer_and_column_is_named(tmp_path):
    folder = write_example_plan(tmp_path / "plan")
    path = folder / "plan.gpkg"
    stops = pyogrio.read_dataframe(path, layer="stops")
    trees = pyogrio.read_dataframe(path, layer="trees")
    path.unlink()
    pyogrio.write_dataframe(stops.drop(columns=["dose", "cautions"]), path, layer="stops")
    pyogrio.write_dataframe(trees, path, layer="trees")
    with pytest.raises(StoreError) as caught:
        read_plan_folder(folder)
    told = str(caught.value)
    for word in ("'crew_days'", "'legs'", "'run'", "'dose'", "'cautions'"):
        assert word in told


def test_a_file_that_is_no_geopackage_is_said_to_be_so(tmp_path):
    (tmp_path / "plan.gpkg").write_text("not a database")
    (tmp_path / "summary.json").write_text("{}")
    with pytest.raises(StoreError, match="cannot be read"):
        read_plan_folder(tmp_path)


def spoil(folder, layer, **columns):
    path = folder / "plan.gpkg"
    table = pyogrio.read_dataframe(path, layer=layer)
    pyogrio.write_dataframe(table.assign(**columns), path, layer=layer)


def test_spoilt_columns_are_all_named(tmp_path):
    folder = write_example_plan(tmp_path / "plan")
    spoil(folder, "stops", arrive_minute="early", service_minutes=None, date="one day")
    with pytest.raises(StoreError) as caught:
        read_plan_folder(folder)
    assert len(caught.value.faults) == 3
