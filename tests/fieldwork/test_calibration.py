"""Checked against known factors and scipy's robust least squares (soft L1)."""

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import least_squares

from forestcycle.fieldwork.calibration import TOO_FEW, calibration_table, crews_apart


def visits(n: int, factor: float, *, crew: str = "One", wild: float = 0.2) -> pd.DataFrame:
    rng = np.random.default_rng(n)
    planned = rng.uniform(5, 90, n)
    actual = planned * factor * np.exp(rng.normal(0, 0.15, n))
    actual[: int(wild * n / 2)] *= 10
    actual[int(wild * n / 2) : int(wild * n)] /= 10
    return pd.DataFrame(
        {"crew": crew, "age_class": "young", "outcome": "done", "minutes": actual, "dose": 0.15,
         "planned_minutes": planned, "planned_dose": 0.15}
    )  # fmt: skip


def test_known_factors_come_back_by_crew_though_a_fifth_is_wild():
    table = calibration_table(pd.concat([visits(400, 1.3), visits(300, 0.8, crew="Two")]))
    minutes = table[(table["measure"] == "minutes") & (table["age_class"] == "young")]
    found = minutes.set_index("crew")
    for crew, factor in (("One", 1.3), ("Two", 0.8)):
        assert found.loc[crew, "factor"] == pytest.approx(factor, rel=0.05)
        assert found.loc[crew, "low"] <= factor <= found.loc[crew, "high"]


def test_agrees_with_robust_least_squares():
    some = visits(400, 1.3)
    ratio = np.log(some["minutes"] / some["planned_minutes"]).to_numpy()
    fit = least_squares(lambda shift: ratio - shift[0], [0.0], loss="soft_l1", f_scale=0.15)
    assert calibration_table(some)["factor"].iloc[0] == pytest.approx(np.exp(fit.x[0]), rel=0.03)


def test_too_little_data_is_said():
    table = calibration_table(visits(29, 1.3))
    assert (table["data"] == TOO_FEW).all()
    assert table["factor"].isna().all()


def test_the_same_seed_gives_the_same_table():
    some = visits(60, 1.1)
    pd.testing.assert_frame_equal(calibration_table(some), calibration_table(some))


def test_crews_that_one_factor_does_not_fit_are_picked():
    same = [visits(200, 1.2, crew=name) for name in ("One", "Three")]
    assert not len(crews_apart(calibration_table(pd.concat([visits(300, 1.2)]))))
    table = calibration_table(pd.concat([*same, visits(100, 2.4, crew="Two")]))
    assert "Two" in set(crews_apart(table)["crew"])
