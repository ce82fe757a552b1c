"""The units of every figure and the decimals it is declared with.

Comparisons (limits, states, verdicts, findings) are made on values rounded as declared here, so that what a reader sees
is what was judged: 9.8 - 2.8 is 7.0 although binary arithmetic says 7.000000000000001, and 4.6 - 0.6 is not below 4.0.
"""

from __future__ import annotations

from functools import cache
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

__all__ = ["DECIMALS", "Array", "Floats", "at_least", "below", "decimals_of", "rounded", "text"]

Floats: TypeAlias = "npt.NDArray[np.float64]"
Array: TypeAlias = "npt.NDArray[Any]"

#: Decimals by unit. Gauges read 0.1 mm (ultrasonic 0.01): three decimals keep arithmetic apart from reading.
DECIMALS = {
    "mm": 3,
    "%": 2,
    "mm/year": 4,
    "year": 2,
    "probability": 6,
    "m": 3,
    "m2": 3,
    "um": 1,
    "month": 0,
    "litre": 2,
    "minute": 1,
    "mg/m2": 1,
    "1/m2": 2,
    "pH": 1,
    "ratio": 2,
    "1": 6,
    "as quantity": 3,
}

#: A number's name ends in its unit; the longest ending wins.
_UNIT_BY_ENDING = {
    "_mm_per_year": "mm/year",
    "_mm": "mm",
    "_percent": "%",
    "years": "year",
    "years_low": "year",
    "years_high": "year",
    "_mg_per_m2": "mg/m2",
    "_per_m2": "1/m2",
    "_m2": "m2",
    "_m": "m",
    "_um": "um",
    "_months": "month",
    "_litres": "litre",
    "_minutes": "minute",
    "_ph": "pH",
}

#: What survives rounding at one part in 1e15 of the largest in-range figure, and no more.
_TEXT_DECIMALS = 6


def rounded(value: npt.ArrayLike, unit: str) -> Floats:
    """Round as declared for a unit; half to even, minus zero becomes zero, NaN stays NaN.

    Examples
    --------
    >>> float(rounded(9.8 - 2.8, "mm")), float(rounded(-0.0001, "mm"))
    (7.0, 0.0)
    """
    return np.asarray(np.round(np.asarray(value, dtype=np.float64), DECIMALS[unit]) + 0.0)


def below(value: npt.ArrayLike, limit: npt.ArrayLike, unit: str) -> npt.NDArray[np.bool_]:
    """Tell whether `value` is below `limit`, both rounded as declared; False where either is NaN.

    Examples
    --------
    >>> bool(below(4.6 - 0.6, 4.0, "mm"))
    False
    """
    return np.asarray(rounded(value, unit) < rounded(limit, unit))


def at_least(value: npt.ArrayLike, limit: npt.ArrayLike, unit: str) -> npt.NDArray[np.bool_]:
    """Tell whether `value` is `limit` or more, both rounded as declared; False where either is NaN."""
    return np.asarray(rounded(value, unit) >= rounded(limit, unit))


@cache
def decimals_of(name: str) -> int:
    """Return the declared decimals of a field from the unit that its name ends in.

    Examples
    --------
    >>> decimals_of("governing_mm_per_year"), decimals_of("loss_percent")
    (4, 2)
    """
    endings = sorted((ending for ending in _UNIT_BY_ENDING if name.endswith(ending)), key=len)
    return DECIMALS[_UNIT_BY_ENDING[endings[-1]]] if endings else _TEXT_DECIMALS


def text(value: object) -> str:
    """Write a value for a sentence: the rounded number itself, without a tail of zeros.

    Examples
    --------
    >>> text(30.0), text(0.2375), text("baseplate")
    ('30', '0.2375', 'baseplate')
    """
    if isinstance(value, (float, np.floating)):
        plain = f"{value:.{_TEXT_DECIMALS}f}".rstrip("0").rstrip(".")
        return "0" if plain == "-0" else plain
    return str(value)
