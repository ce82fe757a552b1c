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
SHIBATA = Reference(
    id="shibata-1994",
    title="T. Shibata, Application of extreme value statistics to corrosion, J. Res. Natl. Inst. Stand. Technol. 99(4), 327",
    year=1994,
    clause="Gumbel distribution of the deepest pit of a patch; return period = total area / patch area; mode of the whole",
    basis="published",
)
GUMBEL = Reference(
    id="gumbel-1958",
    title="E. J. Gumbel, Statistics of Extremes",
    year=1958,
    clause="reduced variate, its mean and deviation at plotting positions i / (n + 1); mode, mean and quantiles of the "
    "greatest",
    basis="from_memory",
)
COLES = Reference(
    id="coles-2001",
    title="S. Coles, An Introduction to Statistical Modeling of Extreme Values",
    year=2001,
    clause="3.3 and 3.4.1: maximum likelihood, observed information, likelihood ratio of Gumbel against the generalised "
    "distribution",
    basis="published",
)
HOSKING = Reference(
    id="hosking-1990",
    title="J. R. M. Hosking, L-moments: analysis and estimation of distributions, J. R. Stat. Soc. B 52(1), 105-124",
    year=1990,
    clause="Gumbel distribution: scale = l2 / ln 2, location = l1 - 0.5772 scale",
    basis="from_memory",
)
LIEBLEIN = Reference(
    id="lieblein-1974",
    title="J. Lieblein, Efficient methods of extreme-value methodology, NBSIR 74-602",
    year=1974,
    clause="Table 1, weights of the best linear unbiased estimator; for 5 to 16 values computed anew",
    basis="published",
)
STEPHENS = Reference(
    id="stephens-1977",
    title="M. A. Stephens, Goodness of fit for the extreme value distribution, Biometrika 64(3), 583-588",
    year=1977,
    clause="A2 (1 + 0.2 / sqrt n) for location and scale estimated",
    basis="from_memory",
)
PHIEN = Reference(
    id="phien-1987",
    title="H. N. Phien, A review of methods of parameter estimation for the extreme value type-1 distribution, J. Hydrol. 90, "
    "251",
    year=1987,
    clause="variances of location and scale by probability-weighted moments; their constants computed anew",
    basis="from_memory",
)
PIVOTAL_PREDICTION = Reference(
    id="pivotal-prediction",
    title="J. F. Lawless, Statistical Models and Methods for Lifetime Data",
    year=2003,
    clause="prediction from pivotal quantities of location-scale distributions, their distribution by simulation",
    basis="from_memory",
)
ES_TRIN_3_02 = Reference(
    id="es-trin-3-02",
    title="ES-TRIN, Technical requirements for inland navigation vessels; wording read in the French decree of 30 December "
    "2008 that transposes Directive 2006/87/EC",
    year=2008,
    clause="Article 3.02(1)(b): minimum thickness of bottom, bilge and side plates; up to 10 % thinner locally",
    basis="published",
)
EU_2016_1629 = Reference(
    id="eu-2016-1629-scope",
    title="Directive (EU) 2016/1629, Technical requirements for inland waterway vessels",
    year=2016,
    clause="Article 2: vessels of 20 m and more, or of length x beam x draught of 100 m3 and more",
    basis="from_memory",
)
ISO_12215_5 = Reference(
    id="iso-12215-5",
    title="ISO 12215-5, Small craft: hull construction and scantlings, Part 5: Design pressures, design stresses, scantlings",
    year=2008,
    clause="thickness of flat metal plating in bending, k2 by the panel's sides, design stress of steel; hulls up to 24 m",
    basis="from_memory",
)
STATIC_HEAD = Reference(
    id="static-head",
    title="Pressure of still fresh water: 1000 kg/m3 and the standard acceleration of free fall, 9.80665 m/s2",
    year=None,
    clause="9.80665 kPa for each metre",
    basis="common_practice",
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
STATION_TOLERANCE = Reference(
    id="station-tolerance",
    title="Readings of two surveys within 0.25 m along the hull are taken to be of one place",
    year=None,
    clause="about half a frame space of an inland boat; stations are taped or counted in frames",
    basis="common_practice",
)
GAUGE_CALIBRATION = Reference(
    id="gauge-calibration",
    title="A plate gauge is set on a step block to within its resolution of 0.1 mm: every reading of that day shares the error",
    year=None,
    clause="0.1 / sqrt(3) = 0.06 mm, standard, a part of a reading's own uncertainty",
    basis="common_practice",
)
FAST_RATE = Reference(
    id="fast-rate",
    title="Steel of an inland boat that loses over 1 mm a year is driven by more than fresh water, or was misread",
    year=None,
    clause="1 mm/year: stray current, galvanic attack or microbes are looked for",
    basis="common_practice",
)
FEW_MATCHED = Reference(
    id="few-matched",
    title="A comparison that pairs fewer than half of the readings of the smaller survey stands for neither survey",
    year=None,
    clause="one half",
    basis="common_practice",
)
BIRGE = Reference(
    id="birge-1932",
    title="R. T. Birge, The calculation of errors by the method of least squares, Phys. Rev. 40, 207-227",
    year=1932,
    clause="the uncertainty of a mean is widened by the ratio of external to internal scatter",
    basis="from_memory",
)
BONFERRONI = Reference(
    id="bonferroni",
    title="C. E. Bonferroni, Teoria statistica delle classi e calcolo delle probabilita",
    year=1936,
    clause="each of n tests at the n-th part of the level keeps the level for all of them",
    basis="from_memory",
)
GUM_BUDGET = Reference(
    id="gum-budget",
    title="JCGM 100, Guide to the expression of uncertainty in measurement",
    year=2008,
    clause="4.2.3 mean of repeated readings, F.2.2.1 resolution, 5.1.3 sensitivity, 6.2.1 expanded, H.1 budget as a table",
    basis="published",
)
ASTM_E797 = Reference(
    id="astm-e797",
    title="ASTM E797/E797M, Measuring thickness by manual ultrasonic pulse-echo contact method",
    year=2015,
    clause="velocity falls, and the thickness reads high, by about 1 % for 55 degC (100 degF) over the reference block",
    basis="from_memory",
)
ULTRASOUND_IN_STEEL = Reference(
    id="ultrasound-in-steel",
    title="Longitudinal ultrasound runs at about 5920 m/s in mild steel, which differs by 30 m/s (standard) from plate to "
    "plate",
    year=None,
    clause="mild and low-alloy steel lie between 5700 and 6100 m/s",
    basis="common_practice",
)
ULTRASOUND_IN_PAINT = Reference(
    id="ultrasound-in-paint",
    title="Ultrasound runs at about 2500 m/s in a cured paint film, within 250 m/s (standard)",
    year=None,
    clause="a film reads as over twice its thickness of steel in a single echo",
    basis="common_practice",
)
ULTRASONIC_READING = Reference(
    id="ultrasonic-reading",
    title="What one ultrasonic reading on a hull is good for: coupling, rough faces and the place of the probe 0.1 mm "
    "(standard)",
    year=None,
    clause="last digit 0.1 mm or 0.01 us; wall temperature 5 degC and film 25 um (standard); nothing thinner than 1 mm",
    basis="common_practice",
)
CLOPPER_PEARSON = Reference(
    id="clopper-pearson-1934",
    title="C. J. Clopper, E. S. Pearson, The use of confidence or fiducial limits, Biometrika 26(4), 404-413",
    year=1934,
    clause="upper limit of a binomial fraction; with no hit in n it is 1 - (1 - c)^(1/n)",
    basis="from_memory",
)
GILBERT = Reference(
    id="gilbert-1987",
    title="R. O. Gilbert, Statistical methods for environmental pollution monitoring",
    year=1987,
    clause="chapter 10, locating hot spots: a circle and a square grid of random origin",
    basis="from_memory",
)
SMALL_POPULATION = Reference(
    id="small-population",
    title="Where readings take up over a twentieth of what is sampled, the binomial count is more than is needed",
    year=None,
    clause="5 %; a probe covers a round place of 10 mm",
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
DECIMAL_POINT = Reference(
    id="decimal-point",
    title="A reading of 98 where the plate is 10 mm was 9.8, one of 0.98 by a gauge of tenths too; 0.39 was taken in inches",
    year=None,
    clause="over twice or below a fifth of what is usual, and by ten from 0.5 to 1.2 of it; a zone's median so by 25.4",
    basis="common_practice",
)

REFERENCES = {record.id: record for record in tuple(globals().values()) if isinstance(record, Reference)}
