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
LAWLESS = Reference(
    id="lawless-1973",
    title="J. F. Lawless, On the estimation of safe life when the underlying life distribution is Weibull, Technometrics 15",
    year=1973,
    clause="prediction of the least of further values given the ancillary statistics of those seen, the logarithm of a Weibull "
    "value being extreme value distributed",
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
    clause="equal pairs, last digits, equal sides, equal runs, no spread: 0.001 for all five; from 8 readings a group, 29 in "
    "all; plate scatters by 0.15 mm or more (standard deviation), so that readings at 0.2 mm agree with 0.495 at most",
    basis="common_practice",
)
BESIDE_PREVIOUS = Reference(
    id="beside-previous",
    title="Two surveys of one hull: a gauge repeats within 0.05 mm, so that two readings at 0.1 mm agree with 0.52 at most",
    year=None,
    clause="the same values at nine places in ten, ten or 25.4 times the value, over 1 mm/year, thicker: 0.001 for all four",
    basis="common_practice",
)
DECIMAL_POINT = Reference(
    id="decimal-point",
    title="A reading of 98 where the plate is 10 mm was 9.8, one of 0.98 by a gauge of tenths too; 0.39 was taken in inches",
    year=None,
    clause="over twice or below a fifth of what is usual, and by ten from 0.5 to 1.2 of it; a zone's median so by 25.4",
    basis="common_practice",
)

DNV_RP_B401 = Reference(
    id="dnv-rp-b401-design",
    title="DNV-RP-B401, Cathodic protection design",
    year=2010,
    clause="7.8 design criteria; Tables 10-6 capacities and potentials, 10-7 resistances, 10-8 utilisation (2010 and 2017)",
    basis="from_memory",
)
DNV_RP_B401_DEMAND = Reference(
    id="dnv-rp-b401-demand",
    title="DNV-RP-B401, Cathodic protection design",
    year=2010,
    clause="Tables 10-1 and 10-2 current densities in sea water, 0-30 m; Table 10-4 coating constants (2010 and 2017)",
    basis="from_memory",
)
DNV_RP_B401_BREAKDOWN = Reference(
    id="dnv-rp-b401-breakdown",
    title="DNV-RP-B401, Cathodic protection design",
    year=2010,
    clause="6.4: breakdown a + b t, capped at 1, and its mean (6.4.2, 6.4.4, 6.4.5 were read as quoted; the mean was not)",
    basis="from_memory",
)
DNV_RP_B401_STAND_OFF = Reference(
    id="dnv-rp-b401-stand-off",
    title="DNV-RP-B401, Cathodic protection design",
    year=2010,
    clause="Table 10-7, notes: from 0.30 m of the steel; from 0.15 to 0.30 m the resistance is 1.3 times",
    basis="published",
)
MCCOY = Reference(
    id="mccoy-1970",
    title="J. E. McCoy, Corrosion control by cathodic protection: theoretical and design concepts, Trans. I. Mar. E. 82",
    year=1970,
    clause="R = 0.315 rho / sqrt(A): empirical, near a disc free on both faces (sqrt(2 pi) / 8 = 0.313)",
    basis="from_memory",
)
MIL_HDBK_1004_10 = Reference(
    id="mil-hdbk-1004-10",
    title="MIL-HDBK-1004/10, Electrical engineering: cathodic protection (reissued as UFC 3-570-02N)",
    year=1990,
    clause="Table 1, p. 20: bare steel in still fresh water takes 2 to 4 mA/ft2, in moving fresh water 4 to 6 mA/ft2",
    basis="published",
)
TB_43_0144 = Reference(
    id="tb-43-0144",
    title="US Army TB 43-0144, Painting of vessels",
    year=1990,
    clause="paragraph (7): two hull zincs for 400 ft2 of new paint, 200 ft2 of one-year paint or 100 ft2 of bare steel",
    basis="published",
)
ROBERGE = Reference(
    id="roberge-2008",
    title="P. R. Roberge, Corrosion Engineering: Principles and Practice",
    year=2008,
    clause="p. 554-555: magnesium anodes, -1.45 V CSE (standard alloy), 1100 Ah/kg at 50 % efficiency",
    basis="published",
)
FARADAY = Reference(
    id="faraday",
    title="CODATA Faraday constant and IUPAC atomic masses",
    year=2018,
    clause="capacity = z F / M: zinc 820, aluminium 2980, magnesium 2205 Ah/kg",
    basis="published",
)
EN_12473_ELECTRODES = Reference(
    id="en-12473-electrodes",
    title="EN 12473, General principles of cathodic protection in seawater",
    year=2014,
    clause="reference electrodes: potentials against the standard hydrogen electrode",
    basis="from_memory",
)
EN_12473_CRITERIA = Reference(
    id="en-12473-criteria",
    title="EN 12473, General principles of cathodic protection in seawater",
    year=2014,
    clause="Table 1: carbon steel in sea water, -0.80 to -1.10 V against silver/silver chloride",
    basis="from_memory",
)
UFC_3_570_06 = Reference(
    id="ufc-3-570-06-criteria",
    title="UFC 3-570-06, Operation and maintenance: cathodic protection systems",
    year=2003,
    clause="6-3.1.2: steel in soil and fresh water, -0.85 V polarised, against copper/copper sulphate",
    basis="published",
)
EN_12954_SULPHATE_REDUCERS = Reference(
    id="en-12954-sulphate-reducers",
    title="EN 12954, Cathodic protection of buried or immersed metallic structures",
    year=2001,
    clause="anaerobic conditions with sulphate-reducing bacteria: -0.95 V against copper/copper sulphate",
    basis="from_memory",
)
PSS_78 = Reference(
    id="pss-78",
    title="UNESCO Technical Papers in Marine Science 44, Algorithms for computation of fundamental properties of seawater",
    year=1983,
    clause="practical salinity scale 1978: salinity from conductivity ratio and temperature, 2 to 42",
    basis="from_memory",
)
STANDARD_METHODS_2510 = Reference(
    id="standard-methods-2510",
    title="Standard Methods for the Examination of Water and Wastewater, 2510 B",
    year=2005,
    clause="conductivity at 25 C = conductivity / (1 + 0.0191 (t - 25))",
    basis="from_memory",
)
ANODE_PRACTICE = Reference(
    id="anode-practice",
    title="How anodes are chosen and placed on inland boats",
    year=None,
    clause="reach seven times the length each way, every four metres; magnesium fresh, zinc and aluminium below about 2 ohm m",
    basis="common_practice",
)
WATERS_PRACTICE = Reference(
    id="waters-practice",
    title="What is taken for a kind of water where nobody measured it",
    year=None,
    clause="sea salinity 35, brackish 5; fresh 10 to 100 ohm m (1000 to 100 uS/cm), 50 ohm m; 10 C",
    basis="common_practice",
)

