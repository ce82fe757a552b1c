"""The table of evidence, sign by sign, and how the forms of attack are ranked by it."""

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platemargin.attack_evidence import EVIDENCE, FORMS
from platemargin.attack_findings import FINDINGS
from platemargin.attack_form import attack_form
from platemargin.attack_known import CONFIRMING_TESTS, QUESTIONS, TREATMENTS
from platemargin.errors import NotApplicableError
from platemargin.reference import REFERENCES

FLAGS = {"yes": True, "no": False}
LISTS = {"colours", "bacteria_found"}
CONDITIONS = sorted({row.condition for row in EVIDENCE})
COLOURS = sorted({row.condition for row in EVIDENCE if row.kind == "colour"})


def clauses(condition):
    """Return (part, member, operator, values) of each clause of a condition; read here anew, not by the room's own reader."""
    for clause in condition.split(" and "):
        part, member, operator, rest = re.fullmatch(r"(\w+)\.(\w+) (is|at least|at most) (.+)", clause).groups()
        yield part, member, operator, rest.split(" or ")


def shown(*conditions, choose=0):
    """Return a request in which some conditions hold; `choose` says which of several values is sent."""
    request = {}
    for part, member, operator, values in itertools.chain.from_iterable(map(clauses, conditions)):
        value = values[choose % len(values)]
        value = float(value) if operator != "is" else FLAGS.get(value, value)
        place = request.setdefault(part, [{}])[0] if part == "pits" else request.setdefault(part, {})
        if member in LISTS:
            place.setdefault(member, []).append(value)
        else:
            place[member] = value
    bacteria = request.get("tests", {}).get("bacteria_found", [])
    if "none" in bacteria:
        bacteria[:] = ["none"]
    if request.get("tubercles", {}).get("seen") is False:
        request["tubercles"] = {"seen": False}
    return request


def standings(**observed):
    return {candidate.form: candidate.standing for candidate in attack_form(**observed).candidates}


def scores(**observed):
    return {candidate.form: candidate.score for candidate in attack_form(**observed).candidates}


# The table itself


@pytest.mark.parametrize("row", EVIDENCE, ids=lambda row: f"{row.sign}-{row.form}-{row.effect}")
def test_a_row_can_be_reviewed(row):
    """It names a form, an effect, a weight, a source that is known, and words that stand in a sentence."""
    assert row.form in FORMS
    assert row.effect in ("for", "against")
    assert row.weight in (1, 2, 3)
    assert row.weight == 1 or row.kind != "colour"
    assert row.reference in REFERENCES
    assert list(clauses(row.condition))
    assert 4 <= len(row.words) <= 120
    assert row.words.split()[0] not in ("The", "A")
    assert not row.words.endswith(".")


def test_a_sign_has_one_row_a_form_and_one_condition():
    pairs = [(row.sign, row.form) for row in EVIDENCE]
    assert len(set(pairs)) == len(pairs)
    of_sign = {}
    for row in EVIDENCE:
        of_sign.setdefault(row.sign, set()).add(row.kind)
    assert all(len(kinds) == 1 for kinds in of_sign.values())


def test_three_is_the_weight_of_what_was_made_to_tell_the_form():
    """Only tests, the sludge and smell that the literature describes, and the absence of every tubercle."""
    strongest = {row.sign for row in EVIDENCE if row.weight == 3}
    assert strongest == {
        "acid_deposit",
        "neutral_deposit",
        "leakage",
        "sulphide",
        "no_sulphide",
        "orange_over_black",
        "bad_eggs_with_acid",
        "no_tubercles",
    }


@pytest.mark.parametrize("form", FORMS)
def test_every_form_has_evidence_both_ways_tests_and_a_treatment(form):
    effects = {row.effect for row in EVIDENCE if row.form == form}
    assert effects == {"for", "against"}
    assert CONFIRMING_TESTS[form]
    assert TREATMENTS[form]


