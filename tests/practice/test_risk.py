"""The two matrices of tree risk assessment (ISA Best Management Practices).

Matrix 1 as reproduced in a municipal street tree plan; of matrix 2 the counts
of cells were seen there, their placement is from memory.
"""

from collections import Counter
from itertools import pairwise, product

import pytest

from forestcycle.errors import InventoryError
from forestcycle.practice.risk import (
    CONSEQUENCES,
    IMPACTS,
    LIKELIHOOD,
    RATING,
    failure_and_impact,
    risk_rating,
)

C1 = """
imminent    unlikely, somewhat likely, likely, very likely
probable    unlikely, unlikely, somewhat likely, likely
possible    unlikely, unlikely, unlikely, somewhat likely
improbable  unlikely, unlikely, unlikely, unlikely
"""
C2 = """
very likely      low, moderate, high, extreme
likely           low, moderate, high, high
somewhat likely  low, low, moderate, moderate
unlikely         low, low, low, low
"""


def cells(text):
    for line in text.strip().splitlines():
        row, _, rest = line.partition("  ")
        yield row, [cell.strip() for cell in rest.split(",")]


def test_c1_all_cells():
    for failure, row in cells(C1):
        assert [failure_and_impact(failure, impact) for impact in IMPACTS] == row


def test_c2_all_cells():
    """Reached through ratings that give each likelihood of failure and impact."""
    reached = {
        failure_and_impact(failure, impact): (failure, impact)
        for failure, impact in product(LIKELIHOOD, IMPACTS)
    }
    for likelihood, row in cells(C2):
        failure, impact = reached[likelihood]
        found = [risk_rating(failure, impact, c, time_frame_years=3) for c in CONSEQUENCES]
        assert found == row


def test_counts_of_cells_are_those_seen():
    counts = Counter(rating for row in RATING.values() for rating in row)
    assert counts == {"low": 8, "moderate": 4, "high": 3, "extreme": 1}


def test_a_worse_judgement_never_rates_lower():
    order = ["low", "moderate", "high", "extreme"]
    rating = {
        key: order.index(risk_rating(*key, time_frame_years=1))
        for key in product(LIKELIHOOD, IMPACTS, CONSEQUENCES)
    }
    for axis, words in enumerate((tuple(LIKELIHOOD), IMPACTS, CONSEQUENCES)):
        worse = dict(pairwise(words))
        for key, rank in rating.items():
            if key[axis] in worse:
                assert rating[(*key[:axis], worse[key[axis]], *key[axis + 1 :])] >= rank


@pytest.mark.parametrize("years", [0, -1, float("nan"), float("inf")])
def test_a_rating_without_a_time_frame_is_refused(years):
    with pytest.raises(InventoryError, match="time frame"):
        risk_rating("probable", "high", "severe", time_frame_years=years)


def test_words_outside_the_matrices_are_refused():
    with pytest.raises(InventoryError, match="one of improbable"):
        failure_and_impact("maybe", "high")
    with pytest.raises(InventoryError, match="one of negligible"):
        risk_rating("probable", "high", "bad", time_frame_years=1)
