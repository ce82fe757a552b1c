"""The survey report as PDF: the page's words, tagged, its fonts within, whatever the names are and however long it is."""

import hashlib
import io
import json
import random
import re
import subprocess
import sys
import tomllib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import orjson
import pytest
from pypdf import PdfReader

import platemargin_api.demo
import platemargin_api.renderings
from platemargin_api.app import create_app
from platemargin_api.registry import load_registry
from platemargin_api.renderings.assessed import not_examined
from platemargin_api.renderings.report_content import report_of
from platemargin_api.renderings.report_parts import Cell, Column, Items, Paragraph, Report, Section, Table, items, row
from platemargin_api.renderings.typesetting import Letters, _letters, set_as_pdf
from platemargin_api.renderings.words import visible, visible_throughout

pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning:pypdf.*")

PDF = "application/pdf"
FONTS = Path(platemargin_api.renderings.__file__).parent / "fonts"
FAR = "\u957f\U0001f6a2\u0e01\U000130b8"
TYPESETTERS_MARKUP = [
    '#read("/etc/passwd")',
    "#{1 + 1} $x^2$ *bold* _thin_ `raw`",
    "= Heading // comment",
    "\\u{41} \\# @label <label> ~ ---",
    "]#text(white)[hidden",
    '#import "@preview/a:0.1.0"',
    "```typ #pagebreak()```",
]


def bare(words):
    """Return words without blanks: where lines and cells end is not told."""
    return "".join(words.split())


def of_pages(content):
    """Return the words of a document, blanks and what stands at the foot of each page left out."""
    pages = PdfReader(io.BytesIO(content)).pages
    return "".join(re.sub(r"Surveyreport:.{1,150}?\d+of\d+$", "", bare(page.extract_text())) for page in pages)


def holds(told, words):
    """Tell whether words are in a text, be they broken once by the end of a page and the head of a table."""
    wanted = bare(words)
    return wanted in told or any(wanted[:n] in told and wanted[n:] in told for n in range(1, len(wanted)))


def nodes(content):
    """Return the elements of a document's structure, in order."""
    root = PdfReader(io.BytesIO(content)).trailer["/Root"]

    def below(node):
        kids = node.get("/K", [])
        for kid in kids if isinstance(kids, list) else [kids]:
            made = kid.get_object() if hasattr(kid, "get_object") else kid
            if isinstance(made, dict) and "/S" in made:
                yield made
                yield from below(made)

    return list(below(root["/StructTreeRoot"]))


@pytest.fixture(params=["whole", "holed", "unread", "no_limit", "names"])
def paper(surveys, request, rendered):
    return rendered(surveys[request.param], PDF)


@pytest.fixture(scope="module")
def demo(rendered):
    return rendered(json.loads((Path(platemargin_api.demo.__file__).parent / "survey.json").read_text()), PDF)


# The same words as on the page


def words_of(report):
    """Yield every piece of words of a report but those of the map, which draws them."""
    yield from (report.kind, *report.facts, report.verdict_words, report.decision, *report.missing, report.foot)
    for section in report.sections:
        yield section.heading
        for block in section.blocks:
            yield from (getattr(block, "items", None) and _items(block)) or _others(block)


def _items(block):
    return [words for item in block.items for words in (item.words, *item.reasons)]


def _others(block):
    if isinstance(block, Table):
        cells = [words for one in block.rows for cell in one.cells for words in (cell.words, cell.small)]
        return [block.caption, *(column.head for column in block.columns), *cells]
    return [words for pair in getattr(block, "pairs", ()) for words in pair] + [getattr(block, "words", "")]


def test_all_that_the_page_says_is_in_it(paper):
    """The page is held against the answer by tests of its own; both are made of one report."""
    loaded, answer, content = paper
    told, letters = of_pages(content), Letters()
    report = report_of(*(letters.settable(visible_throughout(one)) for one in (loaded, answer)))
    # Words that are read from right to left come out of a PDF in another order.
    wanted = [words for words in words_of(report) if not letters.missing or words.isascii()]
    assert len(wanted) > 100
    assert not [words for words in dict.fromkeys(wanted) if not holds(told, words)]


