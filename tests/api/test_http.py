"""What HTTP carries besides the body: preferences, versions, deprecation, digests; and that the same is always the same."""

import base64
import copy
import dataclasses
import hashlib
import json
import os
import random
import subprocess
import sys
from datetime import date

import orjson
import pytest

from platemargin_api.app import create_app
from platemargin_api.calculation import Deprecation
from platemargin_api.registry import Registry, Served, load_registry

registry = load_registry()
EXAMPLES = {name: dict(served.offered.example) for name, served in registry.calculations.items()}
WHOLE = ["calculation", "result", "summary", "findings", "assumed", "provenance", "working", "cautions", "references"]
MINIMAL = ["calculation", "result", "summary", "findings", "assumed", "provenance"]


@pytest.fixture(scope="module")
def application():
    return create_app(registry)


@pytest.fixture
def client(application):
    return application.test_client()


def post(client, calculation, body, **headers):
    """Send a body as it is, or an object as JSON."""
    data = body if isinstance(body, bytes) else json.dumps(body).encode()
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.post(f"/v1/calculations/{calculation}", data=data, headers={"Content-Type": "application/json", **named})


def sha_256(content: bytes) -> str:
    return f"sha-256=:{base64.b64encode(hashlib.sha256(content).digest()).decode()}:"


# Preferences


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_minimal_leaves_out_exactly_three_members(client, calculation):
    whole = post(client, calculation, EXAMPLES[calculation])
    minimal = post(client, calculation, EXAMPLES[calculation], Prefer="return=minimal")
    assert list(whole.json) == WHOLE
    assert list(minimal.json) == MINIMAL
    assert minimal.json == {name: member for name, member in whole.json.items() if name in MINIMAL}
    assert minimal.headers["Preference-Applied"] == "return=minimal"
    assert "Preference-Applied" not in whole.headers


@pytest.mark.parametrize(
    "prefer",
    [
        "return=minimal",
        'return="minimal"',
        "Return=minimal",
        "return = minimal",
        "  return=minimal  ",
        "return=minimal; foo=bar",
        "respond-async, return=minimal",
        "return=minimal, wait=10",
        "return=minimal, return=representation",
        'note="a, b", return=minimal',
        ",return=minimal,",
    ],
)
def test_minimal_is_understood_however_it_is_written(client, prefer):
    answer = post(client, "residual-thickness", EXAMPLES["residual-thickness"], Prefer=prefer)
    assert list(answer.json) == MINIMAL
    assert answer.headers["Preference-Applied"] == "return=minimal"


@pytest.mark.parametrize(
    "prefer",
    [
        "",
        "return",
        "return=",
        "return=representation",
        "return=representation, return=minimal",
        "returns=minimal",
        "return-type=minimal",
        "minimal",
        "handling=lenient",
        'note="return=minimal"',
        'note="a, return=minimal"',
    ],
)
def test_any_other_preference_is_ignored(client, prefer):
    answer = post(client, "residual-thickness", EXAMPLES["residual-thickness"], Prefer=prefer)
    assert answer.status_code == 200
    assert list(answer.json) == WHOLE
    assert "Preference-Applied" not in answer.headers


def test_two_prefer_headers_are_one_list(client):
    headers = [("Content-Type", "application/json"), ("Prefer", "wait=1"), ("Prefer", "return=minimal")]
    body = orjson.dumps(EXAMPLES["residual-thickness"])
    answer = client.post("/v1/calculations/residual-thickness", data=body, headers=headers)
    assert list(answer.json) == MINIMAL


def test_a_refused_call_applies_no_preference(client):
    answer = post(client, "residual-thickness", {}, Prefer="return=minimal")
    assert answer.status_code == 422
    assert "Preference-Applied" not in answer.headers


# Negotiation and caches


@pytest.mark.parametrize(
    "accept",
    [
        None,
        "",
        "*/*",
        "application/*",
        "application/json",
        "application/json; charset=utf-8",
        "APPLICATION/JSON",
        "text/html, application/json;q=0.1",
        "text/html, */*;q=0.1",
        "application/problem+json, application/json",
    ],
)
def test_json_is_answered_to_everybody_who_takes_it(client, accept):
    headers = {} if accept is None else {"Accept": accept}
    assert post(client, "residual-thickness", EXAMPLES["residual-thickness"], **headers).content_type == "application/json"
    assert client.get("/v1/calculations", headers=headers).content_type == "application/json"


