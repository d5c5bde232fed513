"""Whatever the city, crews and money: no written plan breaks a promise.

The verifier reads the written files alone and shares no code with the solver.
"""

from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import pyogrio
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import sample_city
from forestcycle.cycle import City, assess_city, open_city, pack_year
from forestcycle.cycle.plan import write_plan
from forestcycle.errors import PlanError
from forestcycle.practice.next_visit import next_recall
from forestcycle.schedule.verify import verify
from tests.cycle.random_settings import changed


@cache
def city(trees: int, seed: int) -> City:
    with TemporaryDirectory() as folder:
        return open_city(sample_city.make(folder, trees=trees, seed=seed))


@st.composite
def visited_cities(draw: st.DrawFn) -> City:
    """A sample city with other crews and money, and a visit just made to many of its trees."""
    base = city(draw(st.sampled_from([250, 400])), draw(st.integers(1, 3)))
    depots = base.inventory.depots["depot"].tolist()
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    share = draw(st.sampled_from([0.0, 0.3, 0.9]))
    ids = base.inventory.trees["tree_id"]
    ids = ids[random.random(len(ids)) < share]
    days_ago = random.integers(0, 2000, len(ids))
    visits = pd.DataFrame(
        {
            "tree_id": ids,
            "visited_on": pd.Timestamp("2026-12-31") - pd.to_timedelta(days_ago, unit="D"),
            "dose": random.uniform(0, 0.3, len(ids)),
        }
    ).reindex(columns=base.inventory.visits.columns)
    visits = visits.astype(base.inventory.visits.dtypes)
    inventory = replace(
        base.inventory,
        visits=pd.concat([base.inventory.visits, visits], ignore_index=True),
        requests=base.inventory.requests.iloc[: draw(st.sampled_from([0, 2]))],
    )
    return replace(base, settings=draw(changed(base.settings, depots)), inventory=inventory)


@pytest.mark.slow
@settings(
    max_examples=12,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(visited_cities(), st.integers(0, 5))
def test_every_written_plan_keeps_every_promise(any_city, seed):
    assessment = assess_city(any_city)
    try:
        outcome = pack_year(any_city, assessment, rounds=1, seed=seed)
    except PlanError:
        return  # refused in words; nothing was written
    with TemporaryDirectory() as folder:
        write_plan(outcome, Path(folder))
        verification = verify(Path(folder))
        stops = pyogrio.read_dataframe(Path(folder) / "plan.gpkg", layer="stops")
    assert verification.ok, [str(fault) for fault in verification.faults]
    assert stops["tree_id"].is_unique
    assert (stops["date"] >= stops["not_before"]).all()
    assert (stops["dose"] <= stops["dose_limit"] + 1e-9).all()
    last = any_city.inventory.visits.groupby("tree_id")["visited_on"].max()
    before = last.reindex(stops["tree_id"]).to_numpy()
    assert not (stops["date"].to_numpy() <= before).any()
    assert (stops["next_due"] > stops["date"]).all()


def test_the_date_announced_is_the_date_assessed_once_the_visit_is_made():
    """The year after, trees visited as planned and otherwise unchanged are due as announced."""
    base = city(400, 1)
    before = assess_city(base)
    row = np.flatnonzero((before.trees["dose"] > 0).to_numpy())
    day = np.full(len(row), np.datetime64("2027-06-01", "ns"))
    announced = next_recall(base.inventory, before, row, day)
    visits = pd.DataFrame({"tree_id": before.trees["tree_id"].iloc[row], "visited_on": day})
    visits["dose"] = before.trees["dose"].iloc[row]
    visits = visits.reindex(columns=base.inventory.visits.columns)
    visits = visits.astype(base.inventory.visits.dtypes)
    done = pd.concat([base.inventory.visits, visits], ignore_index=True)
    later = replace(base, inventory=replace(base.inventory, visits=done))
    year = base.settings.city.model_copy(update={"assessed_on": date(2027, 12, 31)})
    later = replace(later, settings=base.settings.model_copy(update={"city": year}))
    after = assess_city(later).trees.iloc[row]
    left = before.trees["dose_needed"] - before.trees["dose"]
    same = np.isclose(after["dose_needed"], left.iloc[row])
    same &= (after["age_class"] == before.trees["age_class"].iloc[row]).to_numpy()
    assert same.sum() > 30
    assert (after["due"].to_numpy() == announced.due)[same].all()
