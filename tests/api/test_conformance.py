"""`check_calculation` passes everything that is served, and tells every departure from the contract in words to act on."""

import doctest
import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from importlib.metadata import entry_points
from types import SimpleNamespace
from typing import Any

import marshmallow as ma
import numpy as np
import pytest

from platemargin.declared import Assumption, Fault, Finding, Step, columns, refuse
from platemargin.reference import Reference
from platemargin.rule_sets.inland_vessel_benchmark import rule_set as benchmark
from platemargin.rule_sets.trade_practice import rule_set as trade_practice
from platemargin_api import arithmetic, declarations, testing
from platemargin_api.calculation import GROUP, Calculation
from platemargin_api.calculations.threshold_check import calculation as threshold_check
from platemargin_api.fields import Choice, Day, Flag, Integer, List, Member, Number, Object, Request, Response, Rows, Text
from platemargin_api.registry import load_registry
from platemargin_api.testing import check_calculation, evaluate


@pytest.mark.parametrize("name", sorted(entry_points(group=GROUP).names))
def test_every_calculation_that_is_served_keeps_the_contract(name):
    check_calculation(load_registry().calculations[name].offered)


# A tiny elementwise calculation, and one that is not: both keep the contract.


NO_DAY = np.datetime64("NaT")


class Fit(IntEnum):
    LOOSE = 0
    TIGHT = 1


class GapRequest(Request):
    hole_mm = Number("mm", 1, 50, description="Hole.", required=True)
    pin_mm = Number("mm", 1, 50, description="Pin.", required=True)
    wanted_mm = Number("mm", 0, 1, description="Gap that is wanted.")
    faces = Integer(1, 2, description="Faces that are coated.", default=2, basis="both are")
    finish = Choice(("rough", "smooth"), description="Finish.")
    read_on = Day(description="Day of the reading.")


class GapResult(Response):
    gap_mm = Number("mm", 0, 49, description="Gap.")
    excess_mm = Number("mm", -1, 49, description="Gap over what is wanted.", nullable=True)
    fit = Choice(Fit, description="How it fits.")


@dataclass(frozen=True)
class Gap:
    gap_mm: Any
    excess_mm: Any
    fit: Any


GAP_FAULTS = (
    Fault(
        field="pin_mm",
        code="pin_too_thick",
        message="a pin of {pin_mm} mm does not enter a hole of {hole_mm} mm",
        broken=lambda a: a["pin_mm"] > a["hole_mm"],
    ),
)
GAP_DOCSTRING = """Take the pin from the hole.

Parameters
----------
hole_mm, pin_mm, wanted_mm, faces, finish, read_on : array
    [mm].

Returns
-------
Gap

Raises
------
NotApplicableError
    For a pin thicker than the hole.

Notes
-----
Valid for round pins.

Examples
--------
>>> gap(hole_mm=10.0, pin_mm=9.5).gap_mm
0.5

References
----------
a-drawing
"""


def documented(run, docstring=GAP_DOCSTRING):
    run.__doc__ = docstring
    return run


def fitted(hole_mm, pin_mm, wanted_mm):
    gap = hole_mm - pin_mm
    return Gap(gap_mm=gap, excess_mm=gap - wanted_mm, fit=np.where(gap > 0, Fit.LOOSE, Fit.TIGHT))


@documented
def gap(*, hole_mm, pin_mm, wanted_mm=np.nan, faces=2, finish=-1, read_on=NO_DAY):
    given = columns(locals())
    refuse(GAP_FAULTS, given)
    return fitted(given["hole_mm"], given["pin_mm"], given["wanted_mm"])


