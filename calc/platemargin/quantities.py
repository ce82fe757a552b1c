"""The units of every figure and the decimals it is declared with.

Comparisons (limits, states, verdicts, findings) are made on values rounded as declared here, so that what a reader sees
is what was judged: 9.8 - 2.8 is 7.0 although binary arithmetic says 7.000000000000001, and 4.6 - 0.6 is not below 4.0.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from math import floor, log10
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

__all__ = [
    "DECIMALS",
    "FIGURES",
    "ROUNDED",
    "ROUNDER",
    "Array",
    "Floats",
    "all_as_named",
    "as_array",
    "as_named",
    "at_least",
    "below",
    "chosen",
    "decimals_of",
    "last_place",
    "looked_up",
    "odds",
    "one_rounded",
    "one_to_decimals",
    "rounded",
    "rounding_of",
    "rounding_to",
    "telling_of",
    "text",
    "to_decimals",
    "unit_of",
]

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
    "m3": 3,
    "kPa": 3,
    "MPa": 2,
    "um": 1,
    "us": 4,
    "m/s": 1,
    "degC": 1,
    "month": 0,
    "litre": 2,
    "minute": 1,
    "mg/m2": 1,
    "1/m2": 2,
    "pH": 1,
    "ratio": 2,
    "1": 6,
    "as quantity": 3,
    "kg": 3,
    "V": 3,
    "Ah/kg": 1,
    "1/year": 4,
    "uS/cm": 1,
    "kg/year": 4,
    "t/cm": 4,
    "t m/cm": 4,
    "kg m": 1,
    "degree": 2,
}
#: Significant figures by unit: a current is a milliampere in a canal and an ampere at sea.
FIGURES = {"A": 4, "A/m2": 4, "ohm": 4, "ohm m": 4}

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
    "_m3": "m3",
    "_kpa": "kPa",
    "_mpa": "MPa",
    "_m": "m",
    "_um": "um",
    "_us": "us",
    "_m_per_s": "m/s",
    "_c": "degC",
    "_months": "month",
    "_kg": "kg",
    "_v": "V",
    "_ah_per_kg": "Ah/kg",
    "_per_year": "1/year",
    "_us_per_cm": "uS/cm",
    "_a": "A",
    "_a_per_m2": "A/m2",
    "_ohm": "ohm",
    "_ohm_m": "ohm m",
    "_kg_per_year": "kg/year",
    "tonnes_per_cm": "t/cm",
    "_t_m_per_cm": "t m/cm",
    "_kg_m": "kg m",
    "_degrees": "degree",
    "_litres": "litre",
    "_minutes": "minute",
    "_ph": "pH",
}

#: Beyond these a sentence tells a probability no closer: what it follows from is not known so well. Common practice, no source.
_NEAR_NONE, _NEAR_ALL = 0.001, 0.999
#: What survives rounding at one part in 1e15 of the largest in-range figure, and no more.
_TEXT_DECIMALS = 6
#: A figure of four significant figures is told with all of them down to the last decimal of a sentence.
_SMALL, _SMALLEST = 1e-3, 1e-6
_WHOLE = 2.0**52
#: Added to this, every double up to `ROUNDED` either side of zero is rounded to a whole one, half to even (IEEE 754, 4.3.1).
ROUNDER, ROUNDED = 1.5 * 2.0**52, 2.0**51


def as_array(value: npt.ArrayLike) -> Array:
    """Return an array; one that is an array already, or that stands for one in numpy's functions (NEP 18), as it is."""
    return value if hasattr(value, "__array_function__") else np.asarray(value)  # type: ignore[return-value]


def rounded(value: npt.ArrayLike, unit: str) -> Floats:
    """Round as declared for a unit; half to even, minus zero becomes zero, NaN stays NaN.

    Examples
    --------
    >>> float(rounded(9.8 - 2.8, "mm")), float(rounded(-0.0001, "mm")), float(rounded(0.0123456, "A"))
    (7.0, 0.0, 0.01235)
    """
    values = as_array(value).astype(np.float64, copy=False)
    if unit not in FIGURES:
        return to_decimals(values, DECIMALS[unit])
    written = [_to_figures(one, FIGURES[unit]) for one in values.ravel().tolist()]
    return np.array(written, dtype=np.float64).reshape(values.shape)