def test_every_observation_of_the_table_can_be_asked_for_except_colour_and_size():
    """What has a question is what the next observation is chosen from."""
    named = {f"{part}.{member}" for row in EVIDENCE for part, member, _, _ in clauses(row.condition) if row.kind != "colour"}
    not_asked = {
        "pits.rate_mm_per_year",
        "setting.paint",
        "setting.water",
        "tubercles.density_per_m2",
        "tubercles.diameter_mm",
    }
    assert named - set(QUESTIONS) == not_asked
    assert set(QUESTIONS) <= named


# Each sign's effect on each form


@pytest.mark.parametrize(("condition", "choose"), [(one, n) for one in CONDITIONS for n in range(one.count(" or ") + 1)])
def test_a_sign_moves_the_forms_that_its_rows_name_and_no_others(condition, choose):
    """The score of each form is the sum of the weights of the rows whose sign is seen, read from the table."""
    observed = shown(condition, choose=choose)
    expected = dict.fromkeys(FORMS, 0)
    for row in EVIDENCE:
        if holds(row.condition, observed):
            expected[row.form] += row.weight if row.effect == "for" else -row.weight
    assert scores(**observed) == expected
    assert any(expected.values())


def holds(condition, observed):
    """Return whether a condition holds of a request; an absent member of tubercles that were sent means that they were seen."""
    for part, member, operator, values in clauses(condition):
        place = observed.get(part, {})
        place = place[0] if part == "pits" and place else place
        value = place.get(member, True if (part, member) == ("tubercles", "seen") and part in observed else None)
        if value is None or value == {}:
            return False
        if operator == "is":
            texts = {{True: "yes", False: "no"}.get(one, one) for one in (value if isinstance(value, list) else [value])}
            if not texts & set(values):
                return False
        elif not (value >= float(values[0]) if operator == "at least" else value <= float(values[0])):
            return False
    return True


@pytest.mark.parametrize("row", EVIDENCE, ids=lambda row: f"{row.sign}-{row.form}-{row.effect}")
def test_a_row_is_told_as_a_reason_with_its_source_and_how_it_is_known(row):
    candidate = next(one for one in attack_form(**shown(row.condition)).candidates if one.form == row.form)
    reasons = candidate.reasons_for if row.effect == "for" else candidate.reasons_against
    basis = REFERENCES[row.reference].basis.replace("_", " ")
    assert f"{row.words[0].upper()}{row.words[1:]} ({row.reference}, {basis})." in reasons


@pytest.mark.parametrize(
    ("pits", "sign", "seen"),
    [
        ({"deposit_ph": 4.5}, "acid_deposit", True),
        ({"deposit_ph": 4.54}, "acid_deposit", True),  # told as 4.5
        ({"deposit_ph": 4.56}, "acid_deposit", False),
        ({"deposit_ph": 6.0}, "neutral_deposit", True),
        ({"deposit_ph": 5.9}, "neutral_deposit", False),
        ({"rate_mm_per_year": 0.5}, "fast", True),
        ({"rate_mm_per_year": 0.49996}, "fast", True),  # told as 0.5
        ({"rate_mm_per_year": 0.4999}, "fast", False),
    ],
)
def test_a_bound_includes_itself_and_compares_figures_as_they_are_told(pits, sign, seen):
    signs = {row.sign for candidate in attack_form(pits=[pits]).candidates for row in candidate.evidence}
    assert (sign in signs) == seen


# Colour


@pytest.mark.parametrize("condition", COLOURS)
def test_no_single_colour_decides_anything(condition):
    """Over the whole table: a colour alone leaves every form possible."""
    for choose in range(condition.count(" or ") + 1):
        assert set(standings(**shown(condition, choose=choose)).values()) == {"possible"}


def test_all_colours_together_decide_nothing():
    assert set(standings(**shown(*COLOURS)).values()) == {"possible"}


@given(st.lists(st.sampled_from(CONDITIONS), max_size=8), st.integers(0, 3))
@settings(max_examples=150, deadline=None)
def test_a_colour_more_makes_no_form_consistent(conditions, choose):
    """Of any observations: with every colour added, the same forms are consistent or fewer, never another."""
    plain = shown(*conditions, choose=choose)
    coloured = shown(*conditions, *(one for one in COLOURS if one.startswith("pits")), choose=choose)
    before = {form for form, standing in standings(**plain).items() if standing == "consistent"}
    after = {form for form, standing in standings(**coloured).items() if standing == "consistent"}
    assert after == before


