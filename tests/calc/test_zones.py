"""Zones: where each stands, and what a misspelt one counts as."""

import pytest

from platemargin.readings import zone_exposure
from platemargin.zones import DEFAULT_EXPOSURE, EXPOSURES, nearest_zone


@pytest.mark.parametrize(
    ("exposure", "zones"),
    [
        ("immersed", {"baseplate", "chine", "swim", "counter", "skeg", "rudder", "weed-hatch"}),
        ("waterline", {"side", "transom", "stem"}),
        ("superstructure", {"cabin-side", "roof"}),
        ("internal", {"tank"}),
        ("topside", set()),
    ],
)
def test_default_exposure(exposure, zones):
    """CONTRACT: documented zones carry a default exposure."""
    assert exposure in EXPOSURES
    assert {zone for zone, told in DEFAULT_EXPOSURE.items() if told == exposure} == zones


@pytest.mark.parametrize("zone", ["cabin-sidd", "roofing", "Roof", "mast", ""])
def test_unknown_zone_counts_as_immersed(zone):
    """CONTRACT: an unknown zone counts as immersed, however near a dry one it reads."""
    assert zone_exposure(zone) == "immersed"


@pytest.mark.parametrize(
    ("name", "nearest"),
    [("basepalte", "baseplate"), ("Base Plate", "baseplate"), ("cabin side", "cabin-side"), ("SWIM", "swim"), ("mast", None)],
)
def test_nearest_zone(name, nearest):
    """The nearest known name is named, and none where none is near."""
    assert nearest_zone(name) == nearest
