"""Which forms of attack fit what was observed: ranked candidates, never a diagnosis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from platemargin.attack_evidence import COLOUR, EVIDENCE, FORMS, Evidence, Facts
from platemargin.attack_known import CONFIRMING_TESTS, QUESTIONS, TREATMENTS
from platemargin.attack_observed import OBSERVED_FAULTS, PROFILE_ASSUMED, places_observed
from platemargin.declared import refuse
from platemargin.reference import REFERENCES

__all__ = ["ASSUMED", "FAULTS", "AttackForm", "Candidate", "NextObservation", "Standing", "attack_form"]

#: Weight for a form, colour not counted, from which it is consistent, the least number of kinds of evidence in it, and the
#: least weight of the strongest: a test and a pointer beside it, or two usual signs, never pointers alone. An own rule.
CONSISTENT_WEIGHT = 4
CONSISTENT_KINDS = 2
STRONGEST_WEIGHT = 2
#: Weight against a form from which it is unlikely where nothing speaks for it. An own rule: one pointer alone is not enough.
UNLIKELY_WEIGHT = 2
#: Forms that the next observation is to tell apart (more, where they stand alike), and how many observations are named.
LEADING = 2
NEXT = 3

Standing: TypeAlias = Literal["consistent", "possible", "unlikely"]
_STANDINGS: tuple[Standing, ...] = ("consistent", "possible", "unlikely")
_BASIS_WORDS = {"published": "published", "from_memory": "from memory", "common_practice": "common practice"}

FAULTS = OBSERVED_FAULTS
ASSUMED = (PROFILE_ASSUMED,)


@dataclass(frozen=True, kw_only=True)
class AgainstElsewhere:
    """What speaks against a form at a pit where it does not stand best, and nowhere where it does."""

    pit: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One form of attack, as it stands at the place where it stands best."""

    form: str
    standing: Standing
    score: int
    reasons_for: tuple[str, ...]
    reasons_against: tuple[str, ...]
    tests_to_confirm: tuple[str, ...]
    treatment: str
    pits: tuple[str, ...]
    against_elsewhere: tuple[AgainstElsewhere, ...]
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, kw_only=True)
class NextObservation:
    """An observation that was not sent and would tell the leading forms apart."""

    observation: str
    question: str
    separates: tuple[str, ...]
    weight: int


@dataclass(frozen=True, kw_only=True)
class AttackForm:
    """Every form, best first, and what would tell them apart."""

    candidates: tuple[Candidate, ...]
    observations_count: int
    consistent_count: int
    next_observations: tuple[NextObservation, ...]
    places: tuple[tuple[str, Facts], ...]


@dataclass(frozen=True, kw_only=True)
class _Case:
    """What speaks for and against one form at one place."""

    place: str
    evidence: tuple[Evidence, ...]

    def weight(self, effect: str) -> int:
        return sum(row.weight for row in self.evidence if row.effect == effect)

    @property
    def score(self) -> int:
        return self.weight("for") - self.weight("against")

    @property
    def standing(self) -> Standing:
        against = self.weight("against")
        # A colour alone saves no form from what speaks against it.
        speaks_for = any(row.effect == "for" and row.kind != COLOUR for row in self.evidence)
        if self._enough() and not against:
            return "consistent"
        return "unlikely" if against >= UNLIKELY_WEIGHT and not speaks_for else "possible"

    def _enough(self) -> bool:
        rows = [row for row in self.evidence if row.effect == "for" and row.kind != COLOUR]
        return (
            sum(row.weight for row in rows) >= CONSISTENT_WEIGHT
            and len({row.kind for row in rows}) >= CONSISTENT_KINDS
            and max(row.weight for row in rows) >= STRONGEST_WEIGHT
        )


def _rank(one: _Case | Candidate) -> tuple[int, int]:
    return _STANDINGS.index(one.standing), -one.score


def _reasons(case: _Case, effect: str) -> tuple[str, ...]:
    told = (
        f"{row.words[0].upper()}{row.words[1:]} ({row.reference}, {_BASIS_WORDS[REFERENCES[row.reference].basis]})."
        for row in sorted(case.evidence, key=lambda row: -row.weight)
        if row.effect == effect
    )
    return tuple(dict.fromkeys(told))


def _candidate(form: str, seen: Sequence[tuple[str, Sequence[Evidence]]]) -> Candidate:
    cases = [_Case(place=place, evidence=tuple(row for row in rows if row.form == form)) for place, rows in seen]
    best = min(cases, key=_rank)
    return Candidate(
        form=form,
        standing=best.standing,
        score=best.score,
        reasons_for=_reasons(best, "for"),
        reasons_against=_reasons(best, "against"),
        tests_to_confirm=CONFIRMING_TESTS[form],
        treatment=TREATMENTS[form],
        pits=tuple(case.place for case in cases if case.place and _rank(case) == _rank(best)),
        against_elsewhere=tuple(_against_elsewhere(best, cases)),
        evidence=best.evidence,
    )


