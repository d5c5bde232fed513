"""Open requests: asked for since the tree was last visited."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd


@dataclass(frozen=True)
class OpenRequests:
    """Requests that no visit has answered yet, one entry per tree.

    Attributes
    ----------
    requested, mandatory : ndarray of bool
    deadline : ndarray of datetime64[ns]
        The earliest, NaT where there is none.
    """

    requested: npt.NDArray[np.bool_]
    mandatory: npt.NDArray[np.bool_]
    deadline: npt.NDArray[np.datetime64]


def open_requests(
    requests: pd.DataFrame, tree_ids: pd.Index, last_visit: npt.NDArray[np.datetime64]
) -> OpenRequests:
    """Find the requests that still stand.

    Parameters
    ----------
    requests : DataFrame
        ``tree_id requested_on deadline mandatory note``; one without a date
        stands until a visit follows its entry into the table.
    tree_ids : Index
        Ids of the trees, in order.
    last_visit : ndarray of datetime64[ns]
        One entry per tree, NaT where never visited.

    Returns
    -------
    OpenRequests
    """
    trees = len(tree_ids)
    tree = tree_ids.get_indexer(pd.Index(requests["tree_id"]))
    asked = requests["requested_on"].to_numpy(dtype="datetime64[ns]")
    answered = last_visit[np.maximum(tree, 0)] >= asked
    stands = (tree >= 0) & ~answered
    rows = tree[stands]
    requested = np.zeros(trees, dtype=np.bool_)
    requested[rows] = True
    mandatory = np.zeros(trees, dtype=np.bool_)
    mandatory[rows[requests["mandatory"].to_numpy(dtype=bool)[stands]]] = True
    limit = requests["deadline"].to_numpy(dtype="datetime64[ns]")[stands]
    deadline = np.full(trees, np.datetime64("NaT"), dtype="datetime64[ns]")
    np.fmin.at(deadline, rows, limit)
    return OpenRequests(requested, mandatory, deadline)
