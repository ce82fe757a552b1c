"""References: every id that is cited anywhere resolves, and every reference is cited."""

import importlib
import inspect
import pkgutil
import re

import pytest

import platemargin
from platemargin import (
    anode_condition,
    anode_sizing,
    corrosion_rate,
    deepest_pit,
    minimum_plating,
    overplating,
    plate_margin,
    reference,
    remaining_life,
    residual_thickness,
    rule_sets,
    survey_comparison,
    treatment_plan,
)
from platemargin.reference import REFERENCES, Reference

MODULES = [importlib.import_module(found.name) for found in pkgutil.walk_packages(platemargin.__path__, "platemargin.")]
RULE_SETS = [module.rule_set for module in MODULES if module.__name__.startswith(f"{rule_sets.__name__}.")]
ELSEWHERE = {"those that the rule sets bring", "those of the calculations made within"}


def docstring_citations():
    """Return (where, id) of every id in a docstring's References section."""
    for module in MODULES:
        for name, member in inspect.getmembers(module, inspect.isfunction):
            if member.__module__ != module.__name__ or "References\n---" not in (inspect.getdoc(member) or ""):
                continue
            section = re.split(r"References\n-+\n", inspect.getdoc(member))[1].split("\n\n")[0]
            for cited in re.split(r"[,;]\s*(?:and\s+)?", " ".join(section.split())):
                yield f"{module.__name__}.{name}", cited


def comment_citations():
    """Return (where, id) of every id that a comment beside a constant cites as its reference."""
    for module in MODULES:
        for cited in re.findall(r"References?:\s+([a-z0-9-]+)", inspect.getsource(module)):
            yield module.__name__, cited


def working_citations():
    """Return (where, id) of every line of working."""
    rooms = (residual_thickness, corrosion_rate, remaining_life, plate_margin, minimum_plating, survey_comparison, deepest_pit)
    for room in (*rooms, anode_condition, anode_sizing, overplating, treatment_plan):
        yield from ((f"{room.__name__} {step.symbol}", step.reference) for step in room.WORKING)


def rule_citations():
    """Return (where, id) of every shipped rule, and of what its rule set brings."""
    for rule_set in RULE_SETS:
        yield from ((f"{rule_set.id} {rule.id}", rule.reference) for rule in rule_set.rules)
        yield from ((rule_set.id, brought.id) for brought in rule_set.references)


CITED = [
    (where, cited)
    for citations in (docstring_citations, comment_citations, working_citations, rule_citations)
    for where, cited in citations()
    if cited not in ELSEWHERE
]


@pytest.mark.parametrize(("where", "cited"), sorted(set(CITED)))
def test_citation_resolves(where, cited):
    """An id that is cited is that of a reference."""
    assert cited in REFERENCES, where


@pytest.mark.parametrize(
    "citations", [docstring_citations, comment_citations, working_citations, rule_citations], ids=lambda found: found.__name__
)
def test_every_kind_of_citation_is_found(citations):
    """The search for citations finds some of each kind: it cannot pass by finding none."""
    assert len(list(citations())) >= 5


@pytest.mark.parametrize("known", REFERENCES)
def test_reference_is_cited(known):
    """A reference that nothing cites is none."""
    assert known in {cited for _, cited in CITED}


@pytest.mark.parametrize(
    "calculation",
    [
        "residual_thickness",
        "corrosion_rate",
        "remaining_life",
        "plate_margin",
        "minimum_plating",
        "survey_comparison",
        "deepest_pit",
        "anode_condition",
        "anode_sizing",
        "overplating",
        "attack_form",
        "treatment_plan",
        "hull_survey",
    ],
)
def test_calculation_cites(calculation):
    """Every calculation's docstring has its references."""
    assert [cited for where, cited in docstring_citations() if where == f"platemargin.{calculation}.{calculation}"]


def test_no_two_references_of_one_id():
    """Ids are each one reference's."""
    records = [record for record in vars(reference).values() if isinstance(record, Reference)]
    assert len(records) == len(REFERENCES)
    assert all(REFERENCES[record.id] is record for record in records)


@pytest.mark.parametrize("record", REFERENCES.values(), ids=REFERENCES)
def test_record_says_what_and_where_and_how_it_is_known(record):
    """A publication has its year, whether read or recalled; common practice has none, and all say where to look."""
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", record.id)
    assert record.title
    assert record.clause
    assert record.basis in {"published", "from_memory", "common_practice"}
    # The technical bulletin and the journal's page that were read do not show their own year.
    assert (record.year is None) == (record.basis == "common_practice" or record.id in ("nvic-7-68", "alwc-ports"))


@pytest.mark.parametrize(
    ("known", "basis"),
    [
        ("api-570-rate", "published"),
        ("api-570-interval", "from_memory"),
        ("en-1993-5-fresh", "from_memory"),
        ("en-1993-5-sea", "published"),
        ("en-10029-class-a", "from_memory"),
        ("astm-g46", "from_memory"),
        ("nvic-7-68", "published"),
        ("gum", "published"),
        ("es-trin-3-02", "published"),
        ("eu-2016-1629-scope", "from_memory"),
        ("iso-12215-5", "from_memory"),
        ("dnv-rp-b401-design", "from_memory"),
        ("mil-hdbk-1004-10", "published"),
        ("anode-practice", "common_practice"),
        ("insurer-minimum", "common_practice"),
        ("loss-watch", "common_practice"),
        ("survey-interval", "common_practice"),
    ],
)
def test_how_it_is_known(known, basis):
    """What was only recalled says so, and so does what no authority was found for."""
    assert REFERENCES[known].basis == basis
