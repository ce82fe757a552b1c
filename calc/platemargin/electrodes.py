"""Potentials and the electrodes they are read against.

A potential means nothing without its electrode: -0.85 V against copper/copper sulphate is what -0.78 V is against
silver/silver chloride in sea water.
"""

from __future__ import annotations

from enum import IntEnum

from platemargin.quantities import below

__all__ = [
    "CRITERION_FRESH_V",
    "CRITERION_SEA_V",
    "CRITERION_SULPHATE_REDUCERS_V",
    "MOST_NEGATIVE_V",
    "STEEL_IN_WATER_V",
    "ReferenceElectrode",
    "against",
    "electrode_named",
    "is_of_steel",
]


class ReferenceElectrode(IntEnum):
    """What a potential is read against."""

    AG_AGCL = 0
    CSE = 1
    ZINC = 2
    SHE = 3


#: Potential of each electrode against the standard hydrogen electrode [V]: silver/silver chloride in sea water, saturated
#: copper/copper sulphate, pure zinc in sea water. Reference: en-12473-electrodes.
_AGAINST_HYDROGEN_V = {
    ReferenceElectrode.AG_AGCL: 0.25,
    ReferenceElectrode.CSE: 0.316,
    ReferenceElectrode.ZINC: -0.78,
    ReferenceElectrode.SHE: 0.0,
}

#: Steel is protected at this potential or a more negative one [V]: in the sea, against silver/silver chloride.
#: Reference: en-12473-criteria.
CRITERION_SEA_V = -0.80
#: The same in fresh water, against copper/copper sulphate. Reference: ufc-3-570-06-criteria.
CRITERION_FRESH_V = -0.85
#: The same where sulphate-reducing bacteria are suspected, against copper/copper sulphate.
#: Reference: en-12954-sulphate-reducers.
CRITERION_SULPHATE_REDUCERS_V = -0.95
#: Beyond this coatings lift and hydrogen is given off, against silver/silver chloride. Reference: en-12473-criteria.
MOST_NEGATIVE_V = -1.10
#: Steel in water is read between these, against copper/copper sulphate [V]: beyond them leads are crossed, a cell is bad or
#: the electrode is another. Reference: hull-potential-practice.
STEEL_IN_WATER_V = (-2.0, -0.2)


def electrode_named(name: str) -> ReferenceElectrode:
    """Return the electrode of a name as requests write it."""
    return ReferenceElectrode[name.upper()]


def against(potential_v: float, read_against: ReferenceElectrode, told_against: ReferenceElectrode) -> float:
    """Return a potential that was read against one electrode as it would be read against another.

    told = read + E(read against) - E(told against), both against the standard hydrogen electrode.

    Parameters
    ----------
    potential_v : float
        [V].
    read_against, told_against : ReferenceElectrode
        Of the reading, and of the answer.

    Returns
    -------
    float
        [V].

    Notes
    -----
    Valid for saturated copper sulphate, and for silver chloride and zinc in sea water: in brackish water the latter two drift
    by tens of millivolts.

    Examples
    --------
    >>> round(against(-0.80, ReferenceElectrode.AG_AGCL, ReferenceElectrode.CSE), 3)
    -0.866

    References
    ----------
    en-12473-electrodes
    """
    return potential_v + _AGAINST_HYDROGEN_V[read_against] - _AGAINST_HYDROGEN_V[told_against]


def is_of_steel(potential_v: float, read_against: ReferenceElectrode) -> bool:
    """Tell whether a potential [V] can be that of steel in water.

    Examples
    --------
    >>> is_of_steel(-0.85, ReferenceElectrode.CSE), is_of_steel(0.85, ReferenceElectrode.CSE)
    (True, False)

    References
    ----------
    hull-potential-practice
    """
    low, high = STEEL_IN_WATER_V
    copper = against(potential_v, read_against, ReferenceElectrode.CSE)
    return not below(copper, low, "V") and not below(high, copper, "V")
