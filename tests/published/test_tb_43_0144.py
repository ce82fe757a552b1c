"""US Army TB 43-0144, Painting of vessels, paragraph (7): two hull zincs on so much steel; its text was read."""

import pytest

from platemargin.anode_layout import densest_count

FT2 = 0.3048**2


@pytest.mark.parametrize(("square_feet", "count"), [(100, 2), (400, 8), (20, 2)])  # bare: two on 100 ft2, two at least
def test_densest_fitting(sized, square_feet, count):
    """The densest that was published is that of bare steel; with more, no number of anodes is sensible."""
    answer = sized(wetted_area_m2=square_feet * FT2)
    assert answer["result"]["densest_count"] == count


@pytest.mark.parametrize(
    ("paint", "square_feet", "of_a_hull_of_400", "of_60_m2"),
    [("new", 400, 2, 4), ("a year old", 200, 4, 7), ("none", 100, 8, 13)],
)
def test_two_zincs_on_so_much_steel(paint, square_feet, of_a_hull_of_400, of_60_m2):
    """Paint stretches the rule for bare steel over two and four times the area; the numbers follow from it (not printed)."""
    bare = 100 / square_feet
    assert densest_count(400 * FT2 * bare) == of_a_hull_of_400, paint
    assert densest_count(60.0 * bare) == of_60_m2, paint
