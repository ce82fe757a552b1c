"""Where every deciding figure and formula comes from, as data.

A docstring, a step of working, a rule and a calculation's metadata cite a reference by its id; a test resolves each.
`basis` says how the figure is known: *published* (the text was read), *from_memory* (a published text, recalled, not read
again) or *common_practice* (the trade does so; no publication was found).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

__all__ = ["REFERENCES", "Basis", "Reference"]

Basis: TypeAlias = Literal["published", "from_memory", "common_practice"]


@dataclass(frozen=True, kw_only=True)
class Reference:
    """One source: what it is, where in it, and how it is known."""

    id: str
    title: str
    year: int | None
    clause: str
    basis: Basis


API_570 = Reference(
    id="api-570-rate",
    title="API 570, Piping Inspection Code",
    year=2016,
    clause="corrosion rate determination: long-term and short-term rate, the larger governs; remaining life",
    basis="published",
)
API_570_INTERVAL = Reference(
    id="api-570-interval",
    title="API 570, Piping Inspection Code",
    year=2016,
    clause="inspection interval: half the remaining life",
    basis="from_memory",
)
EN_1993_5_FRESH = Reference(
    id="en-1993-5-fresh",
    title="EN 1993-5, Eurocode 3: Design of steel structures, Part 5: Piling",
    year=2007,
    clause="Table 4-2, fresh water at the water line: loss of thickness per face",
    basis="from_memory",
)
EN_1993_5_SEA = Reference(
    id="en-1993-5-sea",
    title="EN 1993-5, Eurocode 3: Design of steel structures, Part 5: Piling",
    year=2007,
    clause="Table 4-2, sea water: loss of thickness per face",
    basis="published",
)
EN_10029 = Reference(
    id="en-10029-class-a",
    title="EN 10029, Hot-rolled steel plates 3 mm thick or above: tolerances on dimensions and shape",
    year=2010,
    clause="Table 1, thickness tolerances, class A",
    basis="from_memory",
)
FIELLER = Reference(
    id="fieller-1954",
    title="E. C. Fieller, Some problems in interval estimation, J. R. Stat. Soc. B 16(2), 175-185",
    year=1954,
    clause="limits of a ratio of two normal variables",
    basis="from_memory",
)
GUM = Reference(
    id="gum",
    title="JCGM 100, Guide to the expression of uncertainty in measurement",
    year=2008,
    clause="4.3.7 rectangular distribution, 5.1.2 combination, F.2.4.5 uncorrected bias, Table G.1 coverage",
    basis="published",
)
ISO_9224 = Reference(
    id="iso-9224",
    title="ISO 9224, Corrosivity of atmospheres: guiding values for the corrosivity categories",
    year=2012,
    clause="loss = rate x time to a power; the form only, no exponent of it is used here",
    basis="from_memory",
)
ASTM_G46 = Reference(
    id="astm-g46",
    title="ASTM G46, Guide for examination and evaluation of pitting corrosion",
    year=2021,
    clause="pitting factor: deepest metal penetration over average penetration",
    basis="from_memory",
)
NVIC_7_68 = Reference(
    id="nvic-7-68",
    title="US Army TB 55-1900-201-45/1, after USCG NVIC 7-68 of 1968, Notes on inspection and repair of steel hulls",
    year=None,
    clause="renewal at 25 % local loss of thickness; 15 % for lightly built hulls",
    basis="published",
)
RESIDUAL_DATUM = Reference(
    id="residual-datum",
    title="Pit depth is read from the plate surface beside the pit, paint and scale removed; what remains is plate less pit",
    year=None,
    clause="one datum, so that general loss and pit are never counted twice",
    basis="common_practice",
)
GAUGE_UNCERTAINTY = Reference(
    id="gauge-uncertainty",
    title="Standard uncertainty of one reading on a hull: 0.15 mm for a plate gauge, 0.20 mm for a pit gauge",
    year=None,
    clause="both together 0.25 mm (root of the sum of squares)",
    basis="common_practice",
)
SURVEY_INTERVAL = Reference(
    id="survey-interval",
    title="No longer than five years between out-of-water surveys",
    year=None,
    clause="cap of the next survey's interval",
    basis="common_practice",
)
INSURER_MINIMUM = Reference(
    id="insurer-minimum",
    title="Insurers of inland steel boats ask for 4 mm of plate under water; no authority for it was found",
    year=None,
    clause="below 4.0 mm: told to the insurer; below 3.5 mm: overplated or renewed. An insurer's own terms decide",
    basis="common_practice",
)
LOSS_WATCH = Reference(
    id="loss-watch",
    title="A loss over a fifth of the original thickness is watched before it reaches the quarter that is renewed",
    year=None,
    clause="20 %",
    basis="common_practice",
)
PLATING_NOTATION = Reference(
    id="plating-notation",
    title="A boat of '10/6/5' was plated 10 mm on the bottom, 6 mm on the sides, 5 mm on the cabin sides; a fourth is the roof",
    year=None,
    clause="figures in mm, bottom first",
    basis="common_practice",
)
ZONE_EXPOSURE = Reference(
    id="zone-exposure",
    title="Which parts of an inland hull are under water, at the water line and above it",
    year=None,
    clause="bottom, chine, swim, counter, skeg, rudder, weed hatch under water; side, transom, stem at the water line",
    basis="common_practice",
)
FEW_READINGS = Reference(
    id="few-readings",
    title="If a tenth of a zone is attacked, 29 readings at random places meet it with 95 %: ln(1 - 0.95) / ln(1 - 0.10)",
    year=None,
    clause="fewer than 29 readings of a zone in the water are few; so is one reading to more than 2 m2",
    basis="common_practice",
)
VALUE_PATTERNS = Reference(
    id="value-patterns",
    title="Readings are held against a smooth distribution of their own spread at their own resolution, never against uniform",
    year=None,
    clause="equal pairs, last digits, equal sides, equal runs: 0.001 for all four together; from 8 readings a group, 29 in all",
    basis="common_practice",
)
RATE_VERY_HIGH = Reference(
    id="rate-very-high",
    title="Plate of an inland boat seldom goes faster than 1 mm a year",
    year=None,
    clause="faster: ask for the original thickness and the age",
    basis="common_practice",
)
DECIMAL_POINT = Reference(
    id="decimal-point",
    title="A reading of 98 where the plate is 10 mm was 9.8, one of 0.98 by a gauge of tenths too; 0.39 was taken in inches",
    year=None,
    clause="over twice or below a fifth of what is usual, and by ten from 0.5 to 1.2 of it; a zone's median so by 25.4",
    basis="common_practice",
)

REFERENCES = {record.id: record for record in tuple(globals().values()) if isinstance(record, Reference)}
