"""The table of evidence and the request fit: each sign can be sent, and what can be sent without effect is known."""

import re

import pytest

from platemargin.attack_evidence import EVIDENCE
from platemargin_api.app import create_app
from platemargin_api.calculations.attack_form import AttackFormRequest, attack_forms, observations
from platemargin_api.fields import Choice, Flag, List, Number, Object, Request, Response
from platemargin_api.registry import load_registry

client = create_app(load_registry()).test_client()

#: Values that say something and speak neither for nor against any form.
SILENT = {
    "pits.texture": {"smooth"},
    "pits.colours": {"other"},
    "pits.deposit": {"other"},
    "pits.location": {"elsewhere"},
    "pits.face": {"outside"},
    "setting.anodes_fitted": {"yes"},
    "setting.anode_wear": {"usual", "none"},
    "setting.shore_power": {"no"},
    "setting.galvanic_isolator": {"yes"},
    "setting.paint": {"bitumen", "epoxy", "other"},
    "setting.water": {"brackish", "sea"},
    "tests.dc_in_earth_lead": {"no"},
    "tubercles.core_colour": {"other"},
}


def members():
    """Return every member of the observations by the name that the table knows it by, with the values that it takes."""
    for part, field in AttackFormRequest().fields.items():
        if part == "id":
            continue
        schema = field.inner.schema if isinstance(field, List) else field.schema
        for name, member in schema.fields.items():
            inner = member.inner if isinstance(member, List) else member
            if isinstance(inner, (Choice, Flag, Number)):
                yield (
                    f"{part}.{name}",
                    set(getattr(inner, "names", ())) or ({"yes", "no"} if isinstance(inner, Flag) else set()),
                )


MEMBERS = dict(members())


def used():
    """Return the values that the table's conditions name, by member."""
    found = {}
    for row in EVIDENCE:
        for clause in row.condition.split(" and "):
            name, words = re.fullmatch(r"(\S+) (?:is (.+)|at (?:least|most) \S+)", clause).groups()
            found.setdefault(name, set()).update((words or "").split(" or ") if words else ())
    return found


def test_every_sign_speaks_of_what_can_be_sent():
    for name, values in used().items():
        assert values <= MEMBERS[name], name


def test_what_has_no_effect_is_known():
    """An observation that no sign speaks of would be asked for and passed over in silence."""
    silent = {name: values - used().get(name, set()) for name, values in MEMBERS.items()}
    assert {name: values for name, values in silent.items() if values} == SILENT
    assert set(MEMBERS) - set(used()) == {"pits.width_mm", "pits.depth_mm"}  # they give the profile


@pytest.mark.parametrize("colour", sorted(MEMBERS["pits.colours"]))
def test_no_colour_makes_any_form_consistent_over_http(colour):
    told = client.post("/v1/calculations/attack-form", json={"pits": [{"colours": [colour]}]}).json
    assert {one["standing"] for one in told["result"]["candidates"]} == {"possible"}
    assert {"nothing_settled"} <= {finding["code"] for finding in told["findings"]}


def test_a_larger_survey_can_carry_it():
    """The members fit into another's request and result, and what is observed is run as it is loaded."""

    class Larger(Request):
        observations = observations()

    class Told(Response):
        attack_forms = attack_forms()

    loaded = Larger().load({"observations": {"pits": [{"smell": "bad_eggs"}], "tubercles": None}})
    result = load_registry().calculations["attack-form"].offered.run(**loaded["observations"])
    assert Told().dump({"attack_forms": result})["attack_forms"]["candidates"][0]["form"] == "sulphate_reducing"
    assert Told().dump({"attack_forms": None}) == {"attack_forms": None}
    assert isinstance(Larger().fields["observations"], Object)


def test_two_hundred_pits_with_everything_are_answered():
    pit = {
        "profile": "irregular",
        "outline": "irregular",
        "edge": "burred",
        "texture": "scored",
        "distribution": "band",
        "colours": sorted(MEMBERS["pits.colours"]),
        "deposit": "tubercle",
        "surface_under_deposit": "black",
        "smell": "bad_eggs",
        "deposit_ph": 3.0,
        "location": "waterline",
        "face": "inside",
        "width_mm": 20.0,
        "depth_mm": 4.0,
        "rate_mm_per_year": 1.0,
    }
    told = client.post("/v1/calculations/attack-form", json={"pits": [pit] * 200, "tubercles": {"seen": True}}).json
    assert told["result"]["observations_count"] == 200 * len(pit) + 1
    assert all(len(one["pits"]) == 200 for one in told["result"]["candidates"])
