"""The steps of treating attacked plate, in the order in which they are done, with the cautions of each hazard."""

from __future__ import annotations

from dataclasses import dataclass

from platemargin.attack_evidence import FORMS

__all__ = ["HAZARD_CAUTIONS", "MICROBIOLOGICAL", "STEPS", "SURFACE_GRADES", "TreatmentStep"]

MICROBIOLOGICAL = ("sulphate_reducing", "iron_oxidising", "acid_producing")
_ELECTRICAL = ("galvanic", "electrolytic")
_SHUT_OFF = ("differential_aeration", "tubercles")

#: Grades of preparation, the least first, and the grade that each form's treatment asks for. References: iso-8501-1,
#: tubercle-practice
SURFACE_GRADES = {
    "St 3": ("mechanical",),
    "Sa 2 1/2": tuple(form for form in FORMS if form != "mechanical"),
}

#: What is warned of, by hazard.
HAZARD_CAUTIONS = {
    "supports": "Hull supports: nobody works under a hull that is not safely shored, and no shore is moved without the yard.",
    "isolation": "Electrical isolation: shore power unplugged, batteries and inverter off, locked and labelled, before anyone "
    "works on the hull.",
    "electrician": "Shore power kills: only a qualified marine electrician opens its circuits, and its earth is never cut.",
    "fuel_and_gas": "Fuel and gas: close and vent them, and test for gas in the bilge before any spark or flame.",
    "hot_work": "Hot work (welding, grinding, burning) needs a permit, a fire watch, and what lies behind the plate cleared: "
    "fuel, gas, foam, linings and wiring.",
    "enclosed_space": "Enclosed spaces: tanks, bilges and tented hulls are entered only ventilated, tested for oxygen and gas, "
    "with somebody outside.",
    "water_jet": "High-pressure water cuts flesh and can hole thin plate: trained people, face and foot protection, and never "
    "at plate that is thin or weeping.",
    "growths": "Deposits may hold bacteria, old antifouling and hydrogen sulphide: gloves, goggles, and no dry scraping.",
    "hypochlorite": "Sodium hypochlorite is mixed with water only, never with acid, ammonia or alcohol, which makes poisonous "
    "gas; it burns eyes and skin and corrodes aluminium and stainless steel.",
    "alcohol": "Isopropyl alcohol is highly flammable: no spark, flame or hot work near it, and its vapour gathers in bilges.",
    "one_biocide": "One biocide or the other, never both, nor one after the other without rinsing.",
    "respiratory": "Respiratory protection that suits the dust, vapour or spray, with eye and skin protection: a paper mask is "
    "none.",
    "blasting": "Blasting can go through thin plate and carries old lead and antifouling in its dust: air-fed helmet, others "
    "kept away, and plate read first.",
    "paint": "Two-pack paints sensitise skin and lungs, and their solvents burn and explode: ventilation, gloves, no ignition.",
    "run_off": "Run-off, dust and old paint are caught and disposed of by local rules, never into the water or a drain.",
    "yard": "Not every yard may or will do this: ask it, and the local authority, first.",
}


@dataclass(frozen=True, kw_only=True)
class TreatmentStep:
    """One step: the forms that ask for it, what is done, by which standard, and what can hurt.

    `contact` marks the step whose duration the product's label decides, `ashore` one that is done out of the water only,
    `grade` one that is for that grade of preparation.
    """

    id: str
    action: str
    hazards: tuple[str, ...]
    forms: tuple[str, ...] = FORMS
    standard: str | None = None
    contact: bool = False
    ashore: bool = True
    grade: str | None = None