def test_the_verdict_stands_on_the_first_page_and_beside_it_what_was_not_examined(paper):
    _, answer, content = paper
    first = bare(PdfReader(io.BytesIO(content)).pages[0].extract_text())
    verdict = answer["result"]["verdict"].replace("_", " ").capitalize()
    at = first.index(bare(f"Verdict{verdict}"))
    assert at < first.index("Notreadornotexamined") < first.index("Summary")
    assert all(bare(visible(phrase)) in first for phrase in not_examined(answer["result"])[:12])
    if answer["result"]["verdict"] != "no_limit_broken":
        assert "Nolimitbroken" not in of_pages(content)


def test_the_maps_words_are_words(demo):
    _, answer, content = demo
    told = of_pages(content)
    assert "PlatemapofQuillet" in told
    assert "Station[mfromthestem],to17.4matthestern" in told
    assert all(reading["zone"] in told for reading in answer["result"]["readings"])


# A document that machines can read


def test_it_declares_what_it_is(paper):
    """PDF/UA-1 (ISO 14289-1:2014): clause 5 its identifier, 7.1 title and tags, 7.2 language, 7.21.4.1 fonts within."""
    loaded, _, content = paper
    reader = PdfReader(io.BytesIO(content))
    root, metadata = reader.trailer["/Root"], reader.xmp_metadata.rdf_root.toxml()
    assert re.search(r"pdfuaid:part>1<|pdfuaid:part=\"1\"", metadata)
    assert root["/MarkInfo"]["/Marked"].value is True
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value is True
    assert reader.metadata.title.startswith("Survey report: ")
    assert loaded["surveyed_on"].isoformat() in reader.metadata.title
    fonts = {font.get_object()["/BaseFont"]: font.get_object() for page in reader.pages for font in fonts_of(page)}
    assert len(fonts) >= 4
    for name, font in fonts.items():
        assert "/ToUnicode" in font, name
        described = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(described), name


def fonts_of(page):
    resources = page["/Resources"].get_object()
    found = list(resources.get("/Font", {}).values())
    for within in resources.get("/XObject", {}).values():
        made = within.get_object()
        found += fonts_of(made) if "/Resources" in made else []
    return found


def test_no_time_is_written(demo):
    _, _, content = demo
    reader = PdfReader(io.BytesIO(content))
    assert not {"/CreationDate", "/ModDate"} & set(reader.metadata)
    assert not re.search(r"CreateDate|ModifyDate", reader.xmp_metadata.rdf_root.toxml())


def test_its_structure_is_that_of_the_report(paper):
    loaded, answer, content = paper
    report = report_of(*(visible_throughout(one) for one in (loaded, answer)))
    found = nodes(content)
    names = [node["/S"] for node in found]
    blocks = [block for section in report.sections for block in section.blocks]
    tables = [block for block in blocks if isinstance(block, Table)]
    assert names.count("/H1") == 1
    assert names.count("/H2") == 2 + len(report.sections)
    assert names.count("/H3") == sum(block.kind == "heading" for block in blocks)
    assert names.count("/Table") == len(tables)
    assert names.count("/TH") == sum(len(table.columns) for table in tables)
    assert names.count("/L") >= sum(isinstance(block, Items) for block in blocks)
    figures = [node for node in found if node["/S"] == "/Figure"]
    (picture,) = [node for node in figures if "/Alt" in node]
    assert picture["/Alt"].startswith(answer["summary"][0])


