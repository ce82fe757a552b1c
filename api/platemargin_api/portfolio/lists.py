"""Columns of lists of names, from and to a column for each name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

__all__ = ["counts", "names_where"]


def names_where(names: Sequence[str], holds: Sequence[npt.NDArray[np.bool_]], rows: int) -> Any:
    """Return for each row the names that hold there.

    Examples
    --------
    >>> names_where(["a", "b"], [np.array([True, False]), np.array([True, True])], 2).to_pylist()
    [['a', 'b'], ['b']]
    """
    where, which = np.nonzero(np.array(holds, dtype=bool).reshape(len(names), rows).T)
    ends = np.searchsorted(where, np.arange(rows + 1))
    held = pa.array(np.array(names, dtype=object)[which], pa.string())
    return pa.ListArray.from_arrays(pa.array(ends, pa.int32()), held)


def counts(lists: Any, names: Sequence[str]) -> list[npt.NDArray[np.int64]]:
    """Return for each name how often it stands in the list of each row.

    Examples
    --------
    >>> counts(pa.array([["a", "b"], [], ["b"]]), ["a", "b"])
    [array([1, 0, 0]), array([1, 0, 1])]
    """
    rows = pc.list_parent_indices(lists).to_numpy()
    held = pc.cast(pc.list_flatten(lists), pa.string()).to_numpy(zero_copy_only=False)
    return [np.bincount(rows[held == name], minlength=len(lists)).astype(np.int64) for name in names]
