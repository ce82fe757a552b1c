"""Where a predicate of columns holds."""

import numpy as np
import pytest

from platemargin_api.findings import rows_where


@pytest.mark.parametrize(
    ("holds", "count", "rows"),
    [
        (np.array([True]), 1, [0]),
        (np.array([False]), 1, []),
        (np.True_, 1, [0]),
        (np.False_, 1, []),
        (np.array([True, False, True]), 3, [0, 2]),
        (np.array([False, False]), 2, []),
        (np.True_, 3, [0, 1, 2]),
        (np.array([True]), 2, [0, 1]),
    ],
)
def test_a_predicate_holds_of_rows_or_of_all(holds, count, rows):
    assert rows_where(holds, count) == rows


@pytest.mark.parametrize(("length", "count"), [(2, 1), (3, 2)])
def test_a_predicate_of_another_length_is_an_error(length, count):
    with pytest.raises(ValueError, match=r"ambiguous|broadcast"):
        rows_where(np.zeros(length, dtype=bool), count)