def test_its_fonts_are_as_they_were_published():
    (package,) = tomllib.loads((FONTS / "VENDORED.toml").read_text()).values()
    files = {name: value for name, value in package.items() if name.endswith(".ttf")}
    assert sorted(files) == sorted(path.name for path in FONTS.glob("*.ttf"))
    assert {name: hashlib.sha256((FONTS / name).read_bytes()).hexdigest() for name in files} == files
    assert "Bitstream" in (FONTS / "LICENSE.txt").read_text()


# Any name


def named(name):
    reading = {"id": name[:64], "zone": name[:40], "side": "port", "station_m": 3.0, "plate_mm": 5.0}
    hull = {"name": name[:100], "length_m": 10, "beam_m": 2, "draught_m": 0.5}
    rule = {"id": name[:40], "quantity": "residual_mm", "at_least": 6, "severity": "act"}
    rule |= {"statement": name[:100], "reference": name[:60]}
    return {"hull": hull, "surveyed_on": "2026-04-14", "readings": [reading], "rules": [rule]}


@pytest.mark.parametrize("name", TYPESETTERS_MARKUP)
def test_markup_of_the_typesetter_stays_words(rendered, name):
    _, _, content = rendered(named(name), PDF)
    told = of_pages(content)
    assert told.count(bare(name)) > 10
    assert "root:" not in told
    assert nodes(content)[0]["/S"] == nodes(rendered(named("a"), PDF)[2])[0]["/S"]
    assert [node["/S"] for node in nodes(content)].count("/H1") == 1


def test_hostile_names_stay_words(hostile, rendered):
    loaded, answer, content = rendered(named(hostile), PDF)
    letters = Letters()
    shown = letters.settable(visible(hostile[:40]))
    if not letters.missing and shown.isascii():
        assert bare(shown) in of_pages(content)
    reader = PdfReader(io.BytesIO(content))
    assert reader.metadata.title == letters.settable(visible(f"Survey report: {loaded['hull']['name']}, 2026-04-14"))
    assert answer["result"]["verdict"] == "act"


def test_letters_that_cannot_be_set_are_told(rendered):
    _, _, content = rendered(named(f"Boat {FAR}"), PDF)
    first = PdfReader(io.BytesIO(content)).pages[0].extract_text()
    note = " ".join(first.split())
    assert "Letters that the fonts of this document lack stand in it as \ufffd: U+0E01 (thai character ko kai), U+957F" in note
    assert "U+130B8 (egyptian hieroglyph d052), U+1F6A2 (ship)." in note
    assert "Boat \ufffd\ufffd\ufffd\ufffd" in note


def test_nothing_is_told_where_every_letter_can_be_set(rendered):
    name = "Lähn Ærø Ñandú Čáp Łódź Ωμέγα Волна אבג سفينة 12 µm ≥ ½ → ☃ e\u0301"
    assert "fonts of this document" not in of_pages(rendered(named(name), PDF)[2])


def made_of(*blocks):
    section = Section("all", "All", list(blocks))
    return Report("All", "All", "All", ["All."], "act", "Act", "All.", [], [section], "All.")


def test_every_letter_that_is_said_to_be_settable_is():
    """Each in each font and weight of the document, alone and joined to another."""
    known = [chr(code) for code in sorted(_letters())]
    lines = ["".join(f"{letter} x{letter} " for letter in known[n : n + 200]) for n in range(0, len(known), 200)]
    columns = [Column("Bold", "id"), Column("Plain"), Column("Code", "code"), Column("Mark", "mark")]
    rows = [row(line, Cell(line, line), Cell(line, line), line, code="act") for line in lines]
    blocks = (*(Paragraph(line) for line in lines), items(lines), Table("all", "All.", columns, rows))
    assert set_as_pdf("report.typ", orjson.dumps(made_of(*blocks))).startswith(b"%PDF-1.7")


