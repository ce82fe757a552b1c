"""Members and cautions that the calculations on anodes share."""

from __future__ import annotations

from typing import Any

from platemargin.anode_layout import REACH_LENGTHS
from platemargin.anode_materials import AnodeMaterial
from platemargin.electrodes import ReferenceElectrode
from platemargin_api.fields import Choice, Number

__all__ = [
    "MEASURED_DECIDES",
    "NEVER_ON_ALUMINIUM",
    "NEVER_PAINTED",
    "SHORE_POWER",
    "anode_length_m",
    "capacity_ah_per_kg",
    "material",
    "reach_lengths",
    "reference_electrode",
    "utilisation",
]

MEASURED_DECIDES = (
    "An anode's reach is geometry, not protection: a hull potential, measured by people who know how and against a named "
    "electrode, overrides every number here."
)
SHORE_POWER = (
    "Shore power without a galvanic isolator or an isolating transformer joins the hull to its neighbours', and no number of "
    "anodes makes up for it; that wiring is work for licensed people."
)
NEVER_PAINTED = "Anodes are never painted and need clean metal contact with the hull: a painted or a loose one counts as none."
NEVER_ON_ALUMINIUM = "Magnesium is never fitted to aluminium hulls, outdrives or fittings: it destroys them."


def material(**kwargs: Any) -> Choice:
    """Return the anode's metal."""
    return Choice(AnodeMaterial, description="Metal of the anode.", **kwargs)


def anode_length_m(**kwargs: Any) -> Number:
    """Return the anode's length."""
    return Number("m", 0.05, 5, description="Length of the anode, its straps left out.", **kwargs)


def capacity_ah_per_kg() -> Number:
    """Return what a kilogram gives."""
    return Number("Ah/kg", 100, 3000, description="What a kilogram gives in practice; absent = usual for the metal.")


def utilisation() -> Number:
    """Return the part of the anode that is used."""
    return Number("1", 0.1, 1, description="Part of the metal that is used before its shape fails; absent = by shape.")


def reach_lengths() -> Number:
    """Return how far an anode reaches."""
    return Number(
        "1",
        1,
        20,
        description="How far an anode reaches each way from its centre, in its own lengths.",
        default=REACH_LENGTHS,
        basis="common practice: 0.29 m long, every 4 m",
    )


def reference_electrode(**kwargs: Any) -> Choice:
    """Return the electrode that a potential is stated against."""
    description = (
        "Electrode of the potential: silver/silver chloride in sea water, copper/copper sulphate, zinc in sea water, standard "
        "hydrogen."
    )
    return Choice(ReferenceElectrode, description=description, **kwargs)
