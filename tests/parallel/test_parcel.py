"""Parcels: any value comes out as it went in, arrays as views of the file."""

import pickle

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from forestcycle.parallel.parcel import Parcel


@given(
    arrays=st.lists(
        hnp.arrays(
            st.sampled_from([np.int64, np.float64, np.bool_, np.uint8]),
            hnp.array_shapes(min_dims=0, max_dims=3, min_side=0, max_side=7),
        ),
        max_size=5,
    )
)
def test_arrays_of_any_shape(tmp_path_factory, arrays):
    path = tmp_path_factory.mktemp("parcel") / "a"
    found = Parcel.write({"arrays": arrays, "n": len(arrays)}, path).open()
    assert found["n"] == len(arrays)
    for array, other in zip(arrays, found["arrays"], strict=True):
        assert array.dtype == other.dtype
        np.testing.assert_array_equal(array, other)


def test_tables_with_text_categories_and_dates(tmp_path):
    table = pd.DataFrame(
        {
            "tree_id": ["a", "b", "c"],
            "state": pd.Categorical(["due", "overdue", "due"]),
            "due": pd.to_datetime(["2027-01-01", None, "2027-03-01"]),
            "dbh_cm": [1.5, np.nan, 3.0],
        }
    )
    parcel = Parcel.write(table, tmp_path / "table")
    pd.testing.assert_frame_equal(parcel.open(), table)
    pd.testing.assert_frame_equal(pickle.loads(pickle.dumps(parcel)).open(), table)  # noqa: S301
    assert len(pickle.dumps(parcel)) < 1_000, "a task carries the path, never the arrays"