# Standing

#: Observations that make each form consistent: the picture that its sources paint.
PICTURES = {
    "general": ("setting.thinning is even", "pits.deposit is loose_rust", "setting.paint is none"),
    "galvanic": ("pits.location is near_propeller", "setting.dissimilar_metals_near is yes"),
    "electrolytic": ("pits.edge is sharp", "setting.stray_current_source_near is yes"),
    "sulphate_reducing": ("pits.deposit is orange_over_black", "pits.smell is bad_eggs_with_acid"),
    "iron_oxidising": ("pits.deposit is tubercle", "pits.profile is wide_shallow"),
    "acid_producing": ("pits.deposit_ph at most 4.5", "pits.surface_under_deposit is bright"),
    "tubercles": ("tubercles.seen is yes", "tubercles.core_magnetic is yes"),
    "differential_aeration": ("pits.location is waterline", "pits.deposit is silt_or_debris"),
    "mechanical": ("pits.texture is scored", "setting.scraped_or_grounded is yes"),
}


@pytest.mark.parametrize("form", FORMS)
def test_each_form_can_be_reached(form):
    """Consistent, and first."""
    result = attack_form(**shown(*PICTURES[form]))
    assert (result.candidates[0].form, result.candidates[0].standing) == (form, "consistent")


@pytest.mark.parametrize("form", FORMS)
def test_each_form_can_be_unlikely(form):
    against = [row.condition for row in EVIDENCE if (row.form, row.effect) == (form, "against")]
    assert "unlikely" in {standings(**shown(*pair))[form] for pair in itertools.combinations_with_replacement(against, 2)}


def test_one_pointer_against_makes_no_form_unlikely():
    pointers = [row for row in EVIDENCE if (row.effect, row.weight) == ("against", 1)]
    assert len(pointers) > 5
    assert {standings(**shown(row.condition))[row.form] for row in pointers} == {"possible"}


@pytest.mark.parametrize("form", FORMS)
def test_contradictory_evidence_yields_possible_with_both_reasons(form):
    """Whatever speaks against a form, beside the whole picture of it."""
    members = {(part, member) for condition in PICTURES[form] for part, member, _, _ in clauses(condition)}
    against = [
        row.condition
        for row in EVIDENCE
        if (row.form, row.effect) == (form, "against")
        and not members & {(part, member) for part, member, _, _ in clauses(row.condition)}
    ]
    assert against
    for condition in against:
        candidate = next(one for one in attack_form(**shown(*PICTURES[form], condition)).candidates if one.form == form)
        assert candidate.standing == "possible"
        assert candidate.reasons_for
        assert candidate.reasons_against


def test_pointers_alone_never_make_a_form_consistent():
    """Four signs of weight 1 in three kinds: acid producers are not to be had from shape and colour of the products."""
    pointers = shown(
        "pits.profile is wide_shallow",
        "pits.outline is irregular",
        "pits.deposit is orange_over_black",
        "pits.surface_under_deposit is bright",
    )
    assert scores(**pointers)["acid_producing"] == 4
    assert standings(**pointers)["acid_producing"] == "possible"


def test_one_kind_of_evidence_never_makes_a_form_consistent():
    tubercles = shown("pits.deposit is tubercle", "tubercles.seen is yes")
    assert scores(**tubercles)["tubercles"] == 4
    assert standings(**tubercles)["tubercles"] == "possible"