@pytest.mark.parametrize(
    "content_type",
    [
        "application/json",
        "application/json; charset=utf-8",
        'application/json;charset="UTF-8"',
        "Application/JSON",
        "application/json;",
    ],
)
def test_json_is_read_however_its_type_is_written(client, content_type):
    body = EXAMPLES["residual-thickness"]
    assert post(client, "residual-thickness", body, Content_Type=content_type).status_code == 200


@pytest.mark.parametrize("coding", ["identity", "Identity"])
def test_no_coding_is_a_coding(client, coding):
    assert post(client, "residual-thickness", EXAMPLES["residual-thickness"], Content_Encoding=coding).status_code == 200


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_no_answer_is_kept_by_a_cache(client, calculation):
    for answer in (post(client, calculation, EXAMPLES[calculation]), post(client, calculation, {})):
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["Vary"] == "Accept, Prefer"


@pytest.mark.parametrize("path", ["/", "/v1/calculations", "/v1/calculations/hull-survey", "/v1/rule-sets", "/openapi.json"])
def test_a_catalogue_is_asked_for_again(client, path):
    answer = client.get(path)
    assert answer.headers["Cache-Control"] == "no-cache"
    assert answer.headers["Vary"] == "Accept"


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/v1/calculations",
        "/v1/calculations/hull-survey",
        "/v1/rule-sets",
        "/v1/rule-sets/trade-practice",
        "/openapi.json",
        "/problems/timeout",
        "/health/live",
        "/health/ready",
    ],
)
def test_head_tells_what_get_would(client, path):
    got, head = client.get(path), client.head(path)
    assert (head.status_code, head.data) == (200, b"")
    assert of_no_call(head) == of_no_call(got)
    assert int(head.headers["Content-Length"]) == len(got.data)


def of_no_call(response):
    """Return the headers without what each call has of its own."""
    return {name: value for name, value in response.headers.items() if name != "X-Request-Id"}


def test_head_of_what_is_not_there(client):
    head = client.head("/v1/calculations/zzz")
    assert (head.status_code, head.data, head.content_type) == (404, b"", "application/problem+json")


@pytest.mark.parametrize(
    ("path", "methods"),
    [
        ("/v1/calculations/plate-margin", {"GET", "HEAD", "OPTIONS", "POST"}),
        ("/v1/calculations", {"GET", "HEAD", "OPTIONS"}),
        ("/v1/rule-sets/trade-practice", {"GET", "HEAD", "OPTIONS"}),
        ("/health/ready", {"GET", "HEAD", "OPTIONS"}),
    ],
)
def test_options_and_405_tell_the_same_methods(client, path, methods):
    options, refused = client.options(path), client.patch(path)
    assert (options.status_code, options.data) == (200, b"")
    assert refused.status_code == 405
    for answer in (options, refused):
        assert set(answer.headers["Allow"].split(", ")) == methods


# Versions and deprecation


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_the_version_is_told_with_every_answer(client, calculation):
    version = registry.calculations[calculation].offered.version
    good = EXAMPLES[calculation]
    answers = {
        200: post(client, calculation, good),
        400: post(client, calculation, b"{"),
        406: post(client, calculation, good, Accept="audio/ogg"),
        415: post(client, calculation, good, Content_Type="text/plain"),
        422: post(client, calculation, {"no_member": 1}),
    }
    for status, answer in answers.items():
        assert answer.status_code == status
        assert answer.headers["Calculation-Version"] == version
        assert not {"Deprecation", "Sunset", "Link"} & set(answer.headers.keys())
    assert answers[200].json["calculation"] == {"id": calculation, "version": version}
    assert client.get(f"/v1/calculations/{calculation}").headers["Calculation-Version"] == version


