"""What publications and the trade say of forms of attack and their treatment, as the calculations answer it."""

import pytest

from platemargin.attack_evidence import DIFFERENCES
from platemargin.attack_form import attack_form
from platemargin.treatment_plan import treatment_plan


def standings(**observed):
    return {candidate.form: candidate for candidate in attack_form(**observed).candidates}


def test_low_water_corrosion_is_sulphate_reducers():
    """Anti-Corrosion Methods and Materials 51(1), 197 (2004), read: orange over black sludge, bright pitted steel beneath, bad
    eggs when acid is added.
    """
    picture = {"deposit": "orange_over_black", "surface_under_deposit": "bright", "smell": "bad_eggs_with_acid"}
    first = attack_form(pits=[picture]).candidates[0]
    assert (first.form, first.standing) == ("sulphate_reducing", "consistent")
    assert sum("alwc-2004, published" in reason for reason in first.reasons_for) == 3


def test_fresh_water_tubercles_over_shallow_craters_are_iron_oxidisers():
    """Ray, Lee and Little, Corrosion 65(11), 707-717 (2009), abstract read: tubercles, large shallow craters, fresh water."""
    found = standings(pits=[{"deposit": "tubercle", "profile": "wide_shallow"}], setting={"water": "fresh"})
    assert found["iron_oxidising"].standing == "consistent"
    assert found["iron_oxidising"].score >= found["tubercles"].score


def test_a_neutral_deposit_is_no_place_for_acid_producers():
    """Kelly and Wood, IJSEM 50, 511 (2000), from memory: optimum about pH 2, range 1.3 to 4.5."""
    bright = {"colours": ["bright_silvery"], "surface_under_deposit": "bright", "profile": "wide_shallow"}
    assert standings(pits=[{**bright, "deposit_ph": 7.0}])["acid_producing"].standing == "possible"
    assert standings(pits=[{"deposit_ph": 7.0}])["acid_producing"].standing == "unlikely"
    assert standings(pits=[{**bright, "deposit_ph": 2.0}])["acid_producing"].standing == "consistent"


@pytest.mark.parametrize("pattern", ["cups_within_cups", "striations_or_tunnels"])
def test_the_shapes_of_sulphate_reducers_are_not_conclusive_on_their_own(pattern):
    """Little and Lee, Microbiologically Influenced Corrosion (2007), from memory."""
    found = standings(pits=[{"texture": pattern, "profile": "wide_shallow", "outline": "irregular"}])
    assert found["sulphate_reducing"].standing == "possible"


def test_practice_and_literature_are_both_told_of_bright_steel_and_of_tubercles():
    """Bright steel: acid producers in practice, sulphate reducers too in print (2004). Tubercles: Gerke et al. (2008), three
    minerals, of which haematite is none.
    """
    told = " ".join(f"{one.practice} {one.literature}" for one in DIFFERENCES)
    assert "acid producers" in DIFFERENCES[0].practice
    assert "sulphate reducers (alwc-2004)" in DIFFERENCES[0].literature
    for mineral in ("goethite", "lepidocrocite", "magnetite"):
        assert mineral in told
    assert "hematite" not in told
    assert "haematite" not in told


@pytest.mark.parametrize(
    ("observed", "forms"),
    [
        # Narrow, round, deep pits point to galvanic or electrolytic attack (common practice, no source).
        ({"pits": [{"profile": "narrow_deep", "outline": "round"}]}, {"galvanic", "electrolytic"}),
        # Wide, irregular, shallow ones to microbiological (common practice, no source).
        (
            {"pits": [{"profile": "wide_shallow", "outline": "irregular"}]},
            {"sulphate_reducing", "iron_oxidising", "acid_producing"},
        ),
        # Yellow-brown patches are read as iron oxidisers (common practice, no source).
        ({"pits": [{"colours": ["yellow_brown"]}]}, {"iron_oxidising"}),
        # Bright silvery ones as acid producers (common practice), and as well sulphate reducers (2004, read).
        ({"pits": [{"colours": ["bright_silvery"]}]}, {"acid_producing", "sulphate_reducing"}),
    ],
)
def test_what_practice_points_to_comes_first_and_stays_possible(observed, forms):
    ranked = attack_form(**observed).candidates
    assert {candidate.form for candidate in ranked[: len(forms)]} == forms
    assert {candidate.standing for candidate in ranked[: len(forms)]} == {"possible"}


def test_dissimilar_metals_at_propeller_and_shaft_explain_attack_aft():
    """Common practice, no source."""
    found = standings(pits=[{"location": "near_propeller"}], setting={"dissimilar_metals_near": True})
    assert found["galvanic"].standing == "consistent"


def test_tubercles_as_surveyors_find_them():
    """Thirty a square metre, 30 to over 100 mm across, magnetic inside, 5 mm pits beneath (common practice, no source)."""
    for diameter in (30.0, 60.0, 120.0):
        growths = {"density_per_m2": 30.0, "diameter_mm": diameter, "core_magnetic": True, "pit_depth_mm": 5.0}
        first = attack_form(tubercles=growths).candidates[0]
        assert (first.form, first.standing) == ("tubercles", "consistent")


def test_salt_before_coating():
    """IMO resolution MSC.215(82) (2006), read: at most 50 mg/m2 as sodium chloride."""
    plan = treatment_plan(forms=["sulphate_reducing"], area_m2=10.0)
    assert plan.salt_limit_mg_per_m2 == 50.0
    (step,) = [one for one in plan.steps if one.id == "salt_test"]
    assert "at most 50 mg/m2" in step.action
    assert "MSC.215(82)" in step.standard


def test_tubercles_are_blasted_to_sa_two_and_a_half_and_coated_with_epoxy():
    """Common practice, no source; the grade is one of ISO 8501-1 (from memory)."""
    plan = treatment_plan(forms=["tubercles"], area_m2=10.0)
    assert plan.surface_grade == "Sa 2 1/2"
    assert "two-pack epoxy" in next(step.action for step in plan.steps if step.id == "coat")


def test_four_coats_or_250_um():
    """Common practice, no source."""
    plan = treatment_plan(forms=["acid_producing"], area_m2=10.0)
    assert (plan.dry_film_um, plan.coats) == (250.0, 4)


def test_spreading_rate():
    """Paint makers' rule, from memory: m2 a litre = 10 x volume solids [%] / dry film [um]; 60 % at 120 um gives 5 m2."""
    paint = {"dry_film_um": 120.0, "coats": 1, "volume_solids_percent": 60.0, "loss_percent": 0.0}
    assert treatment_plan(forms=["general"], area_m2=5.0, coating=paint).paint_litres == pytest.approx(1.0, rel=1e-12)