STEEL_DENSITY = Reference(
    id="steel-density",
    title="EN 10029 and EN 1991-1-1: nominal density of steel plate",
    year=2002,
    clause="7850 kg/m3: 7.85 kg for each m2 and mm",
    basis="from_memory",
)
WATER_DENSITY = Reference(
    id="water-density",
    title="C. B. Barrass and D. R. Derrett, Ship Stability for Masters and Mates",
    year=2012,
    clause="fresh water 1000, sea water 1025 kg/m3, dock water between them (1010 is taken for brackish)",
    basis="from_memory",
)
INITIAL_STABILITY = Reference(
    id="initial-stability",
    title="C. B. Barrass and D. R. Derrett, Ship Stability for Masters and Mates",
    year=2012,
    clause="tonnes per centimetre, moment to trim one centimetre, list = atan(moment / (displacement x GM)); small angles",
    basis="from_memory",
)
HULL_FORM_PRACTICE = Reference(
    id="hull-form-practice",
    title="What is taken for an inland hull whose lines nobody drew",
    year=None,
    clause="waterplane 0.9 and volume 0.75 of the box; flotation amidships; bottom plate at half the half beam; corner lowest",
    basis="common_practice",
)
REPAIR_PRACTICE = Reference(
    id="repair-practice",
    title="Pit welding, overplating, and cropping and renewing: when each suits; no publication limits overplating",
    year=None,
    clause="cause cured first; edges welded all round to sound plate that was measured",
    basis="common_practice",
)
FREEBOARD_PRACTICE = Reference(
    id="freeboard-practice",
    title="How near the water the lowest opening of an inland boat may come; no authority for it was found",
    year=None,
    clause="150 mm calls for action, 250 mm for watching",
    basis="common_practice",
)

ANODE_CONTINUITY = Reference(
    id="anode-continuity",
    title="DNV-RP-B401, Cathodic protection design",
    year=2010,
    clause="electrical continuity: at most 0.1 ohm between anode and structure",
    basis="from_memory",
)
HULL_POTENTIAL_PRACTICE = Reference(
    id="hull-potential-practice",
    title="How hull potentials are read, and what a reading cannot be",
    year=None,
    clause="shore power disconnected; steel in water between -0.2 and -2.0 V against copper/copper sulphate",
    basis="common_practice",
)