@pytest.fixture(scope="module")
def deprecated():
    """Return a client of a service in which plate-margin is deprecated."""
    served = registry.calculations["plate-margin"]
    deprecation = Deprecation(deprecated_on=date(2026, 1, 31), sunset_on=date(2027, 3, 1), successor="remaining-life")
    offered = dataclasses.replace(served.offered, deprecation=deprecation, version="1.2.3")
    replaced = Served(offered=offered, distribution=served.distribution)
    calculations = {**registry.calculations, "plate-margin": replaced}
    return create_app(Registry(calculations=calculations, rule_sets=registry.rule_sets)).test_client()


@pytest.mark.parametrize("body", [EXAMPLES["plate-margin"], {}], ids=["success", "problem"])
def test_deprecation_is_told_with_every_answer(deprecated, body):
    answer = post(deprecated, "plate-margin", body)
    assert answer.headers["Calculation-Version"] == "1.2.3"
    assert answer.headers["Deprecation"] == "@1769817600"  # RFC 9745: seconds, 2026-01-31T00:00:00Z
    assert answer.headers["Sunset"] == "Mon, 01 Mar 2027 00:00:00 GMT"  # RFC 8594: an HTTP date
    assert answer.headers["Link"] == '</v1/calculations/remaining-life>; rel="successor-version"'


def test_deprecation_is_told_in_the_catalogue(deprecated):
    listed = {entry["id"]: entry["deprecated"] for entry in deprecated.get("/v1/calculations").json["calculations"]}
    assert listed == {name: name == "plate-margin" for name in EXAMPLES}
    described = deprecated.get("/v1/calculations/plate-margin")
    assert described.json["deprecation"] == {
        "deprecated_on": "2026-01-31",
        "sunset_on": "2027-03-01",
        "successor": "remaining-life",
    }
    assert described.headers["Deprecation"] == "@1769817600"
    assert deprecated.get("/v1/calculations/remaining-life").json["deprecation"] is None


def test_what_is_not_deprecated_beside_it_says_nothing(deprecated):
    assert "Deprecation" not in post(deprecated, "remaining-life", EXAMPLES["remaining-life"]).headers


def test_a_deprecation_without_a_successor_has_no_link():
    served = registry.calculations["plate-margin"]
    deprecation = Deprecation(deprecated_on=date(2026, 1, 1), sunset_on=date(2027, 1, 1))
    offered = dataclasses.replace(served.offered, deprecation=deprecation)
    only = Registry({"plate-margin": Served(offered=offered, distribution=served.distribution)}, registry.rule_sets)
    answer = post(create_app(only).test_client(), "plate-margin", EXAMPLES["plate-margin"])
    assert "Deprecation" in answer.headers
    assert "Link" not in answer.headers


def test_a_year_lies_between_deprecation_and_sunset():
    with pytest.raises(ValueError, match="12 months"):
        Deprecation(deprecated_on=date(2026, 1, 2), sunset_on=date(2027, 1, 1))


# The label and the digests


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_the_label_is_echoed_and_only_when_sent(client, calculation):
    good = EXAMPLES[calculation]
    labelled = post(client, calculation, {**good, "id": "frame 7 / \u00fc \u2603"}).json
    assert list(labelled) == [WHOLE[0], "id", *WHOLE[1:]]
    assert labelled.pop("id") == "frame 7 / \u00fc \u2603"
    without, null = post(client, calculation, good).json, post(client, calculation, {**good, "id": None}).json
    assert "id" not in without
    assert "id" not in null
    for told in (labelled, without, null):
        told["provenance"].pop("request_digest")
    assert labelled == without == null


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_the_request_digest_is_of_the_bytes(client, calculation):
    for body in (orjson.dumps(EXAMPLES[calculation]), json.dumps(EXAMPLES[calculation], indent=3).encode() + b"\r\n "):
        assert post(client, calculation, body).json["provenance"]["request_digest"] == sha_256(body)


def arguments_digest(client, calculation, body):
    answer = post(client, calculation, body)
    assert answer.status_code == 200, answer.data
    return answer.json["provenance"]["arguments_digest"]


