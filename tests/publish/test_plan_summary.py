"""The figures of a plan, all of them or a word for each that is missing."""

import json

import pytest

from forestcycle.errors import StoreError
from forestcycle.publish.plan_summary import read_summary


@pytest.fixture(name="path")
def _path(plan, tmp_path):
    path = tmp_path / "summary.json"
    path.write_text(json.dumps(plan.summary))
    return path


def test_the_figures_are_as_they_are_written(plan, path):
    assert read_summary(path) == plan.summary


@pytest.mark.parametrize("text", ["{", "\0", "[" * 100_000, "9" * 5_000])
def test_a_summary_that_is_no_json_is_said_to_be_so(path, text):
    path.write_text(text)
    with pytest.raises(StoreError, match=r"summary\.json: cannot be read"):
        read_summary(path)


def test_a_summary_that_is_a_list_is_none(path):
    path.write_text("[]")
    with pytest.raises(StoreError, match="no summary"):
        read_summary(path)


def test_every_figure_that_is_missing_or_spoilt_is_named(path):
    summary = json.loads(path.read_text())
    del summary["trees_usable"]
    spoilt = {
        "gap": "small",
        "cost_cents": 10**400,
        "minutes_travel": float("nan"),
        "verified": None,
        "sensitivity": [],
        "unplanned_reasons": {"not yet due": "many"},
    }
    path.write_text(json.dumps(summary | spoilt))
    with pytest.raises(StoreError) as caught:
        read_summary(path)
    assert sorted(fault.what for fault in caught.value.faults) == [
        "'cost_cents' is spoilt",
        "'gap' is spoilt",
        "'minutes_travel' is spoilt",
        "'sensitivity' is spoilt",
        "'trees_usable' is missing",
        "'unplanned_reasons': 'not yet due' is spoilt",
        "'verified' is spoilt",
    ]