@given(st.lists(st.sampled_from(CONDITIONS), max_size=12), st.integers(0, 3))
@settings(max_examples=300, deadline=None)
def test_what_a_standing_means_holds_of_any_observations(conditions, choose):
    result = attack_form(**shown(*conditions, choose=choose))
    assert sorted(candidate.form for candidate in result.candidates) == sorted(FORMS)
    order = [("consistent", "possible", "unlikely").index(one.standing) for one in result.candidates]
    assert order == sorted(order)
    for one, after in itertools.pairwise(result.candidates):
        assert one.standing != after.standing or one.score >= after.score
    for candidate in result.candidates:
        counted = [row for row in candidate.evidence if row.kind != "colour" and row.effect == "for"]
        if counted and candidate.reasons_against:
            assert candidate.standing == "possible"  # a colour contradicts nothing
        if candidate.standing == "consistent":
            assert not candidate.reasons_against
            assert sum(row.weight for row in counted) >= 4
            assert len({row.kind for row in counted}) >= 2
            assert max(row.weight for row in counted) >= 2
        if candidate.standing == "unlikely":
            assert {row.kind for row in candidate.evidence if row.effect == "for"} <= {"colour"}
            assert sum(row.weight for row in candidate.evidence if row.effect == "against") >= 2


# Several pits


def test_several_forms_may_be_at_work_at_once():
    """Each form is told as it stands at the pit where it stands best; one pit's signs are not laid to another."""
    aft = {"id": "aft", "profile": "narrow_deep", "outline": "round", "location": "near_propeller"}
    mid = {"id": "mid", "deposit": "orange_over_black", "smell": "bad_eggs_with_acid", "outline": "irregular"}
    both = attack_form(pits=[aft, mid], setting={"dissimilar_metals_near": True})
    found = {one.form: one for one in both.candidates}
    assert {form for form, one in found.items() if one.standing == "consistent"} == {"galvanic", "sulphate_reducing"}
    assert (found["galvanic"].pits, found["sulphate_reducing"].pits) == (("aft",), ("mid",))
    alone = attack_form(pits=[mid], setting={"dissimilar_metals_near": True}).candidates
    assert next(one for one in alone if one.form == "galvanic").standing == "possible"


@given(st.permutations([{"profile": "narrow_deep"}, {"profile": "wide_shallow"}, {"deposit": "black_sludge"}, {}]))
@settings(max_examples=24, deadline=None)
def test_the_order_of_pits_never_matters(pits):
    first = attack_form(pits=[{"profile": "narrow_deep"}, {"profile": "wide_shallow"}, {"deposit": "black_sludge"}, {}])
    assert [(one.form, one.standing, one.score) for one in attack_form(pits=pits).candidates] == [
        (one.form, one.standing, one.score) for one in first.candidates
    ]


def test_the_rank_of_equals_is_the_contracts_order():
    assert tuple(one.form for one in attack_form().candidates) == FORMS


# What is not there


@pytest.mark.parametrize("observed", [{}, {"pits": []}, {"pits": [{}]}, {"pits": [{"id": "a"}], "setting": {}, "tests": {}}])
def test_without_observations_every_form_is_possible(observed):
    result = attack_form(**observed)
    assert result.observations_count == 0
    assert {candidate.standing for candidate in result.candidates} == {"possible"}


def test_tubercles_that_are_sent_are_seen_and_none_may_not_be_described():
    assert attack_form(tubercles={"seen": True}).observations_count == 1
    assert standings(tubercles={"seen": False})["tubercles"] == "unlikely"
    assert standings(tubercles={"density_per_m2": 0.0})["tubercles"] == "unlikely"
    assert standings(tubercles={"density_per_m2": 30.0})["tubercles"] != "unlikely"


@pytest.mark.parametrize(
    ("tubercles", "field"),
    [
        ({"seen": False, "diameter_mm": 50.0}, "seen"),
        ({"seen": False, "density_per_m2": 30.0}, "seen"),
        ({"seen": True, "density_per_m2": 0.0}, "density_per_m2"),
        ({"density_per_m2": 0.0, "core_colour": "black"}, "density_per_m2"),
        ({}, None),
    ],
)
def test_tubercles_are_described_or_none(tubercles, field):
    with pytest.raises(NotApplicableError) as refused:
        attack_form(tubercles=tubercles)
    ((_, path, _),) = refused.value.faults
    assert path == ("tubercles", *([field] if field else []))


def test_no_tubercles_may_be_said_in_both_ways():
    assert standings(tubercles={"seen": False, "density_per_m2": 0.0})["tubercles"] == "unlikely"


