"""Pictures and report as a browser lays them out: nothing clipped, run together, tiny, pale or refused.

Needs Debian's chromium; without it these tests are skipped and say so.
"""

import html
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

import platemargin_api.demo
from platemargin_api.answer import answered
from platemargin_api.body import dump
from platemargin_api.registry import load_registry

CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no browser: install Debian's chromium")

registry = load_registry()
DEMO = json.loads((Path(platemargin_api.demo.__file__).parent / "survey.json").read_text())
EXAMPLES = {name: dict(served.offered.example) for name, served in registry.calculations.items()}
LONG = "A narrow boat with a very long name indeed " * 2
DENSE = [
    {**one, "id": f"{one['id']}-{n}", "station_m": round((one["station_m"] + 0.15 * n) % 17.4, 2)}
    for n in range(6)
    for one in DEMO["readings"]
]
PICTURES = {
    "demo": ("hull-survey", DEMO),
    "dense": ("hull-survey", {**DEMO, "readings": DENSE}),
    "long_names": (
        "hull-survey",
        {
            **DEMO,
            "hull": {**DEMO["hull"], "name": LONG},
            "readings": [{**one, "id": f"{'W' * 55}{n}", "zone": "W" * 40} for n, one in enumerate(DEMO["readings"][:20])],
        },
    ),
    "no_stations": (
        "hull-survey",
        {**DEMO, "readings": [{k: v for k, v in one.items() if k != "station_m"} for one in DEMO["readings"]]},
    ),
    "short": ("hull-survey", EXAMPLES["hull-survey"]),
    "long": ("hull-survey", {**DEMO, "hull": {**DEMO["hull"], "length_m": 60}}),
    "pits": ("deepest-pit", EXAMPLES["deepest-pit"]),
    "pits_far": (
        "deepest-pit",
        {**EXAMPLES["deepest-pit"], "pit_depths_mm": [0, 0.1, 0.2, 4, 9], "total_area_m2": 50_000.0, "plate_mm": 200},
    ),
    "life": ("remaining-life", EXAMPLES["remaining-life"]),
    "life_unbounded": ("remaining-life", {**EXAMPLES["remaining-life"], "residual_mm": 9.6}),
}
#: Of every piece of words in a drawing its box; what lies outside the drawing, and which boxes lie over one another.
MEASURE_PICTURE = """
const drawing = document.querySelector("svg"), room = drawing.getBoundingClientRect();
const scale = room.width / drawing.viewBox.baseVal.width, found = {outside: [], over: [], small: []};
const boxes = [...drawing.querySelectorAll("text")].filter(t => t.textContent.trim()).map(t => {
  const b = t.getBoundingClientRect();
  return {words: t.textContent, left: b.left + 1, right: b.right - 1, top: b.top + 2.5, bottom: b.bottom - 2.5,
          size: parseFloat(getComputedStyle(t).fontSize) * scale, wide: b.width > b.height};
});
for (const b of boxes) {
  if (b.left < room.left || b.right > room.right || b.top < room.top || b.bottom > room.bottom) found.outside.push(b.words);
  if (b.size < 8.9) found.small.push(b.words);
}
boxes.forEach((a, n) => boxes.slice(n + 1).forEach(b => {
  if (a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom) found.over.push([a.words, b.words]);
}));
"""
#: What is wider than the page, and words too pale for what lies behind them (WCAG 2.2: 4.5, large ones 3).
MEASURE_PAGE = """
const found = {wider: document.documentElement.scrollWidth - innerWidth, pale: [], words: 0};
const channels = colour => colour.match(/[\\d.]+/g).map(Number);
const luminance = colour => { const [r, g, b] = channels(colour).slice(0, 3).map(c => c / 255).map(
  c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
const opaque = colour => channels(colour)[3] !== 0;
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const at = walk.currentNode.parentElement;
  if (!walk.currentNode.textContent.trim() || at.closest("svg, script")) continue;
  let ground = at;
  while (ground.parentElement && !opaque(getComputedStyle(ground).backgroundColor)) ground = ground.parentElement;
  const style = getComputedStyle(at);
  const pair = [luminance(style.color), luminance(getComputedStyle(ground).backgroundColor)].sort((a, b) => a - b);
  const size = parseFloat(style.fontSize), large = size >= 24 || (size >= 18.66 && parseInt(style.fontWeight) >= 700);
  found.words += 1;
  if ((pair[1] + 0.05) / (pair[0] + 0.05) < (large ? 3 : 4.5) || size < 10) found.pale.push(walk.currentNode.textContent);
}
"""


def rendered(calculation, request, medium):
    served = registry.calculations[calculation]
    return served.offered.renderings[medium](*answered(served, registry, dump(request))).decode()


def browse(page, *flags):
    """Return what the browser makes of a page, and what it logs."""
    command = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--enable-logging=stderr"]
    done = subprocess.run([*command, *flags, page.as_uri()], check=True, capture_output=True, text=True, timeout=120)
    return done.stdout, [line for line in done.stderr.splitlines() if "CONSOLE" in line]


