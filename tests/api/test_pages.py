"""The pages' paths: what is served, with which headers, and that what is not ours is as it was packed."""

import hashlib
import json
import re
import tomllib

import pytest

from platemargin_api.app import create_app
from platemargin_api.demo import SURVEY
from platemargin_api.pages import _ASSETS
from platemargin_api.registry import load_registry
from platemargin_api.rendered import rendered_response

client = create_app(load_registry()).test_client()


def test_where_to_begin_is_a_page_for_people_and_a_document_for_programs():
    assert client.get("/").json["docs"] == "/docs"
    assert client.get("/", headers={"Accept": "application/json"}).is_json
    told = client.get("/", headers={"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"})
    assert told.content_type == "text/html; charset=utf-8"
    assert "It is advice." in told.text


@pytest.mark.parametrize("path", ["/docs", "/"])
def test_a_page_runs_and_fetches_nothing_of_others(path):
    told = client.get(path, headers={"Accept": "text/html"})
    policy = dict(part.split(" ", 1) for part in told.headers["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert {policy[kind] for kind in ("script-src", "style-src", "connect-src")} == {"'self'"}
    assert policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in told.headers["Content-Security-Policy"]
    assert "http://" not in told.text
    assert "https://" not in told.text
    assert "<script>" not in told.text
    assert " style=" not in told.text
    assert " onclick" not in told.text


@pytest.mark.parametrize(("path", "count"), [("/", 2), ("/docs", 4)])
def test_what_a_page_is_made_of_is_addressed_by_its_digest_and_kept_for_ever(path, count):
    fetched = re.findall(r'"(/assets/[^"]+)"', client.get(path, headers={"Accept": "text/html"}).text)
    assert len(fetched) == count
    for address in fetched:
        told = client.get(address)
        assert told.status_code == 200
        assert told.content_type in ("text/javascript; charset=utf-8", "text/css; charset=utf-8")
        assert told.headers["Cache-Control"] == "public, max-age=31536000, immutable"
        assert hashlib.sha256(told.data).hexdigest()[:16] == address.split(".")[-2]


def test_a_page_itself_is_asked_for_again_by_its_digest():
    told = client.get("/docs")
    assert told.headers["Cache-Control"] == "no-cache"
    again = client.get("/docs", headers={"If-None-Match": told.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")


@pytest.mark.parametrize(
    "name",
    [
        "none.js",
        "start.js",
        "start.0123456789.js",
        "docs.html",
        "VENDORED.toml",
        "..%2f__init__.py",
        "%2e%2e/__init__.py",
    ],
)
def test_nothing_else_is_served(name):
    assert client.get(f"/assets/{name}").status_code == 404


def test_what_is_of_others_is_as_it_was_packed():
    (package,) = tomllib.loads((_ASSETS / "VENDORED.toml").read_text()).values()
    files = {name: value for name, value in package.items() if name.endswith((".js", ".css"))}
    assert {name: hashlib.sha256((_ASSETS / name).read_bytes()).hexdigest() for name in files} == files
    assert (_ASSETS / "swagger-ui.LICENSE.txt").read_text().lstrip().startswith("Apache License")


def test_the_demo_can_be_looked_at_without_a_script():
    assert client.get("/demo/survey").json == json.loads(SURVEY.read_text())
    assert client.get("/demo/report").text.startswith("<!DOCTYPE html>")
    assert client.get("/demo/plate-map").text.startswith("<svg ")


def test_the_demo_is_calculated_once(monkeypatch):
    """Nobody is asked for a key there: asking again must not keep the service at it."""
    drawn = []
    monkeypatch.setattr("platemargin_api.pages.rendered_response", lambda *of: drawn.append(of[3]) or rendered_response(*of))
    client = create_app(load_registry()).test_client()
    told = {client.get("/demo/report").data for _ in range(3)} | {client.get("/demo/plate-map").data for _ in range(3)}
    assert (len(told), sorted(drawn)) == (2, ["image/svg+xml", "text/html"])


@pytest.mark.parametrize("path", ["/v1/calculations", "/health/live", "/nothing", "/metrics", "/docs", "/demo/report"])
def test_every_answer_keeps_a_browser_from_guessing_and_framing(path):
    headers = client.get(path).headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert headers["Referrer-Policy"] == "no-referrer"
