"""The nearest of some names."""

import pytest

from platemargin.names import nearest_name


@pytest.mark.parametrize(
    ("name", "near"),
    [("PLATE_MM", "plate_mm"), ("pit_dept_mm", "pit_depth_mm"), ("mast", None), ("", None), ("plate_mm" * 1000, None)],
)
def test_the_nearest_is_alike(name, near):
    assert nearest_name(name, ["plate_mm", "pit_depth_mm"]) == near