def backwards(value):
    """Return a JSON value with the members of every object in the opposite order."""
    if isinstance(value, dict):
        return {name: backwards(value[name]) for name in reversed(value)}
    return [backwards(item) for item in value] if isinstance(value, list) else value


def whole_numbers(value):
    """Return a JSON value with 10.0 written as 10 and 10 as 10.0."""
    if isinstance(value, dict):
        return {name: whole_numbers(member) for name, member in value.items()}
    if isinstance(value, list):
        return [whole_numbers(item) for item in value]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def with_nulls(calculation, request):
    """Return a request in which every optional member that is not sent is null."""
    fields = registry.calculations[calculation].request.fields
    return {**dict.fromkeys(fields), **request}


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_the_arguments_digest_is_of_what_is_calculated_with(client, calculation):
    good = EXAMPLES[calculation]
    same = {
        "as it is": good,
        "in other white space": json.dumps(good, indent=4).encode(),
        "in another order": backwards(good),
        "in escapes": json.dumps(good).replace("_", "\\u005f").encode(),
        "in other digits": json.dumps(good).replace("10.0", "1.00e1").encode(),
        "in whole numbers": whole_numbers(good),
        "with nulls": with_nulls(calculation, good),
        "with a label": {**good, "id": "another"},
    }
    digests = {name: arguments_digest(client, calculation, body) for name, body in same.items()}
    assert set(digests.values()) == {digests["as it is"]}, digests


DEFAULTS = {
    "corrosion-rate": {"protected_years": 0, "faces": 1, "residual_standard_uncertainty_mm": 0.25},
    "remaining-life": {"exponent": 1, "rate_factor": 1, "confidence": 0.9, "years_ahead": 10, "interval_cap_years": 5},
    "plate-margin": {"threshold_mm": 4, "plate_standard_uncertainty_mm": 0.15, "pit_standard_uncertainty_mm": 0.2},
    "minimum-plating": {"double_hull": False},
    "threshold-check": {"rules": [], "rule_sets": ["trade-practice"]},
    "survey-comparison": {"station_tolerance_m": 0.25, "confidence": 0.9},
    "deepest-pit": {"method": "maximum_likelihood", "confidence": 0.95},
    "hull-survey": {"rule_sets": ["trade-practice"], "rules": [], "plating": [], "unexamined": [], "confidence": 0.9},
    "anode-condition": {"potentials": [], "reach_lengths": 7},
    "anode-sizing": {"extra_current_a": 0, "reach_lengths": 7, "spacing_m": 4},
}


@pytest.mark.parametrize("calculation", DEFAULTS)
def test_a_default_sent_is_a_default_taken(client, calculation):
    without = {name: value for name, value in EXAMPLES[calculation].items() if name not in DEFAULTS[calculation]}
    explicit = {**without, **DEFAULTS[calculation]}
    one, other = post(client, calculation, without).json, post(client, calculation, explicit).json
    assert one["provenance"]["arguments_digest"] == other["provenance"]["arguments_digest"]
    assert one["result"] == other["result"]
    assert one["findings"] == other["findings"]
    assumed = [{entry["field"] for entry in answer["assumed"]} for answer in (one, other)]
    told = {name for name, value in DEFAULTS[calculation].items() if value != []}
    assert assumed[0] - assumed[1] == told


@pytest.mark.parametrize("calculation", ["threshold-check", "hull-survey", "survey-consistency"])
def test_an_empty_list_of_rules_is_none_at_all(client, calculation):
    """The rule sets that apply by default do so beside it."""
    good = {name: value for name, value in EXAMPLES[calculation].items() if name not in ("rules", "rule_sets")}
    one, other = post(client, calculation, good).json, post(client, calculation, {**good, "rules": []}).json
    assert one["provenance"]["arguments_digest"] == other["provenance"]["arguments_digest"]
    assert one["provenance"]["rule_sets"] == other["provenance"]["rule_sets"] != []


def test_a_default_of_a_member_object_sent_is_one_taken(client):
    good = EXAMPLES["hull-survey"]
    explicit = copy.deepcopy(good)
    explicit["hull"] |= {"water": "fresh", "material": "steel", "construction": "welded"}
    explicit["gauge"] |= {"plate_standard_uncertainty_mm": 0.15, "pit_standard_uncertainty_mm": 0.2}
    assert arguments_digest(client, "hull-survey", good) == arguments_digest(client, "hull-survey", explicit)


