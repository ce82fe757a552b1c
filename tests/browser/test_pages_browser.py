"""The pages in Debian's chromium: the demo is judged, the reference calls the service, nothing is refused or out of reach."""

import json
import re
import shutil
from pathlib import Path

import pytest

from platemargin_api.demo import SURVEY, served

CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no browser: install Debian's chromium")
playwright = pytest.importorskip("playwright.sync_api", reason="the package playwright is not installed")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking", "--disable-component-update"]


@pytest.fixture(scope="module")
def address():
    with served(0) as running:
        yield running


@pytest.fixture(scope="module")
def browser():
    with playwright.sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield running
        running.close()


@pytest.fixture
def opened(browser, address):
    """Return a function that opens a page; what the console says and what is fetched elsewhere fails the test at its end."""
    said, fetched, contexts = [], [], []

    def page(path, width=1280, scheme="light"):
        context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
        contexts.append(context)
        shown = context.new_page()
        shown.set_default_timeout(120_000)
        shown.on("console", lambda message: said.append(message.text) if message.type in ("error", "warning") else None)
        shown.on("pageerror", lambda error: said.append(str(error)))
        shown.on("request", lambda request: fetched.append(request.url))
        shown.goto(f"{address}{path}", wait_until="networkidle")
        return shown

    yield page
    for context in contexts:
        context.close()
    # What the browser itself says of a refusal is no fault of the page's.
    assert [words for words in said if "status of 422" not in words] == []
    assert {url for url in fetched if not url.startswith((address, "data:", "blob:"))} == set()


def judge(page):
    page.get_by_role("button", name="Judge this survey").click()
    page.wait_for_selector("#map svg")
    return page.locator("#verdict")


def test_the_demo_is_judged_and_shown(opened):
    page = opened("/")
    verdict = judge(page)
    assert verdict.get_attribute("data-verdict") in ("act", "watch", "not_judged", "no_limit_broken")
    assert page.locator("#findings li").count() > 0
    assert page.locator("#advice li").count() > 0
    assert page.locator("#map svg text").count() > 10
    with page.expect_download() as kept:
        page.get_by_role("link", name="Save the report (HTML)").click()
    assert Path(kept.value.path()).read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_survey_that_is_wrong_is_told_where_and_nothing_of_it_runs(opened):
    page = opened("/")
    survey = json.loads(SURVEY.read_text())
    survey["readings"][0]["plate_mm"] = "<img src=x onerror=alert(1)>"
    page.fill("#survey", json.dumps(survey))
    with page.expect_response(lambda response: response.status == 422):
        page.get_by_role("button", name="Judge this survey").click()
    page.wait_for_selector("#findings li")
    assert "/readings/0/plate_mm" in page.locator("#findings").inner_text()
    assert page.locator("#answer img").count() == 0


def test_the_keyboard_reaches_everything_and_runs_the_demo(opened):
    page = opened("/")
    reached = []
    for _ in range(14):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.id || document.activeElement.textContent.trim()"))
    for expected in ("Interactive reference", "survey", "key", "Judge this survey", "reset", "The demo's report"):
        assert expected in reached
    page.focus("#survey-form button[type=submit]")
    page.keyboard.press("Enter")
    page.wait_for_selector("#map svg")
    assert page.evaluate("document.activeElement.id") == "answer-heading"


