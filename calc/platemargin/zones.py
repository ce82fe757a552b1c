"""The parts of an inland hull, and where each stands towards the water."""

from __future__ import annotations

from typing import Literal, TypeAlias

from platemargin.names import nearest_name

__all__ = ["APPENDAGES", "DEFAULT_EXPOSURE", "EXPOSURES", "UNKNOWN_EXPOSURE", "Exposure", "nearest_zone"]

Exposure: TypeAlias = Literal["immersed", "waterline", "topside", "superstructure", "internal"]

#: From the most to the least exposed to the water that sinks a boat.
EXPOSURES: tuple[Exposure, ...] = ("immersed", "waterline", "topside", "superstructure", "internal")

#: Reference: zone-exposure.
DEFAULT_EXPOSURE: dict[str, Exposure] = {
    "baseplate": "immersed",
    "chine": "immersed",
    "swim": "immersed",
    "counter": "immersed",
    "skeg": "immersed",
    "rudder": "immersed",
    "weed-hatch": "immersed",
    "side": "waterline",
    "transom": "waterline",
    "stem": "waterline",
    "cabin-side": "superstructure",
    "roof": "superstructure",
    "tank": "internal",
}

#: Parts under water that are no shell: read alone they say nothing of the bottom.
APPENDAGES = ("skeg", "rudder", "weed-hatch")

#: A name that nobody knows counts as under water: a misspelt zone never escapes a limit.
UNKNOWN_EXPOSURE: Exposure = "immersed"


def nearest_zone(name: str) -> str | None:
    """Return the documented zone whose name is most like `name`, or None where none is.

    Examples
    --------
    >>> nearest_zone("Base plate"), nearest_zone("mast")
    ('baseplate', None)
    """
    return nearest_name(name, DEFAULT_EXPOSURE)
