"""US Army TB 43-0144, Painting of vessels, paragraph (7): two hull zincs on so much steel; its text was read."""

import pytest

FT2 = 0.3048**2


@pytest.mark.parametrize(("square_feet", "count"), [(100, 2), (400, 8), (20, 2)])  # bare: two on 100 ft2, two at least
def test_densest_fitting(sized, square_feet, count):
    """The densest that was published is that of bare steel; with more, no number of anodes is sensible."""
    answer = sized(wetted_area_m2=square_feet * FT2)
    assert answer["result"]["densest_count"] == count