CONTRAST = """() => {
  // A colour that is still on its way to another is nobody's choice.
  for (const one of document.getAnimations()) if (isFinite(one.effect.getComputedTiming().endTime)) one.finish();
  const channels = c => { const [r, g, b, a = 1] = c.match(/[\\d.]+/g).map(Number); return [r, g, b, a]; };
  const over = (top, under) => top.slice(0, 3).map((v, i) => v * top[3] + under[i] * (1 - top[3]));
  const linear = v => v <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4;
  const light = c => { const [r, g, b] = c.map(v => linear(v / 255)); return .2126 * r + .7152 * g + .0722 * b; };
  const styles = e => { const up = []; for (; e; e = e.parentElement) up.unshift(getComputedStyle(e)); return up; };
  const pale = [];
  const hold = (words, e, color) => {
    const ground = styles(e).reduce((under, one) => over(channels(one.backgroundColor), under), [255, 255, 255]);
    const share = styles(e).reduce((product, one) => product * Number(one.opacity), 1);
    const [r, g, b, a] = channels(color);
    const [one, other] = [light(over([r, g, b, a * share], ground)), light(ground)];
    const ratio = (Math.max(one, other) + .05) / (Math.min(one, other) + .05);
    if (ratio < 4.5) pale.push([words.trim().slice(0, 40), ratio]);
  };
  for (const e of document.querySelectorAll("body *:not(svg):not(svg *):not(script):not(style)")) {
    if (!e.getClientRects().length) continue;
    const words = [...e.childNodes].filter(n => n.nodeType === 3).map(n => n.textContent).join("").trim();
    if (words) hold(words, e, getComputedStyle(e).color);
    if (e.placeholder) hold(e.placeholder, e, getComputedStyle(e, "::placeholder").color);
  }
  return {pale, wider: document.documentElement.scrollWidth - innerWidth};
}"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_words_stand_out_and_nothing_is_wider_than_the_page(opened, width, scheme):
    """WCAG 2.2: 4.5 to 1 for every word, 360 px without scrolling sideways."""
    page = opened("/", width, scheme)
    judge(page)
    told = page.evaluate(CONTRAST)
    assert told == {"pale": [], "wider": 0}


def test_the_reference_shows_every_calculation_and_calls_the_service(opened):
    page = opened("/docs")
    page.wait_for_selector(".opblock")
    document = page.evaluate("fetch('/openapi.json').then(told => told.json())")
    operations = sum(len([m for m in methods if m in ("get", "post")]) for methods in document["paths"].values())
    assert page.locator(".opblock").count() == operations
    block = page.locator("#operations-calculations-calculate_plate_margin")
    block.locator(".opblock-summary-control").first.click()
    with page.expect_response(re.compile("/v1/calculations/plate-margin$")) as told:
        block.get_by_role("button", name="Execute").click()
    assert told.value.status == 200
    page.wait_for_selector("#operations-calculations-calculate_plate_margin .live-responses-table")
    assert "residual_mm" in block.locator(".live-responses-table").inner_text()


MARGIN = "#operations-calculations-calculate_plate_margin"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_the_reference_stands_out_and_is_no_wider_than_the_page(opened, width, scheme):
    """WCAG 2.2, as of the page to begin with: closed, with a call and its answer, with its schemas, and asking for a key."""
    page = opened("/docs", width, scheme)
    page.wait_for_selector(".opblock")
    shown = {"closed": page.evaluate(CONTRAST)}
    block = page.locator(MARGIN)
    block.locator(".opblock-summary-control").first.click()
    block.get_by_role("button", name="Execute").click()
    page.wait_for_selector(f"{MARGIN} .live-responses-table")
    shown["answered"] = page.evaluate(CONTRAST)
    for tab in range(2):
        block.locator(".tablinks", has_text="Schema").nth(tab).click()
    page.wait_for_selector(f"{MARGIN} .json-schema-2020-12__constraint")
    shown["schemas"] = page.evaluate(CONTRAST)
    page.locator(".auth-wrapper .authorize").first.click()
    page.wait_for_selector(".dialog-ux")
    shown["key"] = page.evaluate(CONTRAST)
    assert shown == {state: {"pale": [], "wider": 0} for state in shown}


@pytest.mark.parametrize("medium", ["application/x-ndjson", "text/csv"])
def test_rows_are_sent_from_the_reference_as_it_shows_them(opened, medium):
    page = opened("/docs")
    block = page.locator(MARGIN)
    block.locator(".opblock-summary-control").first.click()
    block.locator(".opblock-section-request-body select").select_option(medium)
    with page.expect_response(re.compile("/v1/calculations/plate-margin$")) as told:
        block.get_by_role("button", name="Execute").click()
    assert told.value.status == 200
    assert told.value.request.headers["content-type"] == medium
    first, second = ('"id":"first"', '"id":"second"') if medium == "application/x-ndjson" else ("first,", "second,")
    assert told.value.text().count(first) == told.value.text().count(second) == 1
