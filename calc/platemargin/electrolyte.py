"""How badly water conducts: from what a meter reads, from salt and temperature, or from the kind of water it is.

PSS-78 goes from conductivity to salinity; the other way its fifth-degree polynomial in the root of the ratio is solved.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import sqrt
from typing import Any

import numpy as np
from numpy.polynomial import polynomial

from platemargin.quantities import Floats, below

__all__ = [
    "BRACKISH_ENDS_OHM_M",
    "FRESH_BEGINS_OHM_M",
    "FRESH_OHM_M",
    "FRESH_RANGE_OHM_M",
    "SALINITY",
    "TEMPERATURE_C",
    "conductivity_at",
    "kind_of_water",
    "practical_salinity",
    "resistivity_of",
    "salt_water_ohm_m",
]

#: Where nobody measured it [degC]. Reference: waters-practice.
TEMPERATURE_C = 10.0
#: Practical salinity of the sea and of an estuary. Reference: waters-practice.
SALINITY = {"sea": 35.0, "brackish": 5.0}
#: Canals and rivers, 1000 to 100 uS/cm, and the figure that is reckoned with [ohm m]. Reference: waters-practice.
FRESH_RANGE_OHM_M = (10.0, 100.0)
FRESH_OHM_M = 50.0
#: From here on water is fresh; up to here it has the chloride that zinc and aluminium need. Reference: anode-practice.
FRESH_BEGINS_OHM_M = FRESH_RANGE_OHM_M[0]
BRACKISH_ENDS_OHM_M = 2.0
#: Salinity 18 or so at 10 C: less salt is an estuary's (own rule; no source).
_SEA_ENDS_OHM_M = 0.5

#: Conductivity of standard sea water, salinity 35 at 15 C (IPTS-68), no pressure [S/m]. Reference: pss-78.
_STANDARD_S_PER_M = 4.2914
#: PSS-78: salinity at 15 C, its change with temperature, and the ratio of standard sea water. Reference: pss-78.
_A = np.array([0.0080, -0.1692, 25.3851, 14.0941, -7.0261, 2.7081])
_B = np.array([0.0005, -0.0056, -0.0066, -0.0375, 0.0636, -0.0144])
_K = 0.0162
_C = np.array([0.6766097, 2.00564e-2, 1.104259e-4, -6.9698e-7, 1.0031e-9])
#: Change of a natural water's conductivity with temperature, of that at 25 C [1/degC]. Reference: standard-methods-2510.
_PER_DEGREE = 0.0191
_METER_C = 25.0
#: Newton's steps from ratio 1: the polynomial is all but a parabola between salinities 2 and 42, and five are enough.
_STEPS = 12


def _salinity_polynomial(temperature_c: float) -> Floats:
    """Return PSS-78's polynomial in the root of the conductivity ratio Rt at a temperature."""
    above = temperature_c - 15.0
    return _A + above / (1.0 + _K * above) * _B


def practical_salinity(ratio: float, temperature_c: float) -> float:
    """Return the practical salinity of water that conducts `ratio` times as well as standard sea water at its temperature.

    Examples
    --------
    >>> round(practical_salinity(1.0568875, 20.0), 5)  # UNESCO 44: 37.245628
    37.24563

    References
    ----------
    pss-78
    """
    return float(polynomial.polyval(sqrt(ratio), _salinity_polynomial(temperature_c)))


def salt_water_ohm_m(salinity: float, temperature_c: float) -> float:
    """Return the resistivity of sea or brackish water at the surface [ohm m], practical salinity 2 to 42, -2 to 35 C.

    Examples
    --------
    >>> round(salt_water_ohm_m(35.0, 15.0), 4)  # 42.914 mS/cm
    0.233

    References
    ----------
    pss-78
    """
    curve = _salinity_polynomial(temperature_c)
    curve[0] -= salinity
    slope, root = polynomial.polyder(curve), 1.0
    for _ in range(_STEPS):
        root -= float(polynomial.polyval(root, curve) / polynomial.polyval(root, slope))
    standard = _STANDARD_S_PER_M * polynomial.polyval(temperature_c, _C)
    return float(1.0 / (root**2 * standard))


def conductivity_at(conductivity_us_per_cm: float, temperature_c: float) -> float:
    """Return the conductivity of a natural water at its temperature [uS/cm], from what a meter tells, referred to 25 C.

    Examples
    --------
    >>> round(conductivity_at(1000.0, 10.0), 1)
    713.5

    References
    ----------
    standard-methods-2510
    """
    return conductivity_us_per_cm * (1.0 + _PER_DEGREE * (temperature_c - _METER_C))


def resistivity_of(electrolyte: Mapping[str, Any]) -> float:
    """Return the resistivity [ohm m] of water that is described in one of four ways; see `anode_sizing`.

    Examples
    --------
    >>> round(resistivity_of({"water": "sea"}), 4)
    0.2626

    References
    ----------
    pss-78, standard-methods-2510, waters-practice
    """
    temperature = electrolyte.get("temperature_c", TEMPERATURE_C)
    if electrolyte.get("resistivity_ohm_m") is not None:
        return float(electrolyte["resistivity_ohm_m"])
    if electrolyte.get("conductivity_us_per_cm") is not None:
        return 1e4 / conductivity_at(electrolyte["conductivity_us_per_cm"], temperature)
    salinity = electrolyte.get("salinity") or SALINITY.get(electrolyte["water"])
    return FRESH_OHM_M if salinity is None else salt_water_ohm_m(salinity, temperature)


def kind_of_water(resistivity_ohm_m: float) -> str:
    """Return the kind of water of some resistivity: the sea's up to 0.5 ohm m, fresh from 10 ohm m on, brackish between.

    Examples
    --------
    >>> [kind_of_water(resistivity) for resistivity in (0.26, 1.5, 22.0)]
    ['sea', 'brackish', 'fresh']

    References
    ----------
    waters-practice
    """
    if not below(resistivity_ohm_m, FRESH_BEGINS_OHM_M, "ohm m"):
        return "fresh"
    return "brackish" if below(_SEA_ENDS_OHM_M, resistivity_ohm_m, "ohm m") else "sea"