@pytest.mark.parametrize("colour", sorted({row.condition.split()[-1] for row in EVIDENCE if row.kind == "colour"}))
def test_a_colour_alone_saves_no_form_from_what_speaks_against_it(colour):
    """A test that found no bacteria, no sulphide and no acid, against the colour of a patch: both are told."""
    tests = {"bacteria_found": ["none"], "sulphide_in_deposit": False}
    plain = standings(pits=[{"deposit_ph": 7.0}], tests=tests)
    coloured = attack_form(pits=[{"deposit_ph": 7.0, "colours": [colour]}], tests=tests).candidates
    for one in coloured:
        by_colour = any(row.kind == "colour" and row.effect == "for" for row in one.evidence)
        assert one.standing == plain[one.form] or not by_colour, one.form
        if by_colour and one.standing == "unlikely":
            assert one.reasons_for
            assert one.reasons_against


def test_what_speaks_against_a_form_at_other_pits_is_told():
    aft = {"id": "aft", "profile": "narrow_deep", "outline": "round", "location": "near_propeller"}
    mid = {"id": "mid", "profile": "wide_shallow"}
    galvanic = attack_form(pits=[aft, mid], setting={"dissimilar_metals_near": True}).candidates[0]
    assert (galvanic.form, galvanic.standing, galvanic.pits) == ("galvanic", "consistent", ("aft",))
    ((pit, reasons),) = [(one.pit, one.reasons) for one in galvanic.against_elsewhere]
    assert pit == "mid"
    assert "Wide, shallow pits" in reasons[0]
    assert attack_form(pits=[aft]).candidates[0].against_elsewhere == ()


def test_bacteria_are_found_or_none_are():
    with pytest.raises(NotApplicableError, match="none"):
        attack_form(tests={"bacteria_found": ["none", "acid_producing"]})
    assert standings(tests={"bacteria_found": ["none", "none"]})["acid_producing"] == "unlikely"


@pytest.mark.parametrize(
    ("pit", "profile"),
    [
        ({"depth_mm": 3.0, "width_mm": 3.0}, "narrow_deep"),
        ({"depth_mm": 1.0, "width_mm": 4.0}, "wide_shallow"),
        ({"depth_mm": 2.0, "width_mm": 4.0}, None),
        ({"depth_mm": 3.0, "width_mm": 2.0, "profile": "irregular"}, "irregular"),
        ({"depth_mm": 3.0}, None),
    ],
)
def test_a_profile_is_taken_from_depth_and_width_where_none_was_sent(pit, profile):
    assert scores(pits=[pit]) == scores(pits=[{} if profile is None else {"profile": profile}])


# What to look at next


def test_the_next_observation_tells_the_leading_forms_apart():
    """Narrow, round, deep pits leave galvanic and electrolytic attack alike: what comes next must part those two."""
    result = attack_form(pits=[{"profile": "narrow_deep", "outline": "round"}])
    assert [one.form for one in result.candidates[:2]] == ["galvanic", "electrolytic"]
    assert result.next_observations
    for one in result.next_observations:
        assert set(one.separates) & {"galvanic", "electrolytic"}


@given(st.lists(st.sampled_from(CONDITIONS), max_size=8))
@settings(max_examples=100, deadline=None)
def test_the_next_observation_was_not_made_and_the_heaviest_comes_first(conditions):
    observed = shown(*conditions)
    sent = {f"{part}.{member}" for condition in conditions for part, member, _, _ in clauses(condition)}
    found = attack_form(**observed).next_observations
    assert not sent & {one.observation for one in found}
    assert [one.weight for one in found] == sorted((one.weight for one in found), reverse=True)
    assert len(found) <= 3


@pytest.mark.parametrize(("fitted", "told"), [(False, True), (True, False), (None, False)])
def test_a_hull_without_anodes_is_told(fitted, told):
    observed = {"setting": {"shore_power": True} if fitted is None else {"anodes_fitted": fitted}}
    arguments = {**attack_form.__kwdefaults__, **observed}
    found = {finding.code for finding in FINDINGS if list(finding.applies(arguments, attack_form(**observed)))}
    assert ("no_anodes" in found) == told