def changed_members(calculation):
    """Return requests of which each differs from the example in one argument."""
    good = EXAMPLES[calculation]
    for name, value in good.items():
        changed = copy.deepcopy(good)
        if isinstance(value, float):
            changed[name] = value + 0.001
        elif name in ("surveyed_on", "as_of"):
            changed[name] = value[:-2] + "20"
        elif name == "environment":
            changed[name] = "polluted_fresh_water"
        elif name == "readings":
            changed[name][0]["plate_mm"] += 0.001
        elif name in ("earlier", "later"):
            changed[name]["readings"][0]["plate_mm"] += 0.001
        elif name == "pits":
            changed[name][0]["outline"] = "round"
        else:
            continue
        yield name, changed


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_another_argument_has_another_digest(client, calculation):
    changed = dict(changed_members(calculation))
    digests = {name: arguments_digest(client, calculation, body) for name, body in changed.items()}
    assert len(changed) >= 1
    assert len({*digests.values(), arguments_digest(client, calculation, EXAMPLES[calculation])}) == len(changed) + 1


def test_the_order_of_readings_is_an_argument(client):
    """A reading without an id is called by its index, so the order is part of what was asked."""
    good = EXAMPLES["threshold-check"]
    other = {**good, "readings": good["readings"][::-1]}
    assert arguments_digest(client, "threshold-check", good) != arguments_digest(client, "threshold-check", other)


def test_a_rule_set_is_named_with_the_digest_that_the_catalogue_tells(client):
    body = {**EXAMPLES["hull-survey"], "rule_sets": ["loss-fraction", "trade-practice", "loss-fraction"]}
    used = post(client, "hull-survey", body).json["provenance"]["rule_sets"]
    assert [entry["id"] for entry in used] == ["loss-fraction", "trade-practice"]
    for entry in used:
        told = client.get(f"/v1/rule-sets/{entry['id']}").json
        assert entry == {name: told[name] for name in ("id", "version", "digest")}


# The same is always the same


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_the_same_bytes_get_the_same_bytes(client, calculation):
    body = orjson.dumps(EXAMPLES[calculation])
    answers = [post(client, calculation, body), post(client, calculation, body)]
    answers.append(post(create_app().test_client(), calculation, body))
    assert len({answer.data for answer in answers}) == 1
    assert len({tuple(of_no_call(answer).items()) for answer in answers}) == 1


def test_the_same_bytes_get_the_same_bytes_in_every_process(client):
    program = (
        "import sys, orjson; from platemargin_api.app import create_app; client = create_app().test_client()\n"
        "for name, body in orjson.loads(sys.stdin.buffer.read()).items():\n"
        "    answer = client.post(f'/v1/calculations/{name}', data=orjson.dumps(body), content_type='application/json')\n"
        "    sys.stdout.buffer.write(answer.data + b'\\n')\n"
    )
    here = b"".join(post(client, name, orjson.dumps(body)).data + b"\n" for name, body in EXAMPLES.items())
    for seed, timezone in (("1", "Etc/GMT-13"), ("2", "UTC")):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": timezone, "LC_ALL": "C"}
        done = subprocess.run(
            [sys.executable, "-c", program], input=orjson.dumps(EXAMPLES), env=environment, check=True, capture_output=True
        )
        assert done.stdout == here


def test_nothing_is_remembered_between_requests(client):
    """Good, bad and large calls in any order do not change what another is answered."""
    first = {name: post(client, name, body).data for name, body in EXAMPLES.items()}
    shuffled = [*EXAMPLES] * 3
    random.Random(7).shuffle(shuffled)
    for name in shuffled:
        post(client, name, b"{")
        post(client, name, {})
        post(client, name, {**EXAMPLES[name], "id": "x"}, Prefer="return=minimal")
        client.get(f"/v1/calculations/{name}")
        assert post(client, name, EXAMPLES[name]).data == first[name]


