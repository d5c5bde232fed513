"""Requests that still stand."""

import numpy as np
import pandas as pd

from forestcycle.inventory.schema import REQUEST_COLUMNS
from forestcycle.practice.requests import open_requests
from tests.practice.stands import records

IDS = pd.Index(["T0", "T1"])
LAST = np.array(["2026-05-01", "NaT"], "M8[ns]")


def standing(*rows):
    return open_requests(records(rows, REQUEST_COLUMNS), IDS, LAST)


def test_a_visit_answers_earlier_requests():
    found = standing(
        {"requested_on": "2026-04-01"}, {"tree_id": "T1", "requested_on": "2026-04-01"}
    )
    assert found.requested.tolist() == [False, True]
    assert standing({"requested_on": "2026-05-02"}).requested.tolist() == [True, False]


def test_the_earliest_deadline_counts_and_one_mandatory_request_binds():
    found = standing(
        {"requested_on": "2026-06-01", "deadline": "2027-06-01"},
        {"requested_on": "2026-06-02", "deadline": "2027-03-01", "mandatory": True},
        {"requested_on": "2026-06-03"},
        {"requested_on": "2026-01-03", "deadline": "2026-02-01", "mandatory": True},
    )
    assert found.deadline[0] == np.datetime64("2027-03-01")
    assert found.mandatory.tolist() == [True, False]
    assert np.isnat(found.deadline[1])


def test_no_requests():
    found = standing()
    assert not found.requested.any()
    assert np.isnat(found.deadline).all()
