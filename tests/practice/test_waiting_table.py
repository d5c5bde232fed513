"""The cost of waiting, from a whole tree's record."""

import numpy as np
import pytest

from forestcycle.practice.assess import judge
from forestcycle.practice.waiting_table import YEARS_SHOWN, waiting_table
from forestcycle.settings.practice import Practice
from tests.practice.stands import ON, YEAR_END, stand_of


@pytest.fixture(scope="module")
def table():
    inventory = stand_of(
        [{"dbh_cm": 8.0}, {"dbh_cm": 25.0, "species": "Acer platanoides"}, {"condition": "dead"}],
        defects=[
            {"defect": "codominant stems", "measured": ("aspect ratio", 0.8, "")},
            {"tree_id": "T1", "defect": "radial crowding", "measured": ("moderate",)},
        ],
    )
    found = judge(inventory, Practice(), on=ON, year_end=YEAR_END)
    return waiting_table(found.standing, found.programme, found.labour, Practice())


def test_each_tree_with_work_has_every_year(table):
    assert table["tree"].tolist() == [0] * 4 + [1] * 4
    assert table["years"].tolist() == list(YEARS_SHOWN) * 2


@pytest.mark.parametrize(
    "column", ["dbh_cm", "branch_cm", "dose_needed", "visits_needed", "minutes"]
)
def test_nothing_gets_less_by_waiting(table, column):
    for _, tree in table.groupby("tree"):
        assert (np.diff(tree[column]) >= -1e-9).all()


def test_a_young_fault_grows_past_what_closes_and_past_correcting(table):
    # CSU GardenNotes 613 asks for cuts under 5 cm; the young stem starts at 6.4.
    young = table[table["tree"] == 0]
    assert young["branch_cm"].iloc[0] == pytest.approx(6.4)
    assert young["closes"].tolist() == [True, False, False, False]
    assert young["correctable"].iloc[0]
