"""What is told of the forms of attack beside their order."""

from __future__ import annotations

from collections.abc import Iterable

from platemargin.attack_evidence import COLOUR, DIFFERENCES, FORM_WORDS
from platemargin.attack_form import AttackForm, Candidate
from platemargin.attack_observed import shape_by_size
from platemargin.declared import Arguments, Finding, Place
from platemargin.quantities import at_least

__all__ = ["FINDINGS", "FORM_WORDS", "named"]

#: From this rate [mm/year] attack is fast enough to act on before its cause is known. Reference: alwc-rate
FAST_MM_PER_YEAR = 0.5


def named(forms: Iterable[str]) -> str:
    """Return forms of attack in words.

    Examples
    --------
    >>> named(["galvanic", "tubercles", "mechanical"])
    'galvanic corrosion, tubercles (oxygen concentration cells) and mechanical damage (scrape, grounding)'
    """
    *first, last = (FORM_WORDS[form] for form in forms)
    return f"{', '.join(first)} and {last}" if first else last


def _standing(result: AttackForm, standing: str) -> list[Candidate]:
    return [candidate for candidate in result.candidates if candidate.standing == standing]


def _candidate(result: AttackForm, form: str) -> Candidate:
    return next(candidate for candidate in result.candidates if candidate.form == form)


def _setting(arguments: Arguments, name: str) -> object:
    return (arguments["setting"] or {}).get(name)


def _no_observations(_arguments: Arguments, result: AttackForm) -> Iterable[Place]:
    return [Place()] if not result.observations_count else []


def _stray_suspected(_arguments: Arguments, result: AttackForm) -> Iterable[Place]:
    return [Place()] if _candidate(result, "electrolytic").standing == "consistent" else []


def _stray_possible(_arguments: Arguments, result: AttackForm) -> Iterable[Place]:
    stray = _candidate(result, "electrolytic")
    electrical = [row for row in stray.evidence if row.effect == "for" and row.kind in ("setting", "test")]
    return [Place()] if electrical and stray.standing == "possible" else []


def _no_isolator(arguments: Arguments, _result: AttackForm) -> Iterable[Place]:
    if _setting(arguments, "shore_power") and _setting(arguments, "galvanic_isolator") is False:
        yield Place(path=("setting", "galvanic_isolator"))


def _isolator_unknown(arguments: Arguments, _result: AttackForm) -> Iterable[Place]:
    if _setting(arguments, "shore_power") and _setting(arguments, "galvanic_isolator") is None:
        yield Place(path=("setting", "galvanic_isolator"))


def _no_anodes(arguments: Arguments, _result: AttackForm) -> Iterable[Place]:
    if _setting(arguments, "anodes_fitted") is False:
        yield Place(path=("setting", "anodes_fitted"))


def _fast(arguments: Arguments, _result: AttackForm) -> Iterable[Place]:
    for index, pit in enumerate(arguments["pits"] or ()):
        rate = pit.get("rate_mm_per_year")
        if rate is not None and at_least(rate, FAST_MM_PER_YEAR, "mm/year"):
            yield Place(path=("pits", index, "rate_mm_per_year"), values={"rate_mm_per_year": rate})


def _under_tubercles(arguments: Arguments, _result: AttackForm) -> Iterable[Place]:
    growths = arguments["tubercles"]
    if growths is not None and growths.get("seen") is not False and growths.get("pit_depth_mm") is None:
        yield Place(path=("tubercles", "pit_depth_mm"))


def _size_contradicts(arguments: Arguments, _result: AttackForm) -> Iterable[Place]:
    for index, pit in enumerate(arguments["pits"] or ()):
        shape, sent = shape_by_size(pit), pit.get("profile")
        if shape and sent in ("narrow_deep", "wide_shallow") and sent != shape:
            values = {"depth_mm": pit["depth_mm"], "width_mm": pit["width_mm"]}
            yield Place(path=("pits", index, "profile"), values=values)


def _several(_arguments: Arguments, result: AttackForm) -> Iterable[Place]:
    forms = [candidate.form for candidate in _standing(result, "consistent")]
    return [Place(values={"forms": named(forms)})] if len(forms) > 1 else []


def _unsettled(_arguments: Arguments, result: AttackForm) -> Iterable[Place]:
    return [Place()] if result.observations_count and not result.consistent_count else []


