"""The three metals that anodes are cast from: what a kilogram gives, at what potential, in which water, of which shape."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from platemargin.quantities import below

__all__ = [
    "HOURS_A_YEAR",
    "MATERIALS",
    "MORE_THAN_FARADAY",
    "UTILISATION",
    "AnodeMaterial",
    "AnodeShape",
    "Material",
    "faraday_ah_per_kg",
    "material_named",
    "more_than_faraday",
]

#: The year of every anode design code. Reference: dnv-rp-b401-design.
HOURS_A_YEAR = 8760.0
_FARADAY_C_PER_MOL = 96485.33212


class AnodeMaterial(IntEnum):
    """What the anode is cast from."""

    MAGNESIUM = 0
    ALUMINIUM = 1
    ZINC = 2


class AnodeShape(IntEnum):
    """How an anode stands and how long it is for its width: which resistance formula holds, and how much of it is used."""

    LONG_STAND_OFF = 0
    SHORT_STAND_OFF = 1
    LONG_FLUSH = 2
    SHORT_FLUSH = 3


@dataclass(frozen=True, kw_only=True)
class Material:
    """One metal.

    `capacity_ah_per_kg` is what a kilogram gives in practice, `closed_circuit_v` the potential at which it gives it, against
    silver/silver chloride in sea water. `least_ohm_m` and `most_ohm_m` bound the water that it suits.
    """

    name: str
    capacity_ah_per_kg: float
    closed_circuit_v: float
    kg_per_m3: float
    valence: int
    molar_mass_g: float
    least_ohm_m: float
    most_ohm_m: float
    longest_years: float
    passivates: bool

    def suits(self, resistivity_ohm_m: float) -> bool:
        """Tell whether the metal does its work in water of this resistivity, neither passive nor running away."""
        too_salt = below(resistivity_ohm_m, self.least_ohm_m, "ohm m")
        return not too_salt and not below(self.most_ohm_m, resistivity_ohm_m, "ohm m")

    def passive_in(self, resistivity_ohm_m: float) -> bool:
        """Tell whether the metal's face turns passive there: it keeps its metal, and the steel corrodes."""
        return self.passivates and not self.suits(resistivity_ohm_m)


#: Zinc and aluminium: capacity and potential in sea water. Reference: dnv-rp-b401-design.
#: Magnesium: useful capacity at 50 % efficiency and -1.45 V against copper/copper sulphate. Reference: roberge-2008.
#: Where each is of use. Reference: anode-practice. How long it can be counted on: own rule; no source.
MATERIALS = {
    AnodeMaterial.MAGNESIUM: Material(
        name="magnesium",
        capacity_ah_per_kg=1100.0,
        closed_circuit_v=-1.384,
        kg_per_m3=1770.0,
        valence=2,
        molar_mass_g=24.305,
        least_ohm_m=2.0,
        most_ohm_m=1e4,
        longest_years=10.0,
        passivates=False,
    ),
    AnodeMaterial.ALUMINIUM: Material(
        name="aluminium",
        capacity_ah_per_kg=2000.0,
        closed_circuit_v=-1.05,
        kg_per_m3=2750.0,
        valence=3,
        molar_mass_g=26.9815384,
        least_ohm_m=0.0,
        most_ohm_m=2.0,
        longest_years=50.0,
        passivates=True,
    ),
    AnodeMaterial.ZINC: Material(
        name="zinc",
        capacity_ah_per_kg=780.0,
        closed_circuit_v=-1.00,
        kg_per_m3=7130.0,
        valence=2,
        molar_mass_g=65.38,
        least_ohm_m=0.0,
        most_ohm_m=2.0,
        longest_years=50.0,
        passivates=True,
    ),
}
#: The part of an anode that is used up before its shape fails. Reference: dnv-rp-b401-design.
UTILISATION = {
    AnodeShape.LONG_STAND_OFF: 0.90,
    AnodeShape.SHORT_STAND_OFF: 0.85,
    AnodeShape.LONG_FLUSH: 0.85,
    AnodeShape.SHORT_FLUSH: 0.80,
}


def material_named(name: str) -> Material:
    """Return the metal of a name as requests write it."""
    return MATERIALS[AnodeMaterial[name.upper()]]


def faraday_ah_per_kg(material: Material) -> float:
    """Return what a kilogram would give if every atom gave its charge to the steel: z F / 3.6 M.

    Examples
    --------
    >>> [round(faraday_ah_per_kg(material)) for material in MATERIALS.values()]
    [2205, 2980, 820]

    References
    ----------
    faraday
    """
    return material.valence * _FARADAY_C_PER_MOL / (3.6 * material.molar_mass_g)


#: How an anode that `more_than_faraday` finds is refused.
MORE_THAN_FARADAY = (
    "a kilogram of {material} holds {most_ah_per_kg} Ah in all and cannot give {capacity_ah_per_kg}; give what its maker tells "
    "in Ah/kg"
)


def more_than_faraday(anode: Mapping[str, Any]) -> dict[str, Any]:
    """Return the figures of an anode, as it is sent, whose capacity is more than its atoms could give; none of any other."""
    material, capacity = material_named(anode["material"]), anode.get("capacity_ah_per_kg")
    most = faraday_ah_per_kg(material)
    if capacity is None or not below(most, capacity, "Ah/kg"):
        return {}
    return {"material": material.name, "capacity_ah_per_kg": capacity, "most_ah_per_kg": most}