def test_a_call_leaves_the_example_and_the_registry_alone(client):
    before = orjson.dumps(EXAMPLES)
    for name, body in EXAMPLES.items():
        post(client, name, body)
    assert orjson.dumps({name: dict(served.offered.example) for name, served in registry.calculations.items()}) == before


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_null_is_absence(client, calculation):
    good = EXAMPLES[calculation]
    one, other = post(client, calculation, good).json, post(client, calculation, with_nulls(calculation, good)).json
    for told in (one, other):
        told["provenance"].pop("request_digest")
    assert one == other


def test_null_is_absence_within_a_reading_and_an_object(client):
    good = EXAMPLES["hull-survey"]
    nulls = copy.deepcopy(good)
    nulls["hull"] = {"water": None, "material": None, "frame_spacing_mm": None, **nulls["hull"]}
    nulls["readings"] = [
        {
            "original_mm": None,
            "layer": None,
            "fitted_on": None,
            "exposure": None,
            "holed": None,
            "pit_depth_mm": None,
            **reading,
        }
        for reading in nulls["readings"]
    ]
    assert post(client, "hull-survey", nulls).json["result"] == post(client, "hull-survey", good).json["result"]
    assert arguments_digest(client, "hull-survey", nulls) == arguments_digest(client, "hull-survey", good)


# The catalogue


def test_the_root_leads_to_everything(client):
    told = client.get("/").json
    assert told["service"] == "platemargin"
    for name in ("calculations", "rule_sets", "openapi"):
        assert client.get(told[name]).status_code == 200


def test_the_list_of_calculations(client):
    listed = client.get("/v1/calculations").json["calculations"]
    assert [entry["id"] for entry in listed] == list(registry.calculations)
    elementwise = {"residual-thickness", "corrosion-rate", "remaining-life", "plate-margin", "ultrasonic-thickness"}
    for entry in listed:
        offered = registry.calculations[entry["id"]].offered
        assert (entry["version"], entry["title"]) == (offered.version, offered.title)
        assert entry["elementwise"] == (entry["id"] in elementwise)
        assert entry["distribution"] == {"name": "platemargin", "version": told_version(client)}
        assert client.get(entry["href"]).json["id"] == entry["id"]


def told_version(client):
    return client.get("/").json["version"]


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_the_description_of_a_calculation(client, calculation):
    offered = registry.calculations[calculation].offered
    told = client.get(f"/v1/calculations/{calculation}").json
    assert (told["id"], told["version"], told["title"]) == (calculation, offered.version, offered.title)
    assert told["description"] == offered.description
    assert [finding["code"] for finding in told["findings"]] == [finding.code for finding in offered.findings]
    for finding in told["findings"]:
        assert finding["severity"] in ("note", "watch", "act")
        assert all(f"{{{name}}}" in finding["template"] or name for name in finding["values"])
        assert finding["template"].endswith((".", "{meaning}"))
    assert {fault["code"] for fault in told["faults"]} == {fault.code for fault in offered.faults}
    assert told["cautions"] == list(offered.cautions_with(offered.brought))
    assert told["references"] == [dataclasses.asdict(reference) for reference in offered.references_with(offered.brought)]
    assert told["limits"] == {"max_body_bytes": 8 * 1024**2, "max_line_bytes": 1024**2, "max_rows": 100_000_000}
    assert told["renderings"] == list(offered.renderings)
    assert told["deprecation"] is None
    assert post(client, calculation, told["example"]).status_code == 200


def test_the_rule_sets(client):
    listed = client.get("/v1/rule-sets").json["rule_sets"]
    assert [entry["id"] for entry in listed] == [
        "inland-vessel-benchmark",
        "loss-fraction",
        "loss-fraction-light",
        "trade-practice",
    ]
    for entry in listed:
        assert client.get(f"/v1/rule-sets/{entry['id']}").json == entry
        assert entry["digest"] == registry.rule_sets[entry["id"]].offered.digest
        brought = {reference["id"] for reference in entry["references"]}
        assert {rule["reference"] for rule in entry["rules"]} <= brought
        for rule in entry["rules"]:
            assert (rule["at_least"] is None) != (rule["at_most"] is None)
            assert rule["exposures"] == ["immersed", "waterline"]
        by_hull = {"needs", "formula", "example"} if entry["id"] == "inland-vessel-benchmark" else set()
        assert set(entry["by_hull"] or ()) == by_hull
        assert entry["may_clear"] == (not by_hull)
    assert len({entry["digest"] for entry in listed}) == 4