DRAWING = Reference(id="a-drawing", title="A drawing", year=None, clause="1", basis="common_practice")
WIDE = Finding(
    code="wide",
    severity="watch",
    statement="{gap_mm} mm is wide.",
    values=("gap_mm",),
    applies=lambda _, result: result.gap_mm > 5,
)
STEP = Step(
    symbol="gap_mm",
    formula="hole_mm - pin_mm",
    substituted="{hole_mm} - {pin_mm}",
    value="gap_mm",
    unit="mm",
    reference="a-drawing",
)
GAP = Calculation(
    id="gap",
    version="1.0.0",
    title="Gap",
    description="Takes the pin from the hole.",
    request=GapRequest,
    response=GapResult,
    run=gap,
    elementwise=True,
    faults=GAP_FAULTS,
    findings=(WIDE,),
    working=(STEP,),
    summary=lambda figures: [f"The gap is {figures['gap_mm']} mm."],
    references=(DRAWING,),
    cautions=(),
    example={"hole_mm": 10.0, "pin_mm": 9.5, "wanted_mm": 0.25, "finish": "smooth", "read_on": "2026-05-04"},
)


# An elementwise calculation whose result holds an object and an array, each in columns.


class Side(Response):
    gap_mm = Number("mm", 0, 49, description="Gap.")
    name = Text(1, 9, description="Which side.")


class SidedResult(GapResult):
    middle = Object(Side, description="In the middle.")
    ends = Rows(Side, 2, 2, description="At both ends.")
    halves_mm = List(Number("mm", 0, 49, description="Half a gap."), 2, 2, description="Halves.")


@dataclass(frozen=True)
class Columns:
    gap_mm: Any
    name: Any


@documented
def sided(**given):
    whole = gap(**given)
    ends = tuple(Columns(whole.gap_mm / n, np.full(len(whole.gap_mm), f"end {n}")) for n in (1, 2))
    middle = Columns(whole.gap_mm * 0.75, np.full(len(whole.gap_mm), "middle"))
    return SimpleNamespace(**vars(whole), middle=middle, ends=ends, halves_mm=(whole.gap_mm / 2, whole.gap_mm / 2))


@documented
def sided_gap(*, hole_mm, pin_mm, wanted_mm, faces, finish, read_on):
    return sided(hole_mm=hole_mm, pin_mm=pin_mm, wanted_mm=wanted_mm, faces=faces, finish=finish, read_on=read_on)


SIDED = replace(GAP, id="sided", response=SidedResult, run=sided_gap)


class CutRequest(Member):
    at_m = Number("m", 0, 20, description="Where, from the stem.", required=True)


class ToolRequest(Member):
    name = Text(1, 9, description="Name.")


class CutsRequest(Request):
    cuts = Rows(CutRequest, 1, 100, description="Cuts.", required=True)
    tool = Object(ToolRequest, description="Tool.")
    notes = List(Text(1, 9, description="A note."), 0, 9, description="Notes.", default=[])


class CutResponse(Response):
    length_m = Number("m", 0, 20, description="Length.")


class CutsResult(Response):
    lengths = Rows(CutResponse, 0, 100, description="Lengths between cuts.")
    ordered = Flag(description="Whether they were in order.")


@dataclass(frozen=True)
class Cuts:
    lengths: Sequence[Any]
    ordered: bool


def cut_lengths(cuts):
    at = [cut["at_m"] for cut in cuts]
    return Cuts(
        lengths=[{"length_m": b - a} for a, b in itertools.pairwise(sorted(at))],
        ordered=at == sorted(at),
    )


@documented
def cut(*, cuts, tool, notes):  # noqa: ARG001  the contract asks for every member
    return cut_lengths(cuts)


CUT = replace(
    GAP,
    id="cut",
    request=CutsRequest,
    response=CutsResult,
    run=cut,
    elementwise=False,
    faults=(),
    findings=(),
    working=(),
    summary=lambda figures: [f"It makes {len(figures['lengths'])} pieces."],
    example={"cuts": [{"at_m": 5.0}, {"at_m": 2.0}], "tool": {"name": "saw"}},
)


def assumes(when):
    return replace(GAP, assumed=(Assumption(field="wanted_mm", value=0.0, unit="mm", basis="none is wanted", when=when),))


