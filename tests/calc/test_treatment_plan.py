"""Steps in the right order for every combination of forms, a caution for everything that can hurt, and the paint."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from platemargin.attack_evidence import FORMS
from platemargin.declared import filled
from platemargin.errors import NotApplicableError
from platemargin.treatment_plan import AGENTS, FINDINGS, treatment_plan
from platemargin.treatment_steps import HAZARD_CAUTIONS, MICROBIOLOGICAL, STEPS

FORM_SETS = [*itertools.combinations(FORMS, 1), *itertools.combinations(FORMS, 2), FORMS]
of_every_form_set = pytest.mark.parametrize("forms", FORM_SETS, ids="+".join)

#: The order of the work, as the trade does it: the cause, the steel, the film. Stated here anew.
ORDER = (
    "make_safe",
    "stop_the_current",
    "isolate_from_shore",
    "sample",
    "anodes",
    "let_the_air_in",
    "look_for_damage",
    "wash",
    "read_plate",
    "biocide",
    "rinse",
    "salt_test",
    "dry",
    "blast",
    "power_tool",
    "coat",
    "check_film",
    "read_again",
)


def plan(*forms, area_m2=30.0, **more):
    return treatment_plan(forms=list(forms), area_m2=area_m2, **more)


def ids(result):
    return [step.id for step in result.steps]


# Order


@of_every_form_set
def test_the_steps_stand_in_the_order_of_the_work_and_are_numbered(forms):
    found = ids(plan(*forms))
    assert found == [step for step in ORDER if step in found]
    assert [step.order for step in plan(*forms).steps] == list(range(1, len(found) + 1))


def test_a_sample_is_taken_before_anything_is_opened_or_washed():
    """What is aired, welded beside or washed is no fresh deposit any more."""
    found = ids(plan(*FORMS))
    assert all(found.index("sample") < found.index(step) for step in ("anodes", "let_the_air_in", "wash", "biocide"))


@pytest.mark.parametrize(("agent", "told"), [("sodium_hypochlorite", True), (None, True), ("isopropyl_alcohol", False)])
def test_alcohol_leaves_no_chloride_to_rinse_away(agent, told):
    (rinse,) = [
        step for step in plan("iron_oxidising", biocide={"agent": agent} if agent else None).steps if step.id == "rinse"
    ]
    assert ("chloride" in rinse.action) == told
    assert "acid" in rinse.action


@of_every_form_set
def test_a_combined_plan_has_each_forms_steps_once(forms):
    """But one grade of preparation: the higher."""
    together = ids(plan(*forms))
    single = {step for form in forms for step in ids(plan(form))}
    assert len(set(together)) == len(together)
    expected = single - ({"power_tool"} if "blast" in single else set())
    assert set(together) == expected


@of_every_form_set
def test_the_order_in_which_forms_are_named_never_matters(forms):
    assert plan(*reversed(forms)) == plan(*forms)


@of_every_form_set
def test_the_cause_comes_before_the_coat(forms):
    found = ids(plan(*forms))
    causes = {"stop_the_current", "isolate_from_shore", "anodes", "let_the_air_in", "look_for_damage", "biocide"} & set(found)
    assert causes
    assert all(found.index(cause) < found.index("coat") for cause in causes)
    prepared = ["wash", "rinse", "salt_test", "dry", "blast" if "blast" in found else "power_tool", "coat", "check_film"]
    if not set(forms) & set(MICROBIOLOGICAL):
        prepared.remove("rinse")
    assert [step for step in found if step in prepared] == prepared
    assert ("biocide" in found) == bool(set(forms) & set(MICROBIOLOGICAL))
    if "biocide" in found:
        assert found.index("wash") < found.index("biocide") < found.index("rinse") < found.index("salt_test")


@pytest.mark.parametrize(
    ("form", "steps"),
    [
        ("electrolytic", {"stop_the_current", "isolate_from_shore", "anodes"}),
        ("galvanic", {"isolate_from_shore", "anodes"}),
        ("tubercles", {"let_the_air_in", "sample"}),
        ("differential_aeration", {"let_the_air_in"}),
        ("mechanical", {"look_for_damage", "power_tool"}),
        *((form, {"biocide", "sample"}) for form in MICROBIOLOGICAL),
    ],
)
def test_each_form_has_what_its_cause_asks_for(form, steps):
    assert steps <= set(ids(plan(form)))


@of_every_form_set
def test_the_grade_is_the_highest_that_a_form_asks_for(forms):
    result = plan(*forms)
    assert result.surface_grade == ("St 3" if forms == ("mechanical",) else "Sa 2 1/2")
    (preparing,) = [step for step in result.steps if step.id in ("blast", "power_tool")]
    assert preparing.standard == f"ISO 8501-1, {result.surface_grade}"


# Cautions

#: What each step must warn of, in words that its cautions hold. Stated here anew, from what can hurt in it.
WARNED_OF = {
    "make_safe": ("shored", "shore power", "gas"),
    "stop_the_current": ("marine electrician",),
    "isolate_from_shore": ("marine electrician", "never cut"),
    "anodes": ("Hot work", "fuel, gas", "isolation"),
    "let_the_air_in": ("Enclosed spaces",),
    "look_for_damage": ("shored",),
    "sample": ("gloves",),
    "wash": ("High-pressure", "thin plate", "local rules", "Not every yard"),
    "read_plate": ("shored", "Hot work", "Fuel and gas"),
    "biocide": (
        "never both",
        "water only",
        "highly flammable",
        "Respiratory protection",
        "Enclosed spaces",
        "local rules",
        "Not every yard",
    ),
    "rinse": ("local rules",),
    "salt_test": ("shored",),
    "dry": ("Enclosed spaces", "Fuel and gas"),
    "blast": (
        "Respiratory protection",
        "thin plate",
        "shored",
        "Hot work",
        "Fuel and gas",
        "Enclosed spaces",
        "local rules",
        "Not every yard",
    ),
    "power_tool": ("Hot work", "Respiratory protection"),
    "coat": ("sensitise", "Respiratory protection", "Enclosed spaces", "local rules"),
    "check_film": ("shored",),
    "read_again": ("marine electrician",),
}


@of_every_form_set
def test_every_step_warns_of_what_can_hurt_in_it(forms):
    for step in plan(*forms).steps:
        told = " ".join(step.cautions)
        assert [words for words in WARNED_OF[step.id] if words not in told] == [], step.id


def test_every_caution_is_used_and_every_step_can_be_reached():
    assert {hazard for step in STEPS for hazard in step.hazards} == set(HAZARD_CAUTIONS)
    assert {step for forms in FORM_SETS for step in ids(plan(*forms))} == {step.id for step in STEPS} == set(ORDER)


# The biocide


@pytest.mark.parametrize("form", MICROBIOLOGICAL)
@pytest.mark.parametrize("agent", [*AGENTS, None])
def test_one_biocide_and_never_both(form, agent):
    (step,) = [one for one in plan(form, biocide=agent and {"agent": agent}).steps if one.id == "biocide"]
    told = " ".join(step.cautions)
    assert "ONE biocide" in step.action
    assert "never both" in told
    assert ("hypochlorite" in step.action) == (agent != "isopropyl_alcohol")
    assert ("at least 70 %" in step.action) == (agent != "sodium_hypochlorite")
    assert ("water only" in told) == (agent != "isopropyl_alcohol")
    assert ("flammable" in told) == (agent != "sodium_hypochlorite")


def test_the_label_decides_the_contact_time():
    """Null unless the request gives the label's; of the biocide's step alone."""
    for minutes in (None, 15.0):
        steps = plan("acid_producing", biocide={"agent": "isopropyl_alcohol", "contact_minutes": minutes}).steps
        assert {step.id: step.contact_minutes for step in steps if step.contact_minutes is not None} == (
            {} if minutes is None else {"biocide": 15.0}
        )


def codes(**arguments):
    whole = {"coating": None, "biocide": None, "ashore": None, **arguments}
    result = treatment_plan(**whole)
    found = {}
    for finding in FINDINGS:
        for place in finding.applies(whole, result):
            found[finding.code] = filled(finding.statement, place.values)
    return found


@pytest.mark.parametrize(("percent", "weak"), [(69.9, True), (69.996, False), (70.0, False), (99.0, False), (None, False)])
def test_alcohol_below_seventy_percent_is_told(percent, weak):
    biocide = {"agent": "isopropyl_alcohol", "concentration_percent": percent}
    found = codes(forms=["iron_oxidising"], area_m2=5.0, biocide=biocide)
    assert ("alcohol_too_weak" in found) == weak
    hypochlorite = {"agent": "sodium_hypochlorite", "concentration_percent": 1.0}
    assert "alcohol_too_weak" not in codes(forms=["iron_oxidising"], area_m2=5.0, biocide=hypochlorite)


@pytest.mark.parametrize(("form", "unused"), [("galvanic", True), ("sulphate_reducing", False)])
def test_a_biocide_where_nothing_lives_is_told_to_be_unused(form, unused):
    assert ("biocide_without_bacteria" in codes(forms=[form], area_m2=5.0, biocide={"agent": "isopropyl_alcohol"})) == unused


# Afloat


@of_every_form_set
def test_afloat_nothing_that_needs_dry_steel_is_done(forms):
    result = plan(*forms, ashore=False)
    dry = {"wash", "biocide", "rinse", "salt_test", "dry", "blast", "power_tool", "coat", "check_film", "read_plate"}
    assert not dry & {step.id for step in result.steps if step.afloat_possible}
    wait = sum(not step.afloat_possible for step in result.steps)
    found = codes(forms=list(forms), area_m2=30.0, ashore=False)
    assert f"{wait} of the {len(result.steps)} steps wait" in found["afloat"]
    assert "afloat" not in codes(forms=list(forms), area_m2=30.0, ashore=True)
    assert "ashore_not_stated" in codes(forms=list(forms), area_m2=30.0)


# The paint


def coating(**values):
    return {"dry_film_um": 250.0, "coats": 4, "volume_solids_percent": 80.0, "loss_percent": 20.0, **values}


@pytest.mark.parametrize(
    ("area_m2", "paint", "litres", "wet_um"),
    [
        # By hand: 30 m2 x 250 um = 7.5 litres dry; / 0.8 = 9.375 litres wet; / 0.8 = 11.71875 litres bought. 62.5 / 0.8 um wet.
        (30.0, coating(), 11.71875, 78.125),
        # 10 m2 of 100 um at 100 % solids, nothing lost: a litre; two coats of 50 um.
        (10.0, coating(dry_film_um=100.0, coats=2, volume_solids_percent=100.0, loss_percent=0.0), 1.0, 50.0),
        # 100 m2 x 300 um = 30 litres dry; / 0.5 = 60; / 0.6 = 100. 300 / 3 / 0.5 = 200 um.
        (100.0, coating(dry_film_um=300.0, coats=3, volume_solids_percent=50.0, loss_percent=40.0), 100.0, 200.0),
        # The defaults: 28 m2 x 250 um = 7 litres dry; / 0.6 / 0.7 = 16.6667; 62.5 / 0.6 = 104.1667 um.
        (28.0, None, 16.6666667, 104.1666667),
    ],
)
def test_the_paint_is_what_a_hand_calculation_gives(area_m2, paint, litres, wet_um):
    result = plan("general", area_m2=area_m2, coating=paint)
    assert result.paint_litres == pytest.approx(litres, rel=1e-8)
    assert result.wet_film_um == pytest.approx(wet_um, rel=1e-8)


paints = st.builds(
    coating,
    dry_film_um=st.floats(20, 3000),
    coats=st.integers(1, 12),
    volume_solids_percent=st.floats(10, 100),
    loss_percent=st.floats(0, 90),
)


@given(paints, st.floats(0.01, 5000))
def test_what_is_bought_less_losses_and_solvent_is_the_film(paint, area_m2):
    """Backwards: litres, less what is lost, less what evaporates, spread over the area, are the dry film; and so is the wet."""
    result = plan("general", area_m2=area_m2, coating=paint)
    dry_m3 = result.paint_litres * 1e-3 * (1 - paint["loss_percent"] / 100) * paint["volume_solids_percent"] / 100
    assert dry_m3 / area_m2 * 1e6 == pytest.approx(paint["dry_film_um"], rel=1e-9)
    dry_um = result.wet_film_um * paint["volume_solids_percent"] / 100 * paint["coats"]
    assert dry_um == pytest.approx(paint["dry_film_um"], rel=1e-9)
    assert plan("general", area_m2=2 * area_m2, coating=paint).paint_litres == pytest.approx(2 * result.paint_litres)


@given(paints)
def test_the_step_says_the_same_paint_as_the_result(paint):
    result = plan("tubercles", coating=paint)
    (step,) = [one for one in result.steps if one.id == "coat"]
    assert f"in {paint['coats']} coat{'s' if paint['coats'] > 1 else ''} to" in step.action
    assert (
        filled("{dry_film_um} um of dry film ({wet_film_um} um wet a coat, {paint_litres} litres", vars(result)) in step.action
    )
    assert "two-pack epoxy" in step.action


@pytest.mark.parametrize(
    ("paint", "below"),
    [
        ({"dry_film_um": 249.9, "coats": 3}, True),
        ({"dry_film_um": 249.96, "coats": 3}, False),
        ({"dry_film_um": 250.0, "coats": 1}, False),
        ({"dry_film_um": 120.0, "coats": 4}, False),
        ({"coats": 2}, False),
        ({"dry_film_um": 120.0}, False),
    ],
)
def test_less_than_four_coats_and_less_than_250_um_is_told(paint, below):
    assert ("coating_below_practice" in codes(forms=["tubercles"], area_m2=5.0, coating=paint)) == below


@pytest.mark.parametrize(("coats", "thick"), [(1, True), (2, False), (3, False)])
def test_a_wet_film_over_500_um_is_told(coats, thick):
    paint = coating(dry_film_um=500.0, coats=coats, volume_solids_percent=50.0)
    assert ("wet_film_thick" in codes(forms=["general"], area_m2=5.0, coating=paint)) == thick


def test_an_amount_that_rests_on_assumptions_says_so():
    assert "paint_is_an_estimate" in codes(forms=["general"], area_m2=5.0, coating={"volume_solids_percent": 70.0})
    assert "paint_is_an_estimate" not in codes(forms=["general"], area_m2=5.0, coating=coating())


def test_a_form_is_named_once():
    with pytest.raises(NotApplicableError, match="named twice"):
        plan("general", "galvanic", "general")