def _contradictory(_arguments: Arguments, result: AttackForm) -> Iterable[Place]:
    forms = [one.form for one in result.candidates if one.reasons_for and one.reasons_against]
    return [Place(values={"forms": named(forms)})] if forms else []


def _colour_alone(_arguments: Arguments, result: AttackForm) -> Iterable[Place]:
    kinds = {row.kind for candidate in result.candidates for row in candidate.evidence}
    return [Place()] if kinds == {COLOUR} else []


def _differ(_arguments: Arguments, result: AttackForm) -> Iterable[Place]:
    for difference in DIFFERENCES:
        if any(difference.seen(facts) for _, facts in result.places):
            yield Place(values={"practice": difference.practice, "literature": difference.literature})


def _next(_arguments: Arguments, result: AttackForm) -> Iterable[Place]:
    return [
        Place(values={"observation": one.observation, "question": one.question, "forms": named(one.separates)})
        for one in result.next_observations[:1]
    ]


FINDINGS = (
    Finding(
        code="no_observations",
        severity="watch",
        statement="Nothing was observed: every form of attack is possible, and the order says nothing.",
        applies=_no_observations,
    ),
    Finding(
        code="stray_current_suspected",
        severity="act",
        statement="What was observed is consistent with stray current, which can hole plate fast: have a qualified marine "
        "electrician measure it, and do not reconnect shore power or a suspect circuit until then.",
        applies=_stray_suspected,
    ),
    Finding(
        code="stray_current_possible",
        severity="watch",
        statement="Something electrical points to stray current, though the rest does not settle it: have a qualified marine "
        "electrician measure it. True stray current is rare.",
        applies=_stray_possible,
    ),
    Finding(
        code="shore_power_without_isolator",
        severity="watch",
        statement="The boat lies on shore power without a galvanic isolator or isolating transformer: the earth lead joins the "
        "hull to its neighbours' metals. Have one fitted by a qualified marine electrician; never cut the earth.",
        applies=_no_isolator,
    ),
    Finding(
        code="isolator_not_known",
        severity="watch",
        statement="The boat lies on shore power, and nobody said whether its earth has a galvanic isolator.",
        applies=_isolator_unknown,
    ),
    Finding(
        code="no_anodes",
        severity="watch",
        statement="No anodes are fitted: nothing protects the steel where the coating is broken.",
        applies=_no_anodes,
    ),
    Finding(
        code="fast_attack",
        severity="act",
        statement="{rate_mm_per_year} mm a year is fast: read the plate, and find and stop the cause before it floats again.",
        applies=_fast,
        values=("rate_mm_per_year",),
    ),
    Finding(
        code="pits_under_tubercles_unread",
        severity="watch",
        statement="Nobody measured the pits under the tubercles: they are often deep (to 5 mm and more, common practice). Take "
        "some off and measure.",
        applies=_under_tubercles,
    ),
    Finding(
        code="profile_contradicts_size",
        severity="watch",
        statement="A pit {depth_mm} mm deep and {width_mm} mm wide has not the profile that was sent; it was used as sent.",
        applies=_size_contradicts,
        values=("depth_mm", "width_mm"),
    ),
    Finding(
        code="several_forms",
        severity="note",
        statement="More than one form fits, and they may be at work at once: {forms}.",
        applies=_several,
        values=("forms",),
    ),
    Finding(
        code="nothing_settled",
        severity="watch",
        statement="What was observed makes no form consistent: treat none as found.",
        applies=_unsettled,
    ),
    Finding(
        code="contradictory_evidence",
        severity="note",
        statement="Some evidence speaks for and some against: {forms}.",
        applies=_contradictory,
        values=("forms",),
    ),
    Finding(
        code="colour_alone",
        severity="watch",
        statement="Only colours speak for or against any form: colour alone decides nothing.",
        applies=_colour_alone,
    ),
    Finding(
        code="practice_and_literature_differ",
        severity="note",
        statement="Practice and literature differ: {practice}; {literature}.",
        applies=_differ,
        values=("practice", "literature"),
    ),
    Finding(
        code="next_observation",
        severity="note",
        statement="What would tell most next is {question} ({observation}); it speaks of {forms}.",
        applies=_next,
        values=("question", "observation", "forms"),
    ),
)