ASSUMING = replace(assumes(lambda a, _: np.isnan(a["wanted_mm"])), id="assuming")


@pytest.mark.parametrize("calculation", [GAP, SIDED, CUT, ASSUMING], ids=lambda calculation: calculation.id)
def test_a_tiny_calculation_keeps_the_contract(calculation):
    check_calculation(calculation)


def departures(calculation, **kwargs):
    """Return what the kit finds wrong."""
    with pytest.raises(AssertionError) as caught:
        check_calculation(calculation, **kwargs)
    heading, *told = str(caught.value).split("\n- ")
    assert heading == f"{calculation.id} departs from the contract of a calculation:"
    return told


# One thing wrong at a time, and the words that tell it.


def schema(base, name, /, **members):
    return type(name, (base,), members)


def asks(calculation=GAP, **members):
    return replace(calculation, request=schema(calculation.request, "BrokenRequest", **members))


def answers(calculation=GAP, **members):
    return replace(calculation, response=schema(calculation.response, "BrokenResult", **members))


def runs(run, calculation=GAP):
    return replace(calculation, run=documented(run))


def finds(**changed):
    return replace(GAP, findings=(replace(WIDE, **changed),))


def works(**changed):
    return replace(GAP, working=(replace(STEP, **changed),))


def refuses(**changed):
    return replace(GAP, faults=(replace(GAP_FAULTS[0], **changed),))


def told_by(*sentences):
    return replace(GAP, summary=lambda _: sentences)


def keywords_in_bulk(**given):
    return gap(**given)


def keyword_too_many(*, hole_mm, pin_mm, wanted_mm, faces, finish, read_on, colour="red"):  # noqa: ARG001
    return gap(hole_mm=hole_mm, pin_mm=pin_mm, wanted_mm=wanted_mm)


def keyword_missing(*, hole_mm, pin_mm, wanted_mm, faces, finish):  # noqa: ARG001
    return gap(hole_mm=hole_mm, pin_mm=pin_mm, wanted_mm=wanted_mm)


def positional(hole_mm, /, *, pin_mm, wanted_mm, faces, finish, read_on):  # noqa: ARG001
    return gap(hole_mm=hole_mm, pin_mm=pin_mm, wanted_mm=wanted_mm)


def altered(change):
    """Return the run of the tiny calculation with something done to its arguments, or to its result."""

    def run(*, hole_mm, pin_mm, wanted_mm=np.nan, faces=2, finish=-1, read_on=NO_DAY):
        given = {"hole_mm": hole_mm, "pin_mm": pin_mm, "wanted_mm": wanted_mm, "faces": faces, "finish": finish}
        return change(gap(**given), **given, read_on=read_on)

    return runs(run)


def careless(docstring=GAP_DOCSTRING):
    """Return a run of the tiny calculation that refuses nothing."""

    def run(*, hole_mm, pin_mm, wanted_mm=np.nan, faces=2, finish=-1, read_on=NO_DAY):  # noqa: ARG001
        return fitted(hole_mm, pin_mm, wanted_mm)

    return replace(GAP, run=documented(run, docstring))


def sorts_in_place(result, *, hole_mm, **_):
    hole_mm += 1
    return result


def sorts_cuts_in_place(*, cuts, tool, notes):  # noqa: ARG001
    cuts.sort(key=lambda cut: cut["at_m"])
    return cut_lengths(cuts)


COUNTER = itertools.count()


def counts(result, **_):
    return replace(result, gap_mm=result.gap_mm + 0.001 * next(COUNTER))


def fails_at_a_bound(result, *, pin_mm, **_):
    if (pin_mm == 1).any():
        raise ArithmeticError("no such pin")
    return result


def reckons_with_other_rows(result, **_):
    return replace(result, gap_mm=np.full_like(result.gap_mm, result.gap_mm.mean()))