def to_decimals(values: Floats, decimals: int) -> Floats:
    """Round to decimals; half to even, minus zero becomes zero, NaN stays NaN.

    It does what `numpy.round` does, which for the short columns of single calls takes far longer to come to it; the column
    of one value is rounded without numpy, whose cost is that of the call.
    """
    if isinstance(values, np.ndarray) and values.size == 1:
        return np.array(one_to_decimals(values.item(), decimals), dtype=np.float64, ndmin=values.ndim)
    if decimals < 0:
        return np.asarray(np.round(values, decimals) + 0.0)
    power = 10.0**decimals
    written = as_array(values * power)
    np.rint(written, out=written)
    written /= power
    written += 0.0
    return written


def one_to_decimals(value: float, decimals: int) -> float:
    """Round one number as `to_decimals` rounds a column.

    Examples
    --------
    >>> one_to_decimals(9.8 - 2.8, 3), one_to_decimals(0.0625, 3), one_to_decimals(-0.0001, 3)
    (7.0, 0.062, 0.0)
    """
    return rounding_to(decimals)(float(value))


@cache
def rounding_to(decimals: int) -> Callable[[float], float]:
    """Return what rounds one number as `one_to_decimals` does: an answer has many of few kinds."""
    if decimals < 0:
        return lambda value: float(np.round(value, decimals)) + 0.0
    power = 10.0**decimals

    def rounds(value: float) -> float:
        scaled = value * power
        if -ROUNDED < scaled < ROUNDED:
            return (scaled + ROUNDER - ROUNDER) / power + 0.0
        # From 2^52 on every double is whole; NaN goes the same way.
        return (round(scaled) if -_WHOLE < scaled < _WHOLE else scaled) / power + 0.0

    return rounds


def one_rounded(value: float, unit: str) -> float:
    """Round one number as `rounded` rounds a column.

    Examples
    --------
    >>> one_rounded(9.8 - 2.8, "mm"), one_rounded(0.0123456, "A")
    (7.0, 0.01235)
    """
    return _to_figures(value, FIGURES[unit]) if unit in FIGURES else one_to_decimals(value, DECIMALS[unit])


def _to_figures(value: float, figures: int) -> float:
    return float(f"{value:.{figures}g}") + 0.0


def as_named(name: str, value: float) -> float:
    """Round as the unit declares that a name ends in; six decimals where it ends in none.

    Examples
    --------
    >>> as_named("output_a", 1234.56), as_named("plate_mm", 0.1 + 0.2)
    (1235.0, 0.3)
    """
    return rounding_of(name)(float(value))


@cache
def rounding_of(name: str) -> Callable[[float], float]:
    """Return what rounds a number of a name as `as_named` does."""
    unit = unit_of(name)
    if unit in FIGURES:
        return partial(_to_figures, figures=FIGURES[unit])
    return rounding_to(decimals_of(name))


def all_as_named(name: str, values: Any) -> Floats:
    """Round many values of one name, each as `as_named` does."""
    unit = unit_of(name)
    return rounded(values, unit) if unit is not None else np.asarray(np.round(values, _TEXT_DECIMALS) + 0.0, dtype=np.float64)


def last_place(value: float, unit: str | None) -> float:
    """Return one unit in the last place that a figure of some unit is written with.

    Examples
    --------
    >>> last_place(9.8, "mm"), last_place(1234.0, "A"), last_place(0.01234, "ohm")
    (0.001, 1.0, 1e-05)
    """
    if unit in FIGURES:
        return float(10.0 ** (floor(log10(abs(value))) + 1 - FIGURES[unit])) if value else 0.1**_TEXT_DECIMALS
    return float(10.0 ** -DECIMALS.get(unit or "", _TEXT_DECIMALS))


def below(value: npt.ArrayLike, limit: npt.ArrayLike, unit: str) -> npt.NDArray[np.bool_]:
    """Tell whether `value` is below `limit`, both rounded as declared; False where either is NaN.

    Examples
    --------
    >>> bool(below(4.6 - 0.6, 4.0, "mm"))
    False
    """
    return as_array(rounded(value, unit) < rounded(limit, unit))