def test_any_text_at_all_is_set():
    draw, letters = random.Random(20260414), Letters()
    planes = [(0, 0x2FF), (0x300, 0x36F), (0x590, 0x8FF), (0x900, 0xD7FF), (0xE000, 0xFFFF), (0x10000, 0x10FFFF)]
    words = ["".join(chr(draw.randint(*draw.choice(planes))) for _ in range(draw.randint(1, 40))) for _ in range(1500)]
    shown = [letters.settable(visible(one)) for one in words]
    assert len(letters.missing) > 1000
    assert set_as_pdf("report.typ", orjson.dumps(made_of(items(shown)))).startswith(b"%PDF-1.7")
    (note,) = letters.note()
    assert note.endswith(
        f"and {len(letters.missing) - 20} more. The same report as a page (text/html) and the answer in JSON have them."
    )
    assert set_as_pdf("report.typ", orjson.dumps(made_of(Paragraph(note)))).startswith(b"%PDF-1.7")


# Long surveys, and many at once


def test_a_long_survey_is_bounded_and_its_worst_readings_are_kept(rendered):
    draw = random.Random(7)
    readings = [
        {
            "id": f"R{n}",
            "zone": "baseplate" if n % 2 else "side",
            "side": "port",
            "station_m": round(draw.uniform(0, 17), 1),
            "plate_mm": round(draw.gauss(7, 1.2), 1),
        }
        for n in range(4_000)
    ]
    hull = {"name": "Long", "length_m": 17.4, "beam_m": 2.1, "draught_m": 0.6}
    survey = {"hull": hull, "built_on": "2010", "surveyed_on": "2026-04-14", "readings": readings, "plating_notation": "10/9"}
    _, answer, content = rendered(survey, PDF)
    told, acts = of_pages(content), [one["id"] for one in answer["result"]["readings"] if one["verdict"] == "act"]
    assert "Of4000rowsthe500worstaresethere;thereportasapage(text/html)hasall." in told
    assert 1 < len(acts) < 500
    assert all(f"{name}{zone}" in told for name, zone in ((one, "baseplate" if int(one[1:]) % 2 else "side") for one in acts))
    assert len(PdfReader(io.BytesIO(content)).pages) < 60
    assert len(content) < 20_000_000


def test_many_at_once_get_the_same_bytes_as_one():
    registry = load_registry()
    app, example = create_app(registry), json.dumps(registry.calculations["hull-survey"].offered.example)

    def ask(_):
        headers = {"Content-Type": "application/json", "Accept": PDF}
        return app.test_client().post("/v1/calculations/hull-survey", data=example, headers=headers)

    with ThreadPoolExecutor(12) as pool:
        answers = list(pool.map(ask, range(12)))
    assert {one.status_code for one in answers} == {200}
    assert {one.content_type for one in answers} == {PDF}
    assert len({one.data for one in answers}) == 1


def test_a_document_that_cannot_be_set_fails_without_a_word_of_the_survey():
    with pytest.raises(RuntimeError, match=r"^report\.typ could not be set \(exit status 1\)$"):
        set_as_pdf("report.typ", b'{"name": "Quillet"}')


# Without the extra


def test_without_the_libraries_it_is_not_offered():
    script = (
        "import importlib.util as u; find = u.find_spec;"
        "u.find_spec = lambda name, *a: None if name == 'typst' else find(name, *a);"
        "from platemargin_api.app import create_app; from platemargin_api.registry import load_registry;"
        "import json; registry = load_registry(); client = create_app(registry).test_client();"
        "body = json.dumps(registry.calculations['hull-survey'].offered.example);"
        "headers = {'Content-Type': 'application/json', 'Accept': 'application/pdf'};"
        "told = client.post('/v1/calculations/hull-survey', data=body, headers=headers);"
        "print(told.status_code, told.json['detail']);"
        "print(client.get('/v1/calculations/hull-survey').json['renderings']);"
        "print('application/pdf' in client.get('/openapi.json').text)"
    )
    done = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    refused, listed, documented = done.stdout.splitlines()
    assert refused == ("406 The answer is offered as application/json, image/svg+xml, text/html.")
    assert (listed, documented) == ("['image/svg+xml', 'text/html']", "False")