def mixes_sides(*, hole_mm, pin_mm, wanted_mm, faces, finish, read_on):
    whole = sided(hole_mm=hole_mm, pin_mm=pin_mm, wanted_mm=wanted_mm, faces=faces, finish=finish, read_on=read_on)
    whole.middle = replace(whole.middle, gap_mm=np.full_like(whole.middle.gap_mm, whole.middle.gap_mm.mean()))
    return whole


def takes_one_row(result, *, hole_mm, **_):
    return replace(result, fit=Fit.LOOSE if hole_mm > 1 else Fit.TIGHT)


class Odd(Number):
    def _serialize(self, value, *_, **__):
        return str(value)


MM = {"unit": "mm", "minimum": 0, "maximum": 1, "description": "Gap that is wanted."}
OPEN = type("Open", (), {"unknown": ma.INCLUDE})
BROKEN = {
    # What it declares.
    "an id in capitals": (replace(GAP, id="Gap"), "the id 'Gap' is not in kebab-case; change it"),
    "a version of two parts": (replace(GAP, version="1.0"), "the version '1.0' is not of the form 1.2.3; change it"),
    "no label": (
        asks(id=Text(1, 50, description="A label.")),
        "request: every call may carry a label; leave id as Request has it",
    ),
    "a foreign field": (
        asks(wanted_mm=ma.fields.Float()),
        "request.wanted_mm: it is no field of platemargin_api.fields; use one",
    ),
    "a name in camel case": (asks(wantedMm=Number(**MM)), "request.wantedMm: its name is not in snake_case"),
    "no description": (
        asks(wanted_mm=Number("mm", 0, 1, description="")),
        "request.wanted_mm: it has no description; say what it is",
    ),
    "no description of items": (
        asks(CUT, notes=List(Text(1, 9, description=""), 0, 9, description="Notes.", default=[])),
        "request.notes[]: it has no description; say what it is",
    ),
    "no unit": (
        answers(gap_mm=Number("", 0, 49, decimals=3, description="Gap.")),
        "response.gap_mm: it has no unit; name one",
    ),
    "no unit of a whole number": (
        asks(faces=Integer(1, 2, unit="", description="Faces.", default=2, basis="both")),
        "request.faces: it has no unit; name one",
    ),
    "another unit than its name says": (
        asks(wanted_mm=Number("m", 0, 1, description="Gap.")),
        "request.wanted_mm: its name ends in a unit that is not its own; make them agree",
    ),
    "another unit than its name says, in plural": (
        asks(wait_months=Integer(0, 9, description="Wait.", default=0, basis="none")),
        "request.wait_months: its name ends in a unit that is not its own; make them agree",
    ),
    "more decimals than sentences write": (
        answers(gap_mm=Number("mm", 0, 49, decimals=5, description="Gap.")),
        "response.gap_mm: its name ends in a unit of fewer decimals; declare no more",
    ),
    "no maximum": (
        asks(wanted_mm=Number("mm", 0, float("inf"), description="Gap.")),
        "request.wanted_mm: it has no finite minimum and maximum, in that order",
    ),
    "bounds in disorder": (
        answers(
            CUT, lengths=Rows(schema(Response, "Length", length_m=Number("m", 20, 0, description="L.")), 0, 9, description="L.")
        ),
        "response.lengths[].length_m: it has no finite minimum and maximum, in that order",
    ),
    "a string of any length": (
        asks(CUT, notes=List(Text(1, None, description="A note."), 0, 9, description="Notes.", default=[])),
        "request.notes[]: it has no maximum length",
    ),
    "an array of any length": (
        asks(CUT, cuts=Rows(CutRequest, 1, None, description="Cuts.", required=True)),
        "request.cuts: it has no maximum length",
    ),
    "a default without a basis": (
        asks(wanted_mm=Number(**MM, default=0.5)),
        "request.wanted_mm: say in basis= why this default",
    ),
    "a member object of a foreign schema": (
        asks(CUT, tool=Object(schema(ma.Schema, "Tool", name=Text(1, 9, description="Name.")), description="Tool.")),
        "request.tool: base its schema on Member or Response",
    ),
    "a request of a foreign schema": (
        replace(CUT, request=schema(ma.Schema, "Bare", **CutsRequest().fields)),
        "request: base it on platemargin_api.fields.Request",
    ),
    "a response of a foreign schema": (
        replace(CUT, response=schema(ma.Schema, "Bare", **CutsResult().fields)),
        "response: base it on platemargin_api.fields.Response",
    ),
    "unknown members accepted": (asks(Meta=OPEN), "request: it accepts unknown members; leave Meta.unknown as Member has it"),
    "unknown members accepted within": (
        asks(CUT, tool=Object(schema(ToolRequest, "Tool", Meta=OPEN), description="Tool.")),
        "request.tool: it accepts unknown members; leave Meta.unknown as Member has it",
    ),
    "keywords in bulk": (runs(keywords_in_bulk), "run: given is variadic keyword; name each keyword"),
    "a positional argument": (runs(positional), "run: hole_mm is positional-only; name each keyword"),
    "a keyword too many": (runs(keyword_too_many), "run: its keyword colour is no member of the request"),
    "a keyword too few": (runs(keyword_missing), "run: it has no keyword read_on, which is a member of the request"),
    "no reference": (
        replace(GAP, references=()),
        "references: there is none; what the trade does without a publication is one too (common_practice)",
    ),
    "two references of one id": (replace(GAP, references=(DRAWING, DRAWING)), "references: two are called a-drawing"),
    "a step that cites nothing known": (
        works(reference="a-rumour"),
        "working gap_mm: it cites a-rumour, which is not among references",
    ),
    "no docstring": (careless(docstring=""), "run: its docstring has no section Parameters"),
    "no notes in the docstring": (
        careless(docstring=GAP_DOCSTRING.replace("Notes\n-----", "")),
        "run: its docstring has no section Notes",
    ),
    "a docstring that cites nothing known": (
        careless(docstring=GAP_DOCSTRING.replace("a-drawing", "a-drawing, a-rumour")),
        "run: its docstring cites a-rumour, which is not among references; cite ids, with commas between them",
    ),
    "two findings of one code": (replace(GAP, findings=(WIDE, WIDE)), "finding wide: two have this code"),
    "a finding's code in kebab-case": (finds(code="too-wide"), "finding too-wide: its code is not in snake_case"),
    "a fault's code in capitals": (refuses(code="PinTooThick"), "fault PinTooThick: its code is not in snake_case"),
    "a severity of its own": (finds(severity="panic"), "finding wide: its severity 'panic' is none of note, watch, act"),
    "a placeholder without a value": (
        finds(statement="{gap_mm} of {hole_mm} mm"),
        "finding wide: its statement uses {hole_mm}, which is not among its values",
    ),
    "a value that is nowhere": (
        finds(values=("gap_mm", "colour")),
        "finding wide: its value colour is no member of the request or the response",
    ),
    "a finding about nothing sent": (finds(field="gap_mm"), "finding wide: its field gap_mm is no member of the request"),
    "a fault of nothing sent": (refuses(field="gap_mm"), "fault pin_too_thick: its field gap_mm is no member of the request"),
    "a flag in a column": (
        asks(wanted_mm=Flag(description="Wanted.")),
        "request.wanted_mm: it cannot be a column: take a Number, Choice, Day, or an Integer that is never absent",
    ),
    "a whole number absent from a column": (
        asks(faces=Integer(1, 2, description="Faces.")),
        "request.faces: it cannot be a column: take a Number, Choice, Day, or an Integer that is never absent",
    ),
    "an array in a column": (
        answers(gap_mm=List(Number(**MM), 0, 9, description="Gaps.")),
        "response.gap_mm: an array in columns has one length, 1 or more; give it as minimum and as maximum",
    ),
    "an empty array in a column": (
        answers(SIDED, ends=Rows(Side, 0, 0, description="None.")),
        "response.ends: an array in columns has one length, 1 or more; give it as minimum and as maximum",
    ),
    "an object in columns that may be null": (
        answers(SIDED, middle=Object(Side, description="In the middle.", nullable=True)),
        "response.middle: an object or an array in columns is never null; let its members be",
    ),
    "an array of any length in an object in columns": (
        answers(
            SIDED,
            middle=Object(schema(Response, "Sides", ends=Rows(Side, 0, 9, description="Ends.")), description="In the middle."),
        ),
        "response.middle.ends: an array in columns has one length, 1 or more; give it as minimum and as maximum",
    ),
    "a foreign field in an object in columns": (
        answers(SIDED, ends=Rows(schema(Response, "Odd", gap_mm=ma.fields.Float()), 2, 2, description="Ends.")),
        "response.ends[].gap_mm: it cannot be a column: take a Number, Integer, Choice, Day, Text or Flag",
    ),
    "a number of items other than declared": (
        answers(SIDED, ends=Rows(Side, 3, 3, description="Ends.")),
        "result.ends: it has 2 items, its field says 3 to 3",
    ),
    "rows within an object that depend on each other": (
        replace(SIDED, run=documented(mixes_sides)),
        "result.middle: ",
    ),
    # What it answers.
    "an example that is no request": (
        replace(GAP, example={"pin_mm": 9.5}),
        "example: it cannot be answered (ProblemError: /hole_mm: is required: a number from 1 to 50 mm)",
    ),
    "an example that is refused": (
        replace(GAP, example={"pin_mm": 9.5, "hole_mm": 9.0}),
        "example: it cannot be answered (NotApplicableError: pin_mm.0: a pin of 9.5 mm does not enter a hole of 9 mm)",
    ),
    "a result that is not finite": (
        altered(lambda result, **_: replace(result, gap_mm=result.gap_mm * np.nan)),
        "example: it cannot be answered (FloatingPointError: gap_mm has no finite value)",
    ),
    "a result without a member": (
        altered(lambda result, **_: SimpleNamespace(gap_mm=result.gap_mm, fit=result.fit)),
        "example: it cannot be answered (AttributeError: 'types.SimpleNamespace' object has no attribute 'excess_mm')",
    ),
    "an argument changed": (altered(sorts_in_place), "run: it changes its argument hole_mm; work on a copy"),
    "an argument changed within": (
        runs(sorts_cuts_in_place, CUT),
        "run: it changes its argument cuts; work on a copy",
    ),
    "a field that writes in its own way": (
        answers(gap_mm=Odd("mm", 0, 49, description="Gap.")),
        "response: the service writes the example's result otherwise than schema.dump; override no method of a field",
    ),
    "a null where none may be": (
        altered(lambda result, **_: replace(result, fit=np.full_like(result.fit, -1))),
        "result.fit: null, which its field does not allow; nullable=True",
    ),
    "a result beyond its bounds": (
        answers(gap_mm=Number("mm", 0, 0.1, description="Gap.")),
        "result.gap_mm: must be from 0 to 0.1 mm, not 0.5",
    ),
    "a result beyond its bounds within": (
        answers(
            CUT, lengths=Rows(schema(Response, "Length", length_m=Number("m", 0, 1, description="L.")), 0, 9, description="L.")
        ),
        "result.lengths[].length_m: must be from 0 to 1 m, not 3",
    ),
    "an answer that counts its calls": (
        altered(counts),
        "answer: the example sent twice is answered in other bytes; read no clock, no state and no chance",
    ),
    "no sentence": (told_by(), "summary: it gives no 1 to 5 sentences, none empty"),
    "six sentences": (told_by(*"abcdef"), "summary: it gives no 1 to 5 sentences, none empty"),
    "an empty sentence": (told_by("The gap is wide.", " "), "summary: it gives no 1 to 5 sentences, none empty"),
    "a summary that fails": (
        replace(GAP, summary=lambda figures: [figures["colour"]]),
        "answer: it fails (KeyError: 'colour')",
    ),
    "a line of working that is no arithmetic": (
        works(substituted="{hole_mm} less {pin_mm}"),
        "working gap_mm: 10 less 9.5 cannot be evaluated as written (invalid syntax (<unknown>, line 1))",
    ),
    "a line of working that is wrong": (
        works(substituted="{hole_mm} - {pin_mm} / 1.001"),
        "working gap_mm: 10 - 9.5 / 1.001 is 0.509491, not 0.5",
    ),
    "a line of working with an unknown figure": (
        works(substituted="{hole_mm} - {colour}"),
        "working gap_mm: {colour} is no member of the request or the response",
    ),
    "a line of working in another unit": (works(unit="m"), "working gap_mm: its unit is m, that of gap_mm is mm"),
    "a failure at a bound": (
        altered(fails_at_a_bound),
        "example with pin_mm = 1: it cannot be answered (ArithmeticError: no such pin)",
    ),
    "a result beyond its bounds at a bound": (
        answers(gap_mm=Number("mm", 0, 20, description="Gap.")),
        "example with hole_mm = 50: result.gap_mm: must be from 0 to 20 mm, not 40.5",
    ),
    "a fault that run does not refuse": (
        careless(),
        "example with hole_mm = 1: run refuses it for [], its faults say ['pin_too_thick']; let run call refuse(FAULTS, ...)",
    ),
    "a refusal that is no fault": (
        replace(GAP, faults=()),
        "example with hole_mm = 1: run refuses it for ['pin_too_thick'], its faults say []; let run call refuse(FAULTS, ...)",
    ),
    "rows that depend on each other": (altered(reckons_with_other_rows), "result.gap_mm: "),
    "an assumption that asks its first row": (
        assumes(lambda a, _: np.isnan(a["wanted_mm"][0])),
        "assumed wanted_mm: let when answer with an array, true in each row where the value was taken",
    ),
    "an assumption that asks all rows at once": (
        assumes(lambda a, _: bool(np.isnan(a["wanted_mm"]))),
        "assumed wanted_mm: let when answer with an array, true in each row where the value was taken",
    ),
    "one answer for many rows": (altered(takes_one_row), "all answers: it fails (ValueError: The truth value of an array"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_it_tells(case):
    calculation, words = BROKEN[case]
    told = departures(calculation)
    assert any(line.startswith(words) for line in told), told


def test_it_tells_every_departure_at_once():
    told = departures(replace(finds(severity="panic"), version="1", references=()))
    assert len(told) >= 4
    assert len(set(told)) == len(told)


def test_everything_that_a_member_keeps_is_proven_to_be_told():
    """A rule about members that is added needs a broken calculation here."""
    told = {words.partition(": ")[2] for _, words in BROKEN.values()}
    assert {words for *_, words in declarations._MEMBERS} <= told


@pytest.mark.parametrize("module", [testing, arithmetic], ids=lambda module: module.__name__)
def test_the_examples_in_its_docstrings_hold(module):
    done = doctest.testmod(module)
    assert done.attempted > 0
    assert done.failed == 0


def test_a_rule_set_that_is_not_installed_is_given_to_it():
    mine = replace(trade_practice, id="mine")
    calculation = replace(threshold_check, example={**threshold_check.example, "rule_sets": ["mine"]})
    check_calculation(calculation, rule_sets=[mine])
    (told,) = departures(calculation)
    assert told.startswith("example: it cannot be answered (ProblemError: /rule_sets/0: must be one of inland-vessel-benchmark")


def test_limits_by_hull_are_worked_out_at_every_corner_of_a_hulls_size():
    """What would fail, or could not be told, for somebody's boat is told to the author."""
    check_calculation(threshold_check, rule_sets=[benchmark])

    def told(**changes):
        mine = replace(benchmark, id="mine", rules=(), by_hull=replace(benchmark.by_hull, **changes))
        with pytest.raises(AssertionError) as departed:
            check_calculation(threshold_check, rule_sets=[mine])
        return str(departed.value)

    def rules(limit):
        return lambda hull: (replace(benchmark.rules[0], at_least=limit(hull)),)

    by_length = rules(lambda hull: 4.0 + (hull["length_m"] - 21.336) * 2)
    assert "the limit of inland-vessel-bottom is 261.328; keep it from 0 to 200" in told(rules=by_length)
    assert "it fails (KeyError: 'beam_m')" in told(rules=rules(lambda hull: hull["beam_m"]))
    assert "outside tells ''; give the reason in words, or None" in told(outside=lambda _: "")


@pytest.mark.parametrize(("factor", "missed"), [("3", None), ("3.02", None), ("3.025", "0.504168"), ("3.05", "0.508334")])
def test_a_line_of_working_may_miss_its_value_by_the_rounding_of_its_figures_and_no_more(factor, missed):
    """A third of 0.5 mm is written as it is sent; 0.001 is allowed of the figure, three times over, and 0.001 of the value."""
    thirds = replace(
        works(substituted=f"{factor} * {{wanted_mm}}", when=lambda v: v["gap_mm"] == 0.5 and v["wanted_mm"] == 0.166667),
        example={"hole_mm": 10.0, "pin_mm": 9.5, "wanted_mm": 0.166667},
    )
    if missed:
        assert departures(thirds) == [f"working gap_mm: {factor} * 0.166667 is {missed}, not 0.5"]
    else:
        check_calculation(thirds)


def works_in_turn(*steps, figures):
    return replace(GAP, working=steps, working_figures=figures)


def test_what_is_worked_out_in_turn_is_all_checked():
    """Each of the figures fills the steps, in order; what one of them lacks is left out, and each line is looked at."""
    swapped = works_in_turn(STEP, figures=lambda figures, _: [figures, {"of": "b", **figures, "gap_mm": 0.25}])
    assert departures(swapped)[0] == "working gap_mm: 10 - 9.5 is 0.5, not 0.25"
    check_calculation(works_in_turn(STEP, figures=lambda figures, _: [{"of": "a", **figures}, {"of": "b"}]))
    check_calculation(works_in_turn(STEP, figures=lambda _figures, _result: []))


def test_a_step_may_tell_what_it_cites():
    check_calculation(works(reference=lambda figures: f"a drawing of {figures['hole_mm']} mm"))


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("2 + 3 * 4", 14),
        ("(2 + 3) * 4", 20),
        ("-2^2", -4),
        ("2^-1", 0.5),
        ("2^3^2", 512),
        ("10 - 2.8 - 0.2", 7),
        ("max(8.8 - 9, 0)", 0),
        ("min(3, 2, 4)", 2),
        ("sqrt(3^2 + 4^2)", 5),
        ("Phi(0)", 0.5),
        ("Phi(1.644854)", 0.95),
        ("1e-3 * 1000", 1),
        ("ln(10)", 2.302585093),
        ("acos(0.5)", 1.047197551),
        ("ceil(28.4) + floor(2.9)", 31),
    ],
)
def test_a_line_of_working_is_evaluated(line, value):
    assert evaluate(line) == pytest.approx(value, abs=1e-7)


@pytest.mark.parametrize(
    "line",
    [
        "",
        "2 3",
        "2 x 3",
        "hole_mm - pin_mm",
        "1 / 0",
        "sqrt(-1)",
        "(-8)^(1 / 3)",
        "10.0^400",
        "sqrt()",
        "sqrt(1, 2)",
        "ln(0)",
        "acos(2)",
        "max(1, key=2)",
        "abs(1)",
        "__import__('os')",
        "(1).real",
        "[1]",
        "'1'",
        "1 if 2 else 3",
        "1 // 2",
        "not 1",
    ],
)
def test_nothing_else_is_evaluated(line):
    with pytest.raises(ValueError, match=r"."):
        evaluate(line)
