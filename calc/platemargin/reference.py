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

REFERENCES = {record.id: record for record in tuple(globals().values()) if isinstance(record, Reference)}