def test_limits_by_hull_are_told_for_the_example_that_is_told(client):
    """Who reads the rule set can work its limits out again: here by asking for them, of the example's hull."""
    told = client.get("/v1/rule-sets/inland-vessel-benchmark").json
    example = told["by_hull"]["example"]
    assert set(told["by_hull"]["needs"]) <= set(example)
    limits = {rule["id"]: rule["at_least"] for rule in told["rules"]}
    assert len(limits) == 6
    for zone in ("bottom", "bilge", "side"):
        asked = {name: value for name, value in example.items() if name != "beam_m"} | {"zone": zone}
        result = post(client, "minimum-plating", asked).json["result"]
        assert limits[f"inland-vessel-{zone}"] == result["inland_vessel_mm"]
        assert limits[f"inland-vessel-{zone}-local"] == result["inland_vessel_local_mm"]


def test_the_trade_practice(client):
    rules = client.get("/v1/rule-sets/trade-practice").json["rules"]
    told = [(rule["id"], rule["quantity"], rule["at_least"], rule["severity"]) for rule in rules]
    assert told == [
        ("least-plate-watch", "residual_mm", 4.0, "watch"),
        ("least-plate-act", "residual_mm", 3.5, "act"),
    ]


@pytest.mark.parametrize("path", ["/health/live", "/health/ready"])
def test_health(client, path):
    answer = client.get(path)
    assert (answer.status_code, answer.json) == (200, {"status": "ok"})
    assert answer.headers["Cache-Control"] == "no-store"
    assert client.get(path, headers={"Accept": "text/plain"}).status_code == 200


# Size


def test_a_survey_of_20000_readings(client):
    """Every zone, reading and count of it, against sums that are made here; its pace is told elsewhere."""
    chance = random.Random(20_000)
    originals = {"baseplate": 10.0, "side": 6.0, "chine": 6.0, "swim": 6.0, "counter": 6.0}
    readings = []
    for _ in range(20_000):
        zone = chance.choice([*originals])
        reading = {"zone": zone, "side": chance.choice(["port", "starboard"]), "station_m": round(chance.uniform(0, 17), 2)}
        reading["plate_mm"] = round(originals[zone] - chance.uniform(0, 1.4), 1)
        if chance.random() < 0.5:
            reading["pit_depth_mm"] = round(chance.uniform(0, 1.5), 1)
        readings.append(reading)
    body = {
        "hull": {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.65},
        "built_on": "2008",
        "surveyed_on": "2024-12-31",
        "plating_notation": "10/6/5",
        "readings": readings,
    }
    answer = post(client, "hull-survey", body)
    assert answer.status_code == 200
    result = answer.json["result"]
    left = [round(reading["plate_mm"] - reading.get("pit_depth_mm", 0), 3) for reading in readings]
    assert [told["residual_mm"] for told in result["readings"]] == left
    assert [told["id"] for told in result["readings"]] == [str(index) for index in range(20_000)]
    for zone in result["zones"]:
        here = [index for index, reading in enumerate(readings) if reading["zone"] == zone["zone"]]
        assert zone["readings"] == len(here)
        assert zone["pits_measured"] == sum("pit_depth_mm" in readings[index] for index in here)
        assert zone["thinnest_residual_mm"] == min(left[index] for index in here)
        assert zone["thinnest_reading_index"] == min(here, key=lambda index: left[index])
    watch, act = result["rules"]
    assert (watch["checked_count"], watch["broken_count"]) == (20_000, sum(value < 4.0 for value in left))
    assert (act["checked_count"], act["broken_count"]) == (20_000, sum(value < 3.5 for value in left))
    assert result["verdict"] == ("act" if act["broken_count"] else "watch")
    assert result["governing_reading_index"] == min(range(20_000), key=lambda index: left[index])