def at_least(value: npt.ArrayLike, limit: npt.ArrayLike, unit: str) -> npt.NDArray[np.bool_]:
    """Tell whether `value` is `limit` or more, both rounded as declared; False where either is NaN."""
    return as_array(rounded(value, unit) >= rounded(limit, unit))


def chosen(*cases: tuple[npt.NDArray[np.bool_], int], otherwise: int | Array) -> Array:
    """Return, row by row, the member of an enumeration whose condition is the first to hold, as a whole number.

    Examples
    --------
    >>> chosen((np.array([True, False, False]), 2), (np.array([True, True, False]), 1), otherwise=0).tolist()
    [2, 1, 0]
    """
    # numpy asks a member of an enumeration a good deal before it takes it for the number that it is.
    found: Any = otherwise if hasattr(otherwise, "__array_function__") else int(otherwise)
    for condition, member in reversed(cases):
        found = np.where(condition, int(member), found)
    return as_array(found)


def looked_up(table: Array, place: Any) -> Array:
    """Return a table's entries at places, row by row.

    Examples
    --------
    >>> looked_up(np.array([0.5, 0.7, 0.9]), np.array([2, 0])).tolist()
    [0.9, 0.5]
    """
    if isinstance(place, (np.ndarray, np.integer)):
        return np.asarray(table[place])
    # As numpy asks what stands for an array; it does not do so for a place in one.
    return place.__array_function__(looked_up, (type(place),), (table, place), {})  # type: ignore[no-any-return]


@cache
def unit_of(name: str) -> str | None:
    """Return the unit that a number's name ends in.

    Examples
    --------
    >>> unit_of("resistivity_ohm_m"), unit_of("station_m"), unit_of("limit")
    ('ohm m', 'm', None)
    """
    endings = sorted((ending for ending in _UNIT_BY_ENDING if name.endswith(ending)), key=len)
    return _UNIT_BY_ENDING[endings[-1]] if endings else None


def decimals_of(name: str) -> int:
    """Return the declared decimals of a field from the unit that its name ends in; those of a sentence where it has none.

    Examples
    --------
    >>> decimals_of("governing_mm_per_year"), decimals_of("loss_percent")
    (4, 2)
    """
    return DECIMALS.get(unit_of(name) or "", _TEXT_DECIMALS)


def odds(probability: float) -> str:
    """Write a probability for a sentence: two figures of it, or of what it lacks of one.

    Examples
    --------
    >>> odds(0.054799), odds(0.99123), odds(0.5), odds(0.0), odds(0.99991)
    ('0.055', '0.9912', '0.5', 'less than 0.001', 'more than 0.999')
    """
    if probability < _NEAR_NONE:
        return f"less than {text(_NEAR_NONE)}"
    if probability > _NEAR_ALL:
        return f"more than {text(_NEAR_ALL)}"
    return text(round(probability, 1 - floor(log10(min(probability, 1 - probability)))))


@cache
def telling_of(name: str) -> Callable[[Any], str]:
    """Return what writes a figure of a name for a sentence.

    Examples
    --------
    >>> telling_of("probability_below_now")(0.054799), telling_of("plate_mm")(0.054799)
    ('0.055', '0.054799')
    >>> telling_of("probability_percent")(5.4799), telling_of("probability_class")("low"), telling_of("p_value")(None)
    ('5.4799', 'low', 'None')
    """
    is_probability = name.startswith("probability_") or name.endswith(("_probability", "p_value"))
    return _odds_or_text if is_probability and unit_of(name) is None else text


def _odds_or_text(value: Any) -> str:
    # A name binds nobody: what is no probability is written as it is.
    return odds(value) if isinstance(value, float) and 0 <= value <= 1 else text(value)


def text(value: object) -> str:
    """Write a value for a sentence: the rounded number itself, without a tail of zeros.

    Examples
    --------
    >>> text(30.0), text(0.2375), text(0.00012345), text("baseplate")
    ('30', '0.2375', '0.0001234', 'baseplate')
    """
    if type(value) is float and (value >= _SMALL or value <= -_SMALL):  # as most are
        return f"{value:.6f}".rstrip("0").rstrip(".")
    if not isinstance(value, (float, np.floating)):
        return str(value)
    size = abs(float(value))
    decimals = 3 - floor(log10(size)) if _SMALLEST <= size < _SMALL else _TEXT_DECIMALS
    plain = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if plain == "-0" else plain
