"""A calculation that changes what it was given is told of, however that is kept: it would answer what nobody sent."""

from dataclasses import dataclass

import orjson
import pytest

from platemargin.reference import RESIDUAL_DATUM
from platemargin_api.answer import answer, digest
from platemargin_api.calculation import Calculation
from platemargin_api.fields import List, Member, Number, Object, Request, Response, Rows, RuleSets, Text
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Distribution, Registry, Served, load_registry


def number():
    return Number("mm", 0, 9, description="A number.")


class Inner(Member):
    deep_mm = number()


class Flat(Member):
    zone = Text(1, 9, description="A zone.")
    plate_mm = number()


class Nested(Member):
    plate_mm = number()
    inner = Object(Inner, description="An object.")


class Listed(Member):
    depths_mm = List(number(), 0, 5, description="Numbers.")


class Asked(Request):
    flat = Rows(Flat, 0, 5, description="Rows of single values.")
    nested = Rows(Nested, 0, 5, description="Rows with objects.")
    listed = Rows(Listed, 0, 5, description="Rows with lists.")
    numbers = List(number(), 0, 5, description="Numbers.")
    one = Object(Flat, description="An object.")


class Told(Response):
    count = Number("mm", 0, 9, description="A number.")


@dataclass(frozen=True)
class Result:
    count: float = 1.0


SENT = {
    "flat": [{"zone": "a", "plate_mm": 1.0}, {"plate_mm": 2.0}],
    "nested": [{"plate_mm": 1.0, "inner": {"deep_mm": 1.0}}],
    "listed": [{"depths_mm": [1.0]}],
    "numbers": [1.0, 2.0],
    "one": {"zone": "b"},
}


class Ruled(Request):
    flat = Rows(Flat, 0, 5, description="Rows of single values.")
    rule_sets = RuleSets(default_ids=("trade-practice",), unless="flat", description="Rule sets.")


def answered(change, sent, request=Asked):
    """Answer a request by a calculation that does something to what it is given."""

    def run(**given):
        change(given)
        return Result()

    offered = Calculation(
        id="changing",
        version="1.0.0",
        title="Changes what it is given",
        description="Nothing else.",
        request=request,
        response=Told,
        run=run,
        summary=lambda _: ["Done."],
        references=(RESIDUAL_DATUM,),
        cautions=(),
        example=sent,
    )
    served = Served(offered, Distribution("tests", "0"))
    return answer(served, Registry({"changing": served}, load_registry().rule_sets), orjson.dumps(sent))


CHANGES = {
    "a row's number": lambda given: given["flat"][0].update(plate_mm=3.0),
    "a row's text": lambda given: given["flat"][0].update(zone="c"),
    "one member more": lambda given: given["flat"][1].update(zone="a"),
    "one member less": lambda given: given["flat"][0].pop("zone"),
    "one row more": lambda given: given["flat"].append({"plate_mm": 1.0}),
    "one row less": lambda given: given["flat"].pop(),
    "another order": lambda given: given["flat"].reverse(),
    "deep in a row": lambda given: given["nested"][0]["inner"].update(deep_mm=2.0),
    "a list in a row": lambda given: given["listed"][0]["depths_mm"].append(2.0),
    "a number of a list": lambda given: given["numbers"].sort(reverse=True),
    "an object": lambda given: given["one"].update(zone="c"),
}


@pytest.mark.parametrize("sent", [SENT, {**SENT, "id": None}], ids=["as it is sent", "with a null"])
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_change_is_told_of(change, sent):
    with pytest.raises(ProblemError) as refused:
        answered(change, sent)
    assert refused.value.document()["type"] == "/problems/calculation-failed"
    assert str(refused.value.__cause__) == "it changed its arguments"


@pytest.mark.parametrize("sent", [SENT, {**SENT, "id": None}], ids=["as it is sent", "with a null"])
def test_what_is_left_as_it_is_is_answered(sent):
    one, other = answered(lambda _: None, sent), answered(lambda given: given["flat"][0].update(zone="a"), sent)
    assert one["result"] == {"count": 1.0}
    assert one == other
    assert one["provenance"]["arguments_digest"] == answered(lambda _: None, SENT)["provenance"]["arguments_digest"]


@pytest.mark.parametrize(
    ("sent", "asked"),
    [
        ({}, b'{"rule_sets":["trade-practice"]}'),
        ({"flat": []}, b'{"flat":[],"rule_sets":["trade-practice"]}'),
        ({"flat": [{"zone": "a", "plate_mm": 1}]}, b'{"flat":[{"plate_mm":1.0,"zone":"a"}],"rule_sets":[]}'),
    ],
)
def test_the_digest_is_of_the_rule_sets_that_apply_beside_a_table(sent, asked):
    """An empty table is as good as none: it does not stand in the place of the default."""
    assert answered(lambda _: None, sent, Ruled)["provenance"]["arguments_digest"] == digest(asked)