def _against_elsewhere(best: _Case, cases: Sequence[_Case]) -> Iterable[AgainstElsewhere]:
    """Yield what speaks against a form elsewhere; a form that is unlikely at its best needs no more of it."""
    told = set(_reasons(best, "against"))
    for case in cases if best.standing != "unlikely" else ():
        reasons = tuple(reason for reason in _reasons(case, "against") if reason not in told)
        if reasons:
            yield AgainstElsewhere(pit=case.place, reasons=reasons)


def _effects(observation: str, forms: Iterable[str]) -> Iterable[tuple[str, dict[str, int]]]:
    """Yield for each sign of an observation what it would do to the score of each form."""
    signs: dict[str, dict[str, int]] = {}
    for row in EVIDENCE:
        if row.kind != COLOUR and observation in row.condition.split():
            effect = signs.setdefault(row.condition, dict.fromkeys(forms, 0))
            if row.form in effect:
                effect[row.form] += row.weight if row.effect == "for" else -row.weight
    return signs.items()


def _next_observations(candidates: Sequence[Candidate], sent: set[str]) -> tuple[NextObservation, ...]:
    """Return what was not observed and would move the leading forms furthest apart; of equals the easiest to see."""
    leading = [candidate.form for candidate in candidates if _rank(candidate) <= _rank(candidates[LEADING - 1])]
    found = []
    for observation, question in QUESTIONS.items():
        effects = [effect for _, effect in _effects(observation, leading)] if observation not in sent else []
        best = max(effects, key=lambda effect: max(effect.values()) - min(effect.values()), default=None)
        weight = max(best.values()) - min(best.values()) if best else 0
        if best and weight:
            moved = tuple(form for form in leading if best[form])
            found.append(NextObservation(observation=observation, question=question, separates=moved, weight=weight))
    return tuple(sorted(found, key=lambda one: -one.weight)[:NEXT])


def _count(places: Sequence[tuple[str, Facts]]) -> int:
    """Return how many observations were sent; what is of the whole boat counts once."""
    names = [name for _, facts in places for name in facts]
    return sum(name.startswith("pits.") for name in names) + len({name for name in names if not name.startswith("pits.")})


def attack_form(
    *,
    pits: Sequence[Mapping[str, Any]] | None = None,
    tubercles: Mapping[str, Any] | None = None,
    setting: Mapping[str, Any] | None = None,
    tests: Mapping[str, Any] | None = None,
) -> AttackForm:
    """Rank the nine forms of attack by what speaks for and against each.

    score = weights for - weights against, at the pit where the form stands best: several forms may be at work at once. A form
    is *consistent* where at least 4 speaks for it, in at least two kinds of evidence and one of them with 2 or more, and
    nothing against it; *unlikely* where nothing but a colour speaks for it and at least 2 against; else *possible*, as
    where much speaks for it and something against it. Colour counts in the order, and decides no standing. What speaks
    against a form at other pits than those where it stands best is told beside it.

    Parameters
    ----------
    pits : sequence of mappings, optional
        What each pit, or patch of like pits, looks like: [mm, mm/year, pH] and words.
    tubercles : mapping, optional
        The growths on the plate [1/m2, mm]; what describes them says that there are some, a density of 0 that there are none.
    setting : mapping, optional
        What is near, connected and fitted.
    tests : mapping, optional
        What was tested.

    Returns
    -------
    AttackForm
        All nine, the best first; of equals in the order of the contract.

    Raises
    ------
    NotApplicableError
        Two pits of one id; tubercles or bacteria that are described and said to be none; tubercles of which nothing is said.

    Notes
    -----
    Ranked candidates, never a diagnosis: the evidence is circumstantial, and washing before the survey takes much of it away.

    Examples
    --------
    >>> seen = attack_form(
    ...     pits=[{"profile": "narrow_deep", "outline": "round", "location": "near_propeller"}],
    ...     setting={"dissimilar_metals_near": True},
    ... )
    >>> seen.candidates[0].form, seen.candidates[0].standing, seen.candidates[0].score
    ('galvanic', 'consistent', 6)

    References
    ----------
    pit-shape-practice, deposit-colour-practice, tubercle-practice, galvanic-practice, stray-current-practice,
    crevice-practice, general-corrosion-practice, mechanical-practice, alwc-2004, alwc-ports, alwc-rate, ray-lee-little-2009,
    little-2019, tubercle-anatomy, gerke-2008, alabbas-2013, little-lee-2007, kelly-wood-2000, astm-g46, astm-g82,
    nace-tm0212, iso-13297, en-1993-5-fresh
    """
    refuse(FAULTS, dict(locals()))
    places = places_observed(pits, tubercles, setting, tests)
    seen = [(place, [row for row in EVIDENCE if row.seen(facts)]) for place, facts in places]
    ranked = sorted((_candidate(form, seen) for form in FORMS), key=_rank)
    sent = {name for _, facts in places for name in facts}
    return AttackForm(
        candidates=tuple(ranked),
        observations_count=_count(places),
        consistent_count=sum(candidate.standing == "consistent" for candidate in ranked),
        next_observations=_next_observations(ranked, sent),
        places=places,
    )