#: In order: safety, what has to be seen before anything is touched, the cause, the steel, the film.
#: References: mic-treatment-practice, tubercle-practice, galvanic-practice, stray-current-practice, crevice-practice,
#: mechanical-practice
STEPS = (
    TreatmentStep(
        id="make_safe",
        action="Make it safe to work: hull shored where it is ashore, shore power and batteries isolated, fuel and gas closed.",
        hazards=("supports", "isolation", "fuel_and_gas"),
        ashore=False,
    ),
    TreatmentStep(
        id="stop_the_current",
        action="Have the stray current found and stopped: each pump, lead and charger in turn, and the shore lead's earth.",
        standard="ISO 13297",
        hazards=("electrician", "isolation"),
        forms=("electrolytic",),
        ashore=False,
    ),
    TreatmentStep(
        id="isolate_from_shore",
        action="Check bonding and isolation: a galvanic isolator or isolating transformer in the shore lead, the metals at "
        "propeller and shaft, continuity to the anodes.",
        standard="ISO 13297, 6.9",
        hazards=("electrician", "isolation"),
        forms=_ELECTRICAL,
        ashore=False,
    ),
    TreatmentStep(
        id="sample",
        action="Take samples of fresh deposit before it is washed away, where the cause has to be proved.",
        standard="NACE TM0212",
        hazards=("growths",),
        forms=(*MICROBIOLOGICAL, "tubercles"),
    ),
    TreatmentStep(
        id="anodes",
        action="Check the anodes: number, place, material that suits the water, what is left, continuity; have those "
        "that are welded on welded before blasting and coating, and paint none of them.",
        hazards=("hot_work", "fuel_and_gas", "isolation"),
        forms=tuple(form for form in FORMS if form != "mechanical"),
    ),
    TreatmentStep(
        id="let_the_air_in",
        action="Take away what shuts the oxygen out: debris, standing water, lifted film; open laps and crevices.",
        hazards=("enclosed_space", "growths"),
        forms=_SHUT_OFF,
    ),
    TreatmentStep(
        id="look_for_damage",
        action="Look for cracks and dents from both sides, and mark where the hull rubs.",
        hazards=("supports", "enclosed_space"),
        forms=("mechanical",),
    ),
    TreatmentStep(
        id="wash",
        action="Wash under high pressure with fresh water; take deposits and tubercles off down to the base.",
        hazards=("water_jet", "growths", "run_off", "yard"),
    ),
    TreatmentStep(
        id="read_plate",
        action="Read plate and pits on bare steel, and have plate that breaks a limit made good, before anything covers it.",
        hazards=("supports", "hot_work", "fuel_and_gas"),
    ),
    TreatmentStep(
        id="biocide",
        action="Treat with ONE biocide, {agent}, wet for as long as its label says.",
        hazards=("one_biocide", "hypochlorite", "alcohol", "respiratory", "enclosed_space", "run_off", "yard"),
        forms=MICROBIOLOGICAL,
        contact=True,
    ),
    TreatmentStep(
        id="rinse",
        action="Rinse with plenty of fresh water{why_rinsed}; where acid was found, until the water is no longer acid.",
        hazards=("run_off",),
        forms=MICROBIOLOGICAL,
    ),
    TreatmentStep(
        id="salt_test",
        action="Test the steel for soluble salts, in the pits too, and wash again until it holds at most "
        "{salt_limit_mg_per_m2} mg/m2 (as sodium chloride).",
        standard="IMO MSC.215(82); ISO 8502-6 and ISO 8502-9",
        hazards=("supports",),
    ),
    TreatmentStep(
        id="dry",
        action="Dry the steel, and keep it at least 3 degrees C above the dew point until it is coated.",
        standard="ISO 8502-4",
        hazards=("enclosed_space", "fuel_and_gas"),
    ),
    TreatmentStep(
        id="blast",
        action="Blast-clean to Sa 2 1/2, into the pits; remove the dust; test for salt again.",
        standard="ISO 8501-1, Sa 2 1/2",
        hazards=("blasting", "respiratory", "supports", "hot_work", "fuel_and_gas", "enclosed_space", "run_off", "yard"),
        grade="Sa 2 1/2",
    ),
    TreatmentStep(
        id="power_tool",
        action="Fair the edges and clean the place by power tool to St 3.",
        standard="ISO 8501-1, St 3",
        hazards=("hot_work", "fuel_and_gas", "respiratory", "supports", "run_off"),
        grade="St 3",
    ),
    TreatmentStep(
        id="coat",
        action="Coat in {coat_count} to {dry_film_um} um of dry film ({wet_film_um} um wet a coat, {paint_litres} litres in "
        "all){paint_kind}, the first before the steel turns; stripe edges, welds and pits first.",
        standard="the paint's data sheet",
        hazards=("paint", "respiratory", "enclosed_space", "supports", "run_off"),
    ),
    TreatmentStep(
        id="check_film",
        action="Measure the dry film, look for holidays, make them good, and let it cure as the data sheet says before "
        "refloating.",
        standard="ISO 19840",
        hazards=("supports",),
    ),
    TreatmentStep(
        id="read_again",
        action="Keep the record, read the same places again at the next docking, and measure the hull's potential afloat.",
        hazards=("electrician",),
        ashore=False,
    ),
)
