import numpy as np
import pytest

from forestcycle.outlook.means import BORROWED_WEIGHT, shrunk_means


def test_many_trees_speak_for_themselves_and_none_borrow():
    kind = np.repeat([0, 1], [100_000, 1])
    fault = np.zeros(100_001, dtype=np.int64)
    value = np.where(kind == 0, 5.0, 50.0)
    means = shrunk_means(value, np.ones(len(value)), (kind, fault), (3, 2))
    assert means[0, 0] == pytest.approx(5, rel=1e-3)
    wider = means[2, 0]
    assert wider == pytest.approx(value.mean(), rel=1e-3)
    assert means[1, 0] == pytest.approx((50 + BORROWED_WEIGHT * wider) / (1 + BORROWED_WEIGHT))


def test_nothing_known_gives_zero():
    nothing = np.zeros(0)
    assert (shrunk_means(nothing, nothing, (nothing.astype(int),), (4,)) == 0).all()
