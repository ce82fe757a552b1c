"""The survey report: whole, self-contained, accessible, and nothing in it but what the answer says."""

import re
from collections import Counter
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from platemargin.quantities import odds, text
from platemargin_api.rendering_checks import unsafe
from platemargin_api.renderings.assessed import not_examined
from platemargin_api.renderings.words import tenths, visible

VOID = {"meta", "br"}
VERDICTS = {"act": "Act", "watch": "Watch", "not_judged": "Not judged", "no_limit_broken": "No limit broken"}
HTML = "text/html"


class Page(HTMLParser):
    """A page as its elements: name, attributes, the path to each, and the words within."""

    def __init__(self, content):
        super().__init__()
        self.elements, self.open, self.words = [], [], []
        self.feed(content.decode())
        self.close()
        assert not self.open, f"left open: {self.open}"

    def handle_starttag(self, tag, attrs):
        assert len(attrs) == len(dict(attrs)), f"{tag} names an attribute twice"
        self.elements.append((tag, dict(attrs), tuple(one for one, _ in self.open), len(self.words)))
        if tag not in VOID:
            self.open.append((tag, len(self.elements) - 1))

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs), tuple(one for one, _ in self.open), len(self.words)))

    def handle_endtag(self, tag):
        name, index = self.open.pop()
        assert name == tag, f"{tag} closes {name}"
        self.elements[index] += (len(self.words),)

    def handle_data(self, data):
        self.words.append(data)

    @property
    def told(self):
        """All words outside of style and drawing, blanks made one."""
        hidden = {n for tag, _, _, first, *last in self.elements if tag in ("style", "svg") for n in range(first, *last)}
        return " ".join(" ".join(words for n, words in enumerate(self.words) if n not in hidden).split())

    def within(self, wanted, **attributes):
        """Return the words within each element of a name and attributes."""
        return [
            " ".join("".join(self.words[first : last[0]]).split())
            for tag, found, _, first, *last in self.elements
            if tag == wanted and last and all(found.get(name) == value for name, value in attributes.items())
        ]


@pytest.fixture
def page(surveys, survey_name, rendered):
    loaded, answer, content = rendered(surveys[survey_name], HTML)
    return loaded, answer, content, Page(content)


def flat(words):
    """Return words as they stand in the page: visible, blanks made one."""
    return " ".join(visible(words).split())


def bare(words):
    """Return words without blanks: cells of a row run together."""
    return "".join(words.split())


# Self-contained


def test_it_runs_nothing_and_fetches_nothing(page):
    _, _, content, parsed = page
    assert not list(unsafe(HTML, content))
    names = {tag for tag, *_ in parsed.elements}
    assert not names & {"script", "link", "img", "iframe", "object", "form", "input", "video", "audio", "base", "a"}
    for tag, attributes, *_ in parsed.elements:
        assert not [name for name in attributes if name.startswith("on") or name in ("style", "src", "href")], tag
    policies = [a["content"] for tag, a, *_ in parsed.elements if a.get("http-equiv") == "Content-Security-Policy"]
    assert policies == ["default-src 'none'; style-src 'unsafe-inline'"]
    assert content.startswith(b"<!DOCTYPE html>")


def test_the_map_within_it_is_the_map(surveys, survey_name, rendered):
    _, _, report = rendered(surveys[survey_name], HTML)
    _, _, drawing = rendered(surveys[survey_name])
    assert report.count(drawing) == 1


