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
