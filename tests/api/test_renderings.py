"""Renderings as part of the contract: negotiated, documented, the same answer every time, and held by the conformance kit."""

import dataclasses
import json
import subprocess
import sys
from pathlib import Path

import pytest

import platemargin_api.demo
from platemargin_api.app import create_app
from platemargin_api.calculations.residual_thickness import calculation as residual_thickness
from platemargin_api.registry import Distribution, Registry, Served, load_registry
from platemargin_api.rendering_checks import unsafe
from platemargin_api.testing import check_calculation

SURVEY = (Path(platemargin_api.demo.__file__).parent / "survey.json").read_bytes()
OFFERED = [("hull-survey", "image/svg+xml"), ("hull-survey", "text/html"), ("deepest-pit", "image/svg+xml")]
OFFERED += [("remaining-life", "image/svg+xml"), ("hull-survey", "application/pdf")]

registry = load_registry()


@pytest.fixture(scope="module")
def application():
    return create_app(registry)


@pytest.fixture
def client(application):
    return application.test_client()


def example(calculation):
    return json.dumps(registry.calculations[calculation].offered.example)


def post(client, calculation, body, **headers):
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.post(f"/v1/calculations/{calculation}", data=body, headers={"Content-Type": "application/json", **named})


# Over HTTP


@pytest.mark.parametrize(("calculation", "medium"), OFFERED)
def test_each_rendering_is_answered_to_who_accepts_it(client, calculation, medium):
    answer = post(client, calculation, example(calculation), Accept=medium)
    assert answer.status_code == 200
    assert answer.content_type == (f"{medium}; charset=utf-8" if medium.startswith("text/") else medium)
    assert answer.headers["Calculation-Version"] == registry.calculations[calculation].offered.version
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.headers["Vary"] == "Accept, Prefer"
    assert "ETag" not in answer.headers
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    ("accept", "medium"),
    [
        (None, "application/json"),
        ("*/*", "application/json"),
        ("image/*", "image/svg+xml"),
        ("application/json;q=0, */*;q=0.5", "image/svg+xml"),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,image/avif,image/webp,*/*;q=0.8", "text/html; charset=utf-8"),
        ("image/svg+xml, text/html;q=0.5", "image/svg+xml"),
        ("application/json, text/html", "application/json"),
        ("application/pdf, text/html;q=0.2", "application/pdf"),
        ("image/png, text/html;q=0.2", "text/html; charset=utf-8"),
    ],
)
def test_the_callers_accept_chooses_and_json_is_for_who_does_not_mind(client, accept, medium):
    headers = {} if accept is None else {"Accept": accept}
    assert post(client, "hull-survey", SURVEY, **headers).content_type == medium


@pytest.mark.parametrize(
    ("calculation", "offered"),
    [
        ("hull-survey", "application/json, image/svg+xml, text/html, application/pdf"),
        ("residual-thickness", "application/json"),
    ],
)
def test_what_is_not_offered_is_refused_and_what_is_named(client, calculation, offered):
    refused = post(client, calculation, example(calculation), Accept="image/png")
    assert (refused.status_code, refused.json["type"]) == (406, "/problems/not-acceptable")
    assert refused.json["detail"] == f"The answer is offered as {offered}."


def test_a_preference_for_less_does_not_apply(client):
    plain, minimal = (post(client, "hull-survey", SURVEY, Accept="text/html", Prefer=one) for one in ("", "return=minimal"))
    assert plain.data == minimal.data
    assert "Preference-Applied" not in minimal.headers


@pytest.mark.parametrize(("body", "status"), [(b"{", 400), (b"{}", 422)])
def test_a_problem_is_told_as_one_whatever_was_accepted(client, body, status):
    refused = post(client, "hull-survey", body, Accept="image/svg+xml")
    assert (refused.status_code, refused.content_type) == (status, "application/problem+json")


def test_a_rendering_that_fails_is_a_failure_that_is_told(caplog):
    def broken(_request, _answer):
        raise ValueError("no ink")

    offered = dataclasses.replace(residual_thickness, renderings={"image/png": broken})
    app = create_app(Registry({offered.id: Served(offered, Distribution("mine", "1"))}, registry.rule_sets))
    failed = post(app.test_client(), offered.id, json.dumps(offered.example), Accept="image/png")
    assert (failed.status_code, failed.json["type"]) == (500, "/problems/calculation-failed")
    assert "no ink" not in failed.text
    assert "failed in rendering image/png" in caplog.text


@pytest.mark.parametrize("calculation", sorted(registry.calculations))
def test_catalogue_and_document_name_them(client, calculation):
    offered = registry.calculations[calculation].offered
    assert client.get(f"/v1/calculations/{calculation}").json["renderings"] == list(offered.renderings)
    document = client.get("/openapi.json").json
    content = document["paths"][f"/v1/calculations/{calculation}"]["post"]["responses"]["200"]["content"]
    assert {name for name in content if name in offered.renderings} == set(offered.renderings)


# The same every time


_AGAIN = """
import sys
from platemargin_api.answer import answered
from platemargin_api.registry import load_registry
registry = load_registry()
served = registry.calculations["hull-survey"]
told = answered(served, registry, open(sys.argv[1], "rb").read())
for rendering in served.offered.renderings.values():
    sys.stdout.buffer.write(rendering(*told))
"""


def test_another_process_gives_the_same_bytes(client):
    path = Path(platemargin_api.demo.__file__).parent / "survey.json"
    other = subprocess.run(
        [sys.executable, "-c", _AGAIN, path], env={"PYTHONHASHSEED": "7"}, check=True, capture_output=True
    ).stdout
    media = ("image/svg+xml", "text/html", "application/pdf")
    here = b"".join(post(client, "hull-survey", SURVEY, Accept=medium).data for medium in media)
    assert other == here


# The conformance kit


def departures(**renderings):
    named = {name.replace("__", "/").replace("_", "+"): one for name, one in renderings.items()}
    with pytest.raises(AssertionError) as told:
        check_calculation(dataclasses.replace(residual_thickness, renderings=named))
    return str(told.value)


def test_a_rendering_of_anybodys_passes():
    def drawn(_request, answer):
        return f"<svg><title>{answer['result']['residual_mm']}</title></svg>".encode()

    renderings = {"image/svg+xml": drawn, "image/png": lambda *_: b"1"}
    check_calculation(dataclasses.replace(residual_thickness, renderings=renderings))


def test_a_rendering_that_is_none_is_told():
    assert "rendering image/png: it gives no bytes" in departures(image__png=lambda *_: "text")
    assert "rendering image/png: it gives no bytes" in departures(image__png=lambda *_: b"")
    assert "renderings: it fails (KeyError: 'absent')" in departures(image__png=lambda _, answer: answer["absent"])
    assert "rendering Image/PNG: it is no media type in small letters" in departures(Image__PNG=lambda *_: b"1")
    assert "rendering text/csv: the service itself answers in that" in departures(text__csv=lambda *_: b"1")


def test_a_rendering_that_changes_is_told():
    calls = iter(range(10**6))
    assert "gives other bytes the second time" in departures(image__png=lambda *_: str(next(calls)).encode())

    def spoiling(_request, answer):
        answer["result"]["residual_mm"] = 0
        return b"1"

    assert "it changes the request or the answer" in departures(image__png=spoiling)


@pytest.mark.parametrize(
    ("medium", "content", "words"),
    [
        ("image/svg+xml", "<svg><b></svg>", "no well-formed XML"),
        ("image/svg+xml", "<svg><script>1</script></svg>", "an element script"),
        ("image/svg+xml", "<svg><foreignObject/></svg>", "an element foreignobject"),
        ("image/svg+xml", '<svg onload="a()"/>', "the attribute onload, which runs"),
        (
            "image/svg+xml",
            '<svg xmlns:x="http://www.w3.org/1999/xlink"><use x:href="other.svg#a"/></svg>',
            "fetches other.svg#a",
        ),
        ("image/svg+xml", '<svg><rect fill="url(http://elsewhere/a)"/></svg>', "fetches through fill"),
        ("image/svg+xml", "<svg><style>@import 'a.css'</style></svg>", "its style fetches"),
        ("image/svg+xml", '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]><svg>&a;</svg>', "declares a document type"),
        ("text/html", "<p><script src=a.js></script>", "an element script"),
        ("text/html", "<img src=a.png>", "img fetches a.png"),
        ("text/html", "<link rel=stylesheet href=a.css>", "an element link"),
        ("text/html", "<style>p { background: url(a.png) }</style>", "its style fetches"),
        ("text/html", "<a href='javascript:a()'>", "a fetches javascript:a()"),
        ("text/html", "<p style='background:url(//elsewhere)'>", "p fetches through style"),
    ],
)
def test_what_runs_or_fetches_is_told(medium, content, words):
    assert any(words in told for told in unsafe(medium, content.encode()))


@pytest.mark.parametrize(
    ("medium", "content"),
    [
        ("image/svg+xml", '<svg><rect id="a" fill="url(#a)"/><a href="#a"/></svg>'),
        ("text/html", "<!DOCTYPE html><style>p { color: #123456 }</style><a href='https://example.org/'>a</a>"),
        ("application/pdf", "<script>"),
    ],
)
def test_what_keeps_to_itself_is_not(medium, content):
    assert not list(unsafe(medium, content.encode()))