def test_hostile_names_stay_words(hostile, rendered):
    reading = {"id": hostile, "zone": hostile[:40], "side": "port", "station_m": 3.0, "plate_mm": 5.0}
    rule = {
        "id": hostile,
        "quantity": "residual_mm",
        "at_least": 6,
        "severity": "act",
        "statement": hostile,
        "reference": hostile,
    }
    request = {
        "id": hostile,
        "hull": {"name": hostile, "length_m": 10, "beam_m": 2, "draught_m": 0.5},
        "surveyed_on": "2026-04-14",
        "readings": [reading],
        "rules": [rule],
    }
    _, _, content = rendered(request, HTML)
    plain = {**request, "id": "a", "hull": {**request["hull"], "name": "a"}, "rules": [{**rule, "id": "a", "statement": "a"}]}
    plain |= {"readings": [{**reading, "id": "a", "zone": "bilgekeel"}]}
    _, _, harmless = rendered(plain, HTML)
    counted = [Counter(tag for tag, *_ in Page(one).elements) for one in (content, harmless)]
    assert set(counted[0]) <= set(counted[1]) | {"title"}
    assert flat(hostile) in Page(content).told
    assert Page(content).within("h1") == [flat(hostile)]
    assert not set(content.decode()) & set(map(chr, [*range(10), *range(11, 32), 127, 0x202E, 0xFFFE]))


# Accessible