PIT_SHAPE_PRACTICE = Reference(
    id="pit-shape-practice",
    title="Surveyors read narrow, round, deep pits as galvanic or electrolytic, wide, irregular, shallow ones as microbial",
    year=None,
    clause="a shape is a pointer, never a proof",
    basis="common_practice",
)
DEPOSIT_COLOUR_PRACTICE = Reference(
    id="deposit-colour-practice",
    title="Surveyors read bright silvery patches as acid producers, yellow-brown ones as iron oxidisers",
    year=None,
    clause="no publication was found for reading a colour so; colour alone decides nothing",
    basis="common_practice",
)
TUBERCLE_PRACTICE = Reference(
    id="tubercle-practice",
    title="Tubercles on inland hulls: brown outside, black and magnetic inside, about 30 a square metre, 30 to 100 mm",
    year=None,
    clause="over 100 mm across too, pits to 5 mm and deeper beneath; blast to Sa 2 1/2 and two-pack epoxy",
    basis="common_practice",
)
GALVANIC_PRACTICE = Reference(
    id="galvanic-practice",
    title="Dissimilar metals at propeller and shaft explain attack aft; a shore lead's earth joins a hull to its neighbours",
    year=None,
    clause="galvanic isolator or isolating transformer, anodes that suit the water",
    basis="common_practice",
)
STRAY_CURRENT_PRACTICE = Reference(
    id="stray-current-practice",
    title="True stray current is rare, local and fast: clean sharp-edged pits, often below a pump or wiring",
    year=None,
    clause="current from outside does not normally leave through pits on the inside: steel leads far better than water",
    basis="common_practice",
)
CREVICE_PRACTICE = Reference(
    id="crevice-practice",
    title="Differential aeration: a broad band at the water line, under debris, in laps, crevices and under lifted films",
    year=None,
    clause="steel that gets less oxygen than the steel beside it is attacked",
    basis="common_practice",
)
GENERAL_CORROSION_PRACTICE = Reference(
    id="general-corrosion-practice",
    title="General corrosion thins bare plate evenly under loose rust; sound paint keeps it off",
    year=None,
    clause="what is left when nothing local is seen",
    basis="common_practice",
)
MECHANICAL_PRACTICE = Reference(
    id="mechanical-practice",
    title="Scrapes and groundings leave scored, burred metal on edges and where the hull touched",
    year=None,
    clause="found with what the boat struck",
    basis="common_practice",
)
ALWC_2004 = Reference(
    id="alwc-2004",
    title="Accelerated low water corrosion, Anti-Corrosion Methods and Materials 51(1), 197",
    year=2004,
    clause="orange layer over black sludge, bright pitted steel beneath, bad eggs when acid is added; ten times the usual rate",
    basis="published",
)
ALWC_PORTS = Reference(
    id="alwc-ports",
    title="Kumar and Stephenson, accelerated low water corrosion, Port Technology, edition 32",
    year=None,
    clause="clean corroding steel under orange and black products; sulphide oxidisers make sulphuric acid",
    basis="published",
)
ALWC_RATE = Reference(
    id="alwc-rate",
    title="PIANC MarCom working group 44, Accelerated low water corrosion",
    year=2005,
    clause="0.5 mm a year and more",
    basis="from_memory",
)
FRESH_WATER_TUBERCLES = Reference(
    id="ray-lee-little-2009",
    title="Ray, Lee and Little, iron-oxidising bacteria in a fresh-water harbour, Corrosion 65(11), 707-717",
    year=2009,
    clause="tubercles of bacterial remains and ferric oxide, reducing beneath; copper plated out; large shallow craters",
    basis="published",
)
IRON_OXIDISERS = Reference(
    id="little-2019",
    title="Little et al., iron-oxidising bacteria and corrosion, Corrosion 75(1), 6",
    year=2019,
    clause="dense deposits act by under-deposit corrosion; once begun it goes on without the organism",
    basis="published",
)
TUBERCLE_ANATOMY = Reference(
    id="tubercle-anatomy",
    title="Anatomy of tubercles, Applied Sciences 14(16), 7189",
    year=2024,
    clause="loose surface, thin dense shell, loose core, corroding base; the fluid of the cavity is acid",
    basis="published",
)
TUBERCLE_MINERALS = Reference(
    id="gerke-2008",
    title="Gerke, Maynard, Schock and Lytle, tubercles, Corrosion Science 50, 2030-2039",
    year=2008,
    clause="goethite, lepidocrocite and magnetite in every tubercle; core soft brown with black veins, or hard black",
    basis="published",
)
SULPHIDE_FILMS = Reference(
    id="alabbas-2013",
    title="AlAbbas et al., sulphate reducers on line-pipe steel, J. Mater. Eng. Perform., doi 10.1007/s11665-013-0627-7",
    year=2013,
    clause="iron sulphide in the film, local attack beneath it",
    basis="published",
)
MIC_BOOK = Reference(
    id="little-lee-2007",
    title="Little and Lee, Microbiologically Influenced Corrosion",
    year=2007,
    clause="cups within cups, striations, tunnels: not conclusive on their own",
    basis="from_memory",
)
ACID_PRODUCERS = Reference(
    id="kelly-wood-2000",
    title="Kelly and Wood, reclassification of some species of Thiobacillus, IJSEM 50, 511-516",
    year=2000,
    clause="Acidithiobacillus ferrooxidans lives in acid (pH about 1.3 to 4.5); not to be expected in neutral open water",
    basis="from_memory",
)
ASTM_G82 = Reference(
    id="astm-g82",
    title="ASTM G82, Guide for development and use of a galvanic series for predicting galvanic corrosion performance",
    year=1998,
    clause="attack nearest the nobler metal, worst where its area is large beside the steel's",
    basis="from_memory",
)
NACE_TM0212 = Reference(
    id="nace-tm0212",
    title="NACE TM0212, Detection, testing and evaluation of microbiologically influenced corrosion",
    year=2018,
    clause="biological, chemical and metallurgical evidence together; cultures by NACE TM0194 and ASTM D4412",
    basis="from_memory",
)
ISO_13297 = Reference(
    id="iso-13297",
    title="ISO 13297, Small craft: electrical systems, alternating and direct current installations",
    year=2020,
    clause="6.9, a galvanic isolator's failure shall not open the protective conductor",
    basis="published",
)
MIC_TREATMENT_PRACTICE = Reference(
    id="mic-treatment-practice",
    title="Microbiological attack is washed, treated with one biocide, rinsed, tested for salt, dried and coated",
    year=None,
    clause="sodium hypochlorite or at least 70 % isopropyl alcohol, never both; at least four coats or 250 um",
    basis="common_practice",
)
HYPOCHLORITE = Reference(
    id="hypochlorite-water-only",
    title="Sodium hypochlorite is mixed with water only: with acid, ammonia or alcohol it gives off poisonous gas",
    year=None,
    clause="the product's label gives strength and contact time",
    basis="common_practice",
)
ISO_8501_1 = Reference(
    id="iso-8501-1",
    title="ISO 8501-1, Preparation of steel substrates before application of paints: visual assessment of cleanliness",
    year=2007,
    clause="St 3 by power tool; Sa 2 1/2, very thorough blast-cleaning",
    basis="from_memory",
)
ISO_8502_6 = Reference(
    id="iso-8502-6",
    title="ISO 8502-6, Preparation of steel substrates: extraction of water-soluble contaminants for analysis",
    year=2020,
    clause="patch on the steel; the conductivity of the water by ISO 8502-9",
    basis="from_memory",
)
IMO_PSPC = Reference(
    id="imo-pspc",
    title="IMO resolution MSC.215(82), Performance standard for protective coatings",
    year=2006,
    clause="water-soluble salts at most 50 mg/m2 as sodium chloride before coating",
    basis="published",
)
ISO_3233 = Reference(
    id="iso-3233-1",
    title="ISO 3233-1, Paints and varnishes: percentage volume of non-volatile matter",
    year=2019,
    clause="volume solids: the share of a wet film that remains as dry film",
    basis="from_memory",
)
ISO_19840 = Reference(
    id="iso-19840",
    title="ISO 19840, Corrosion protection of steel structures: measurement of, and acceptance criteria for, dry films",
    year=2012,
    clause="readings of the dry film on rough surfaces",
    basis="from_memory",
)
COATING_PRACTICE = Reference(
    id="coating-practice",
    title="Paint for a hull under water, where no data sheet was sent: 60 % volume solids, 30 % lost on the way",
    year=None,
    clause="few paints hold a wet film over 500 um; the data sheet decides",
    basis="common_practice",
)

REFERENCES = {record.id: record for record in tuple(globals().values()) if isinstance(record, Reference)}