def measured(folder, content, script, width):
    """Return what a script finds in a page laid out at some width."""
    page = folder / "measured.html"
    page.write_text(f"{content}<script>{script}; document.title = JSON.stringify(found)</script>", encoding="utf-8")
    told, console = browse(page, "--dump-dom", f"--window-size={width},1600")
    assert not console
    return json.loads(html.unescape(re.findall(r"<title>(.*?)</title>", told, re.DOTALL)[0]))


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_legible_at_600_pixels(tmp_path, name):
    calculation, request = PICTURES[name]
    drawing = rendered(calculation, request, "image/svg+xml")
    page = f'<!DOCTYPE html><meta charset="utf-8"><title>-</title><body style="margin:0;width:600px">{drawing}'
    assert measured(tmp_path, page, MEASURE_PICTURE, 600) == {"outside": [], "over": [], "small": []}


def test_the_measure_sees_what_is_wrong(tmp_path):
    words = (
        '<text x="10" y="50" font-size="12">one</text><text x="18" y="52" font-size="12">over it</text>'
        '<text x="580" y="90" font-size="12">outside</text><text x="10" y="120" font-size="7">small</text>'
    )
    drawing = f'<svg viewBox="0 0 600 200" xmlns="http://www.w3.org/2000/svg">{words}</svg>'
    page = f'<!DOCTYPE html><meta charset="utf-8"><title>-</title><body style="margin:0;width:600px">{drawing}'
    found = measured(tmp_path, page, MEASURE_PICTURE, 600)
    assert found == {"outside": ["outside"], "over": [["one", "over it"]], "small": ["small"]}
    words = '<p style="color:#999">pale<p>dark<div style="width:3000px">wide</div>'
    page = f'<!DOCTYPE html><title>-</title><html style="background:#fff">{words}'
    found = measured(tmp_path, page, MEASURE_PAGE, 600)
    assert found["pale"] == ["pale"]
    assert found["wider"] > 2000


def test_two_pictures_share_a_page(tmp_path):
    drawings = [rendered(*PICTURES[name], "image/svg+xml") for name in ("demo", "short", "life")]
    page = f'<!DOCTYPE html><meta charset="utf-8"><title>-</title>{"".join(drawings)}'
    script = """
    const ids = [...document.querySelectorAll("[id]")].map(one => one.id);
    const fills = [...document.querySelectorAll("[fill^=url]")], images = document.querySelectorAll("svg[role=img]").length;
    const ground = one => document.querySelector(one.getAttribute("fill").slice(4, -1));
    const strays = fills.filter(one => ground(one).closest("svg") !== one.closest("svg")).length;
    const found = {twice: ids.length - new Set(ids).size, images, strays};
    """
    assert measured(tmp_path, page, script, 1200) == {"twice": 0, "images": 3, "strays": 0}


@pytest.mark.parametrize("width", [500, 800, 1400])
@pytest.mark.parametrize("name", ["demo", "long_names", "short"])
def test_the_report_fits_every_width_and_is_legible(tmp_path, name, width):
    report = rendered(*PICTURES[name], "text/html")
    # The report's own policy lets no script run; it is taken out for the one that measures.
    opened = re.sub(r"<meta http-equiv[^>]*>", "", report)
    assert opened != report
    opened = re.sub(r"<title>.*?</title>", "<title>-</title>", opened, count=1, flags=re.DOTALL)
    found = measured(tmp_path, opened, MEASURE_PAGE, width)
    assert found.pop("words") > 300
    assert found == {"wider": 0, "pale": []}


@pytest.mark.parametrize("medium", ["text/html", "image/svg+xml"])
def test_it_is_shown_as_it_is_without_a_word_on_the_console(tmp_path, medium):
    page = tmp_path / ("page.html" if medium == "text/html" else "page.svg")
    page.write_text(rendered(*PICTURES["demo"], medium), encoding="utf-8")
    told, console = browse(page, "--dump-dom")
    assert "Quillet" in told
    assert not console


def test_hostile_names_run_nothing(tmp_path):
    hostile = "</title></desc></metadata></svg><script>console.error('ran')</script><img src=x onerror=console.error('ran')>"
    request = {**DEMO, "hull": {**DEMO["hull"], "name": hostile[:100]}}
    request["readings"] = [
        {**one, "zone": hostile[-40:], "id": f"{hostile[-55:]}{n}"} for n, one in enumerate(DEMO["readings"][:9])
    ]
    report = re.sub(r"<meta http-equiv[^>]*>", "", rendered("hull-survey", request, "text/html"))
    page = tmp_path / "page.html"
    page.write_text(report, encoding="utf-8")
    _, console = browse(page, "--dump-dom")
    assert not console
    script = "const found = {run: document.querySelectorAll('script, img').length - 1}"
    assert measured(
        tmp_path, re.sub(r"<title>.*?</title>", "<title>-</title>", report, count=1, flags=re.DOTALL), script, 900
    ) == {"run": 0}


def test_it_prints_on_a4(tmp_path):
    page, paper = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text(rendered(*PICTURES["demo"], "text/html"), encoding="utf-8")
    browse(page, "--no-pdf-header-footer", f"--print-to-pdf={paper}")
    sheets = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", paper.read_bytes())
    assert 5 <= len(sheets) <= 30
    # ISO 216: A4 is 210 mm by 297 mm; a point is 1/72 in.
    assert {(round(float(w) / 72 * 25.4), round(float(h) / 72 * 25.4)) for w, h in sheets} == {(210, 297)}
