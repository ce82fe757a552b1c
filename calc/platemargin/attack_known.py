"""What would confirm each form of attack, how it is treated, and what an observation is asked for in words."""

from __future__ import annotations

__all__ = ["CONFIRMING_TESTS", "QUESTIONS", "TREATMENTS"]

_POTENTIAL_SURVEY = (
    "Hull potential along both sides with a high-impedance voltmeter (silver chloride electrode in the sea, copper sulphate in "
    "fresh water), shore power connected and disconnected."
)
_EARTH_LEAD = "Direct current in the shore lead's earth, by a qualified marine electrician."
_THREE_KINDS = "Biological, chemical and metallurgical evidence together (NACE TM0212): none of them alone tells it."
_SULPHIDE = "Sulphide in fresh deposit: a drop of acid and lead acetate paper, in the open air and out of the breath."
_PH = "pH of the fresh deposit and of the fluid beneath it."

#: References: nace-tm0212, little-lee-2007
CONFIRMING_TESTS = {
    "general": (
        "Plate readings over the whole zone: even loss with little between mean and thinnest.",
        "Pitting factor of the zone (ASTM G46): near 1 where the loss is general.",
    ),
    "galvanic": (
        _POTENTIAL_SURVEY,
        "Continuity between hull, anodes, propeller and shaft.",
        _EARTH_LEAD,
    ),
    "electrolytic": (
        _POTENTIAL_SURVEY,
        "Leakage from the boat's own circuits to the hull, each pump and lead in turn, by a qualified marine electrician.",
        _EARTH_LEAD,
    ),
    "sulphate_reducing": (
        _SULPHIDE,
        "Culture by serial dilution (NACE TM0194, ASTM D4412), ATP or qPCR of fresh deposit.",
        _THREE_KINDS,
    ),
    "iron_oxidising": (
        "Twisted or sheathed bacterial remains in the deposit under a microscope; qPCR.",
        "Composition of the deposit (X-ray diffraction, energy-dispersive X-rays): ferric oxide with bacterial remains.",
        _THREE_KINDS,
    ),
    "acid_producing": (
        _PH,
        "Culture or qPCR for acid producers; sulphate and organic acids in the deposit.",
        _THREE_KINDS,
    ),
    "tubercles": (
        "Take a tubercle off whole: crust, dense shell, soft or hard core, corroding base; measure the pit beneath.",
        "A magnet on the core; X-ray diffraction: goethite, lepidocrocite and magnetite.",
        _PH,
    ),
    "differential_aeration": (
        "Lift the deposit, film or lap: attack beneath it and sound steel beside it.",
        "Whether the attack follows the water line or the edge of the deposit on both sides of the boat.",
    ),
    "mechanical": (
        "The marks against what the boat struck or lay on, and against the other side.",
        "Cracks by dye penetrant and dents from inside: plate may be hurt beyond the mark.",
    ),
}

#: References: mic-treatment-practice, tubercle-practice, galvanic-practice, stray-current-practice
TREATMENTS = {
    "general": "Clean to bright steel and coat; keep the coating and the anodes up.",
    "galvanic": "Break or balance the couple first: isolation from shore, bonding, fitting anodes; then clean and coat.",
    "electrolytic": "Find and stop the current first, by a qualified marine electrician; check isolation and anodes; then "
    "clean and coat.",
    "sulphate_reducing": "Wash under high pressure, one biocide, rinse, test for salt, dry, blast, and coat with at least four "
    "coats or 250 um.",
    "iron_oxidising": "Take the deposits off, wash under high pressure, one biocide, rinse, test for salt, dry, blast, and "
    "coat with at least four coats or 250 um.",
    "acid_producing": "Wash under high pressure, one biocide, rinse until the water is no longer acid, test for salt, dry, "
    "blast, and coat with at least four coats or 250 um.",
    "tubercles": "Take them off to the base, measure the pits, blast to Sa 2 1/2, and coat with two-pack epoxy.",
    "differential_aeration": "Take away what shuts the oxygen out: deposits, debris, standing water, lifted film, open laps; "
    "then clean and coat.",
    "mechanical": "Look for cracks and dents, fair the edges, make the coating good, and protect where it rubs.",
}

#: What to look for, by observation; the easiest to make come first.
QUESTIONS = {
    "pits.deposit": "what lies over the pits",
    "pits.location": "where on the hull the pits are",
    "pits.profile": "whether the pits are narrow and deep or wide and shallow",
    "pits.outline": "whether the pits are round",
    "pits.edge": "whether the edges of the pits are sharp, rounded or burred",
    "pits.texture": "what the floor of the pits looks like: cups within cups, striations, scores",
    "pits.distribution": "how the attack is spread: even, in a band, scattered, or at one place",
    "pits.surface_under_deposit": "whether the steel under the deposit is bright, black or rusted",
    "pits.smell": "whether fresh deposit smells of bad eggs, with and without a drop of acid",
    "pits.face": "whether the pits are on the outside or the inside",
    "tubercles.seen": "whether there are tubercles",
    "tubercles.core_magnetic": "whether a magnet draws the core of a tubercle",
    "tubercles.pit_depth_mm": "how deep the pits under the tubercles are",
    "setting.thinning": "whether the plate is thinned evenly or only at places",
    "setting.scraped_or_grounded": "whether the boat scraped or took the ground here",
    "setting.dissimilar_metals_near": "whether a nobler metal is near",
    "setting.paint_condition": "whether the paint is sound, damaged or worn off",
    "setting.anode_wear": "how fast the anodes are used up",
    "setting.anodes_fitted": "whether anodes are fitted",
    "setting.shore_power": "whether the boat lies on shore power",
    "setting.galvanic_isolator": "whether a galvanic isolator or isolating transformer is fitted",
    "setting.stray_current_source_near": "whether a source of stray current is near",
    "pits.deposit_ph": "the pH of fresh deposit",
    "tests.sulphide_in_deposit": "whether fresh deposit holds sulphide",
    "tests.shore_power_shifts_potential": "whether the hull's potential moves when shore power is connected",
    "tests.dc_in_earth_lead": "whether direct current flows in the earth lead",
    "tests.dc_leakage_to_hull": "whether the boat's own circuits leak direct current to the hull",
    "tests.bacteria_found": "which bacteria are in fresh deposit",
}