def test_it_says_its_language_and_its_headings_are_in_order(page):
    _, _, _, parsed = page
    assert [a.get("lang") for tag, a, *_ in parsed.elements if tag == "html"] == ["en"]
    levels = [int(tag[1]) for tag, *_ in parsed.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert all(parsed.within(f"h{level}") for level in set(levels))
    assert Counter(tag for tag, *_ in parsed.elements)["main"] == 1


def test_tables_have_captions_and_every_head_says_of_what(page):
    _, _, _, parsed = page
    counted = Counter(tag for tag, *_ in parsed.elements)
    assert counted["table"] == counted["caption"] == counted["thead"] == counted["tbody"] >= 6
    assert all(a.get("scope") in ("col", "row", "rowgroup") for tag, a, *_ in parsed.elements if tag == "th")
    assert all(words for words in parsed.within("th"))


def test_rows_are_as_wide_as_their_heads(page):
    _, _, content, _ = page
    for table in re.findall(r"<table>.*?</table>", content.decode(), re.DOTALL):
        rows = re.findall(r"<tr.*?</tr>", table, re.DOTALL)
        widths = {sum(int(span or 1) for span in re.findall(r'<t[hd](?:[^>]*?colspan="(\d+)")?[^>]*>', row)) for row in rows}
        assert len(widths) == 1


def test_ids_are_unique_and_what_is_named_is_there(page):
    _, _, _, parsed = page
    ids = [a["id"] for _, a, *_ in parsed.elements if "id" in a]
    assert len(ids) == len(set(ids))
    named = [name for _, a, *_ in parsed.elements for name in a.get("aria-labelledby", "").split()]
    assert set(named) <= set(ids)
    assert all("aria-labelledby" in a for tag, a, *_ in parsed.elements if tag == "section")


# Whole


def test_the_verdict_stands_first_and_beside_it_what_was_not_examined(page):
    _, answer, content, parsed = page
    verdict = answer["result"]["verdict"]
    assert parsed.within("strong")[0] == VERDICTS[verdict]
    assert flat(answer["summary"][0]) in parsed.within("section", **{"class": f"verdict {verdict}"})[0]
    (missing,) = parsed.within("section", **{"class": "missing"})
    for phrase in not_examined(answer["result"]):
        assert flat(phrase) in missing
    order = [
        content.decode().index(f'<h2 id="{name}">') for name in ("verdict", "missing", "summary", "zones", "map", "advice")
    ]
    assert order == sorted(order)


def test_every_sentence_of_the_answer_is_in_it(page):
    _, answer, _, parsed = page
    result, told = answer["result"], parsed.told
    sentences = [
        *answer["summary"],
        *(one["statement"] for one in answer["findings"]),
        *(one["basis"] for one in answer["assumed"]),
        *answer["cautions"],
        *(one[part] for one in answer["references"] for part in ("id", "title", "clause")),
        *(one[part] for one in answer["working"] for part in ("symbol", "formula", "substituted", "reference")),
        *(one["statement"] for one in result["advice"]),
        *(reason for one in result["advice"] for reason in one["reasons"]),
        *(one["statement"] for one in result["rules"]),
        answer["provenance"]["request_digest"],
        answer["provenance"]["arguments_digest"],
        *(one["digest"] for one in answer["provenance"]["rule_sets"]),
    ]
    for sentence in sentences:
        assert flat(sentence) in told


def test_what_the_survey_may_bring_besides_is_in_it(surveys, rendered):
    _, answer, content = rendered(surveys["whole"], HTML)
    parsed, result = Page(content), answer["result"]
    first, previous, sizing = result["first_to_limit"], result["previous_survey"], result["anodes"]["sizing"]
    zones = parsed.within("section", **{"aria-labelledby": "zones"})[0]
    assert f"reading {first['reading']} in {first['zone']}, at {text(first['threshold_mm'])} mm" in zones
    assert f"{text(first['years_from_as_of'])} from 2026-06-01" in zones
    ((zone, pit),) = [(one["zone"], one["deepest_pit"]) for one in result["zones"] if one["deepest_pit"]]
    depths = (pit[name] for name in ("inspected_percent", "deepest_read_mm", "most_likely_mm", "expected_mm", "upper_mm"))
    rows = [bare(row) for row in parsed.within("tr")]
    told = f"{zone}{''.join(map(text, depths))}{odds(pit['probability_holed'])}{bare(pit['fit']['statement'])}"
    assert told in rows
    since = parsed.within("section", **{"aria-labelledby": "previous"})[0]
    assert f"The survey of 2021-05-02, {text(previous['years_since'])} years before this one, has 32 readings" in since
    for one in result["readings"]:
        told = f"{one['id']}{one['zone']}{one['previous_reading']}"
        if one["previous_reading"]:
            left = f"{tenths(one['previous_mm'])}{tenths(one['residual_mm'])}{text(one['short_term_mm_per_year'])}"
            assert f"{told}{left}" in rows
    thought = parsed.within("section", **{"aria-labelledby": "sizing"})[0]
    for name in ("count_needed", "resistivity_ohm_m", "wetted_area_m2", "net_mass_required_kg", "demand_met_percent"):
        assert text(sizing[name]) in thought
    assert all(text(one["charge_life_years"]) in thought for one in sizing["same_anode"])


def test_what_was_not_sent_has_no_section(surveys, rendered):
    parsed = Page(rendered(surveys["one"], HTML)[2])
    sections = {a.get("aria-labelledby") for tag, a, *_ in parsed.elements if tag == "section"}
    assert not sections & {"previous", "attack", "anodes", "sizing"}
    assert "The deepest pit that nobody measured" not in parsed.told


def test_every_zone_and_reading_is_a_row_with_the_answers_figures(page):
    _, answer, _, parsed = page
    rows, result = [bare(row) for row in parsed.within("tr")], answer["result"]
    for one in result["readings"]:
        station = "not told" if one["station_m"] is None else text(one["station_m"])
        begin = "".join(bare(visible(part)) for part in (one["id"], one["zone"], one["side"] or "not told", station))
        found = [row for row in rows if row.startswith(begin)]
        assert found
        assert any(tenths(one["residual_mm"]) in row[len(begin) :] for row in found)
    for zone in result["zones"]:
        begin = f"{bare(visible(zone['zone']))}{zone['exposure']}{zone['verdict'].replace('_', '')}"
        (found,) = [row for row in rows if row.startswith(begin)]
        assert f"{tenths(zone['thinnest_residual_mm'])}{bare(visible(zone['thinnest_reading']))}" in found


def test_what_it_cannot_say_is_said(surveys, rendered):
    def questions(name):
        return Page(rendered(surveys[name], HTML)[2]).within("section", **{"aria-labelledby": "open"})[0]

    assert "8 of 96 readings are judged by no limit that could pass them." in questions("demo")
    assert "The plate was not stated to be seen from inside." in questions("one")
    assert "120 of 120 readings tell no station." in questions("without_stations")
    assert "No plate under water was read." in questions("unread")
    assert "What side was plated with is not known: no loss, rate or life is told there." in questions("one_place")
    assert "Nothing was read between the places that were read." in questions("demo")


def test_a_pass_is_never_told_where_there_is_none(page):
    _, answer, _, parsed = page
    if answer["result"]["verdict"] != "no_limit_broken":
        assert "No limit broken" not in parsed.told
