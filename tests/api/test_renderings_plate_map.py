"""The plate map: safe within any page, every reading once and at its place, its figures the answer's."""

import json
import re
from collections import Counter
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest

from platemargin.quantities import text
from platemargin_api.renderings.colours import CLASSES, class_of
from platemargin_api.renderings.map_lanes import LEFT, RIGHT
from platemargin_api.renderings.words import tenths, visible, width_of

SVG = "{http://www.w3.org/2000/svg}"
#: All that any picture is made of: nothing that runs, fetches or styles its surroundings.
ELEMENTS = {"svg", "title", "desc", "metadata", "defs", "pattern", "g", "rect", "line", "circle", "path", "text"}
ATTRIBUTES = {
    *("id", "viewBox", "role", "aria-labelledby", "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "rx", "width", "height"),
    *("d", "fill", "stroke", "stroke-width", "stroke-dasharray", "stroke-linejoin", "paint-order", "transform"),
    *("font-family", "font-size", "font-weight", "text-anchor", "patternUnits"),
}
XML_CHARACTERS = re.compile("[\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]*")


def elements(drawing):
    return list(ET.fromstring(drawing).iter())


def marks(drawing):
    """Return each reading's mark by its index."""
    found = {}
    for element in elements(drawing):
        name = re.fullmatch(r".*-reading-(\d+)", element.get("id", ""))
        if name:
            assert int(name[1]) not in found
            found[int(name[1])] = element
    return found


def middle(mark):
    """Return where a mark is: of its circle, or of the points of its path."""
    circle = mark.find(f"{SVG}circle")
    if circle is not None:
        return float(circle.get("cx")), float(circle.get("cy"))
    points = [float(n) for n in re.findall(r"-?[\d.]+", mark.find(f"{SVG}path").get("d"))]
    return (min(points[::2]) + max(points[::2])) / 2, (min(points[1::2]) + max(points[1::2])) / 2


# Safe within any page


def test_it_is_made_of_nothing_but_shapes_and_words(surveys, survey_name, rendered):
    _, _, drawing = rendered(surveys[survey_name])
    for element in elements(drawing):
        assert element.tag.removeprefix(SVG) in ELEMENTS
        assert set(element.attrib) <= ATTRIBUTES
        for value in element.attrib.values():
            assert "url(" not in value or re.fullmatch(r"url\(#hull-survey-[0-9a-f]{12}-[a-z]+\)", value)
            assert "javascript:" not in value
    assert XML_CHARACTERS.fullmatch(drawing.decode())


def test_it_takes_whatever_room_it_is_given_and_is_an_image_with_words(surveys, survey_name, rendered):
    _, answer, drawing = rendered(surveys[survey_name])
    root = ET.fromstring(drawing)
    assert root.get("role") == "img"
    assert not {"width", "height", "style", "class"} & set(root.attrib)
    left, top, width, height = map(float, root.get("viewBox").split())
    assert (left, top, width) == (0, 0, 600)
    assert height > 200
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"
    assert title.text.startswith("Plate map of ")
    for sentence in answer["summary"]:
        assert visible(sentence) in description.text
    for zone in answer["result"]["zones"]:
        assert visible(f"{zone['zone']} {text(zone['thinnest_residual_mm'])} mm") in description.text


def test_ids_are_unique_and_of_this_request_alone(surveys, rendered):
    seen = []
    for name in surveys:
        ids = [element.get("id") for element in elements(rendered(surveys[name])[2]) if element.get("id")]
        assert len(ids) == len(set(ids))
        (prefix,) = {one[: len("hull-survey-") + 12] for one in ids}
        assert re.fullmatch("hull-survey-[0-9a-f]{12}", prefix)
        seen += ids
    assert len(seen) == len(set(seen))


def test_its_metadata_is_the_answers_provenance(surveys, survey_name, rendered):
    _, answer, drawing = rendered(surveys[survey_name])
    told = json.loads(ET.fromstring(drawing).find(f"{SVG}metadata").text)
    assert told == {"calculation": answer["calculation"], "provenance": answer["provenance"]}


def test_hostile_names_stay_words(hostile, rendered):
    reading = {"id": hostile, "zone": hostile[:40], "side": "port", "station_m": 3.0, "plate_mm": 5.0}
    request = {
        "hull": {"name": hostile, "length_m": 10, "beam_m": 2, "draught_m": 0.5},
        "surveyed_on": "2026-04-14",
        "readings": [reading, {**reading, "id": "listed", "station_m": None}],
        "unexamined": [{"zone": hostile[:40], "reason": "other"}],
    }
    _, _, drawing = rendered(request)
    assert {element.tag.removeprefix(SVG) for element in elements(drawing)} <= ELEMENTS
    assert f"Plate map of {visible(hostile)}" in ET.fromstring(drawing).find(f"{SVG}title").text
    assert "\u202e" not in drawing.decode()
    assert visible(hostile) in "".join(marks(drawing)[0].itertext())


def test_a_lone_surrogate_never_comes_so_far(client_of_service):
    hull = b'{"name": "\\ud800", "length_m": 10, "beam_m": 2, "draught_m": 1}'
    body = b'{"hull": ' + hull + b', "surveyed_on": "2026-04-14", "readings": []}'
    headers = {"Content-Type": "application/json", "Accept": "image/svg+xml"}
    assert client_of_service.post("/v1/calculations/hull-survey", data=body, headers=headers).status_code == 400


# Every reading once, where it was taken


def test_every_reading_is_there_once_with_its_figures(surveys, survey_name, rendered):
    _, answer, drawing = rendered(surveys[survey_name])
    found, readings = marks(drawing), answer["result"]["readings"]
    assert sorted(found) == list(range(len(readings)))
    for index, reading in enumerate(readings):
        words = found[index].find(f"{SVG}title").text
        assert words.startswith(visible(f"{reading['id']}: {text(reading['residual_mm'])} mm left of "))
        margin = "to no limit" if reading["margin_mm"] is None else f"{text(reading['margin_mm'])} mm"
        assert f"; margin {margin}; {reading['verdict'].replace('_', ' ')}; " in words


def test_its_mark_stands_at_its_station_or_in_the_list(surveys, survey_name, rendered):
    loaded, answer, drawing = rendered(surveys[survey_name])
    found, length = marks(drawing), loaded["hull"]["length_m"]
    placed = [index for index, one in enumerate(answer["result"]["readings"]) if one["station_m"] is not None]
    lowest = max((middle(found[index])[1] for index in placed), default=0)
    for index, reading in enumerate(answer["result"]["readings"]):
        across, down = middle(found[index])
        if reading["station_m"] is None:
            assert down > lowest
        else:
            assert across == pytest.approx(LEFT + (RIGHT - LEFT) * reading["station_m"] / length, abs=0.02)


def test_port_lies_above_the_centreline_and_that_above_starboard(surveys, rendered):
    _, answer, drawing = rendered(surveys["demo"])
    found, order = marks(drawing), ["port", "centreline", "starboard"]
    for zone in ("baseplate", "chine", "side", "swim", "cabin-side"):
        downs = {side: [] for side in order}
        for index, reading in enumerate(answer["result"]["readings"]):
            if reading["zone"] == zone:
                downs[reading["side"]].append(middle(found[index])[1])
        sides = [downs[side] for side in order if downs[side]]
        assert all(max(above) < min(below) for above, below in pairwise(sides))


def test_marks_have_the_colour_of_their_class_and_the_legend_counts_them(surveys, survey_name, rendered):
    _, answer, drawing = rendered(surveys[survey_name])
    found, readings = marks(drawing), answer["result"]["readings"]
    for index, reading in enumerate(readings):
        shape = next(one for one in found[index] if one.tag != f"{SVG}title")
        assert shape.get("fill") == class_of(reading).colour
    counted = Counter(class_of(reading).code for reading in readings)
    words = {element.text for element in elements(drawing) if element.tag == f"{SVG}text"}
    assert {f"{one.words} ({counted[one.code]})" for one in CLASSES} <= words


@pytest.mark.parametrize("name", ["demo", "many", "long", "short", "holed"])
def test_no_mark_hides_another(surveys, rendered, name):
    found = marks(rendered(surveys[name])[2])
    places = sorted(middle(mark) for mark in found.values())
    radius = max(float(circle.get("r")) for mark in found.values() for circle in mark.iter(f"{SVG}circle")) / 1.15
    for n, (x, y) in enumerate(places):
        beside = [(a, b) for a, b in places[n + 1 : n + 40] if abs(a - x) < 1.8 * radius and abs(b - y) < 1.8 * radius]
        assert not beside


def test_what_cannot_but_overlap_is_told(surveys, rendered):
    _, _, drawing = rendered(surveys["one_place"])
    assert "Marks of one place lie over one another (260 of 300)." in drawing.decode()


# Figures


def figures(drawing):
    """Return the printed figures: words, where their middle is, and how far down."""
    for element in elements(drawing):
        if element.get("paint-order") and element.get("text-anchor") == "middle" and element.get("font-size") == "9":
            yield element.text, float(element.get("x")), float(element.get("y"))


def test_figures_are_the_answers_and_the_thinnest_are_never_left_out(surveys, survey_name, rendered):
    _, answer, drawing = rendered(surveys[survey_name])
    result = answer["result"]
    placed = {n: one for n, one in enumerate(result["readings"]) if one["station_m"] is not None}
    printed = Counter(words for words, _, _ in figures(drawing))
    assert printed <= Counter(tenths(one["residual_mm"]) for one in placed.values())
    bold = [
        e.text
        for e in elements(drawing)
        if e.get("font-weight") == "bold" and e.get("paint-order") and e.get("font-size") == "9"
    ]
    thinnest = {zone["thinnest_reading_index"] for zone in result["zones"]} | {result["governing_reading_index"]}
    assert Counter(bold) == Counter(tenths(placed[n]["residual_mm"]) for n in thinnest if n in placed)


def test_all_figures_of_the_demo_are_printed(surveys, rendered):
    assert len(list(figures(rendered(surveys["demo"])[2]))) == len(surveys["demo"]["readings"])


def test_no_figure_runs_into_another_or_over_the_edge(surveys, survey_name, rendered):
    lines = {}
    for words, x, y in figures(rendered(surveys[survey_name])[2]):
        half = width_of(words, 9) / 2
        assert 0 < x - half < x + half < 600
        lines.setdefault(y, []).append((x - half, x + half))
    for line in lines.values():
        ordered = sorted(line)
        assert all(end <= start for (_, end), (start, _) in pairwise(ordered))


def test_figures_that_are_left_out_are_told(surveys, rendered):
    _, _, drawing = rendered(surveys["many"])
    printed = len(list(figures(drawing)))
    assert 150 < printed < 500
    told = " ".join(element.text or "" for element in elements(drawing) if element.tag == f"{SVG}text").replace("\u00a0", " ")
    assert f"Where figures would run together the thinnest are printed ({printed} of 500); every reading has its mark." in told


# What was not read, and anodes


def grounds(drawing, pattern):
    """Return the stretches of a ground: from and to across, from and to down."""
    return [
        (
            float(e.get("x")),
            float(e.get("x")) + float(e.get("width")),
            float(e.get("y")),
            float(e.get("y")) + float(e.get("height")),
        )
        for e in elements(drawing)
        if e.tag == f"{SVG}rect" and re.fullmatch(rf"url\(#.*-{pattern}\)", e.get("fill", "")) and e.get("stroke") is None
    ]


def test_a_hull_that_nobody_read_is_hatched_from_end_to_end(surveys, rendered):
    _, _, drawing = rendered(surveys["unread"])
    hatched = [(low, high) for low, high, *_ in grounds(drawing, "unread")]
    assert hatched.count((LEFT, RIGHT)) >= 7  # sides, chines, and three lanes of the baseplate


def test_no_reading_stands_on_unread_ground(surveys, survey_name, rendered):
    _, answer, drawing = rendered(surveys[survey_name])
    found = marks(drawing)
    unread = grounds(drawing, "unread")
    for index, reading in enumerate(answer["result"]["readings"]):
        if reading["station_m"] is not None:
            x, y = middle(found[index])
            assert not [1 for low, high, top, bottom in unread if low < x < high and top < y < bottom]


def test_what_could_not_be_examined_is_drawn_where_it_is(surveys, rendered):
    loaded, _, drawing = rendered(surveys["demo"])
    scale = (RIGHT - LEFT) / loaded["hull"]["length_m"]
    found = sorted(
        (round((low - LEFT) / scale, 2), round((high - LEFT) / scale, 2)) for low, high, *_ in grounds(drawing, "unexamined")
    )
    assert found == [(3.9, 4.1)] * 3 + [(12.4, 12.6)] * 3


def test_anodes_and_gaps_are_the_answers(surveys, rendered):
    _, answer, drawing = rendered(surveys["demo"])
    condition = answer["result"]["anodes"]["condition"]
    titles = [element.text for element in elements(drawing) if element.tag == f"{SVG}title"]
    for anode in condition["anodes"]:
        where = f"{anode['material']} anode, {anode['side']}, station {text(anode['station_m'])} m"
        assert sum(title.startswith(where) for title in titles) == 1
    for gap in condition["gaps"]:
        assert f"nothing that works reaches from {text(gap['from_m'])} m to {text(gap['to_m'])} m" in titles
    assert "anode" not in rendered(surveys["one"])[2].decode().lower().replace("rings and anodes", "")
