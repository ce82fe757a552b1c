"""What pictures are put together from: words, places, intervals, axes."""

import doctest
import importlib
import itertools
import pkgutil
import random
import unicodedata

import pytest

from platemargin_api import rendering_checks, renderings
from platemargin_api.renderings.axes import Frame, ticks
from platemargin_api.renderings.placing import labelled, overlapping, stacked
from platemargin_api.renderings.unfolded import READS_M, common_to, lanes_of
from platemargin_api.renderings.words import shortened, visible, visible_throughout, width_of, wrapped

MODULES = [
    importlib.import_module(f"{renderings.__name__}.{found.name}") for found in pkgutil.iter_modules(renderings.__path__)
]


@pytest.mark.parametrize("module", [*MODULES, rendering_checks], ids=lambda module: module.__name__)
def test_the_examples_are_right(module):
    assert doctest.testmod(module).failed == 0


# Words


def test_every_character_is_one_that_xml_can_hold():
    """XML 1.0, production 2: Char; here without the controls that it allows."""
    every = "".join(map(chr, itertools.chain(range(0xD800), range(0xE000, 0x110000))))
    for character in visible(every):
        assert character >= " "
        assert not 0x7F <= ord(character) < 0xA0
        assert ord(character) & 0xFFFE != 0xFFFE


def test_a_name_turns_nothing_around():
    assert visible("x\u202ey") == "x\ufffdy"
    assert visible("\u05d0 \u05d1 1 mm") == "\u2068\u05d0 \u05d1\u2069 1 mm"
    assert visible("\u0627\u064b 1") == "\u2068\u0627\u064b\u2069 1"
    assert visible("\u0633\u0644\u0627\u0645") == "\u2068\u0633\u0644\u0627\u0645\u2069"
    for words in ("a\u05d0", "\u05d0", "\u05d0-\u05d1 b \u05d2", " \u05d0 "):
        assert visible(words).count("\u2068") == visible(words).count("\u2069") >= 1
        assert visible(words).replace("\u2068", "").replace("\u2069", "") == words


def test_it_reaches_every_text_and_changes_nothing_else():
    told = {"a\0": ["b\x01", 1.5, None, True, ("c\x02",)]}
    assert visible_throughout(told) == {"a\u2400": ["b\u2401", 1.5, None, True, ["c\u2402"]]}
    assert told["a\0"][0] == "b\x01"


@pytest.mark.parametrize("words", ["one two three four five six", "W" * 70, "", "a " + "b" * 50 + " c", "\u957f" * 40])
def test_wrapped_lines_fit_and_lose_nothing(words):
    lines = wrapped(words, 100, 10)
    assert all(0 < width_of(line, 10) <= 100 for line in lines)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")
    cut = wrapped(words, 100, 10, most=2)
    assert len(cut) <= 2
    assert (cut == lines) or cut[-1].endswith("\u2026")


def test_what_is_shortened_fits_and_says_so():
    assert shortened("short", 100, 10) == "short"
    assert width_of(shortened("W" * 50, 100, 10), 10) <= 100
    assert shortened("W" * 50, 100, 10).endswith("\u2026")


def test_marks_on_letters_take_no_room():
    assert width_of("e\u0301", 10) == width_of("e", 10)
    assert unicodedata.east_asian_width("\u957f") == "W"
    assert width_of("\u957f", 10) == 10


# Places


@pytest.mark.parametrize("seed", range(20))
def test_stacked_marks_touch_none_in_their_row(seed):
    draw = random.Random(seed)
    across = [draw.uniform(0, 300) for _ in range(draw.randint(1, 200))]
    rows = stacked(across, pitch=8, most=1000)
    assert overlapping(across, rows, 8) == 0
    # As few rows as there are: some stretch shorter than the pitch holds that many marks.
    assert max(rows) + 1 == max(sum(at <= other < at + 8 for other in across) for at in across)


def test_more_marks_than_rows_are_told():
    rows = stacked([5.0] * 10, pitch=8, most=4)
    assert set(rows) == {0, 1, 2, 3}
    assert overlapping([5.0] * 10, rows, 8) == 6


@pytest.mark.parametrize("seed", range(20))
def test_labels_never_touch_and_an_earlier_one_is_never_left_out_for_a_later(seed):
    draw = random.Random(seed)
    wanted = [(n, draw.uniform(0, 400), draw.uniform(8, 30)) for n in range(100)]
    printed = labelled(wanted, tracks=2)
    boxes = {n: (middle - width / 2, middle + width / 2) for n, middle, width in wanted}
    for one, other in itertools.combinations(printed, 2):
        if printed[one] == printed[other]:
            assert boxes[one][1] <= boxes[other][0] or boxes[other][1] <= boxes[one][0]
    for left_out in boxes.keys() - printed.keys():
        for track in (0, 1):
            in_the_way = [
                one
                for one in printed
                if printed[one] == track and boxes[one][0] < boxes[left_out][1] and boxes[left_out][0] < boxes[one][1]
            ]
            assert min(in_the_way) < left_out


# The hull unfolded


def result(readings, **assessed):
    told = {"zones_unread": [], "parts_unread": [], "sides_unread": [], "unexamined": [], **assessed}
    return {"readings": [{"side": None, "station_m": None, **one} for one in readings], "assessed": told}


def request(length_m=20.0, plating=()):
    return {"hull": {"length_m": length_m}, "plating": list(plating), "unexamined": []}


def test_lanes_lie_as_the_shell_does():
    zones = ("rudder", "chine", "swim", "cabin-side", "wheelhouse", "transom")
    lanes = lanes_of(request(), result([{"zone": zone, "side": "port", "station_m": 1.0} for zone in zones]))
    assert [(lane.zone, lane.side) for lane in lanes] == [
        *((zone, "port") for zone in ("cabin-side", "side", "chine", "swim")),
        *(("baseplate", side) for side in ("port", "centreline", "starboard")),
        *((zone, "starboard") for zone in ("swim", "chine", "side", "cabin-side")),
        *((zone, "port") for zone in ("transom", "rudder", "wheelhouse")),
    ]


def test_a_reading_keeps_its_lane_and_no_other_from_being_unread():
    lanes = lanes_of(request(), result([{"zone": "side", "side": "port", "station_m": 10.0}]))
    read = next(lane for lane in lanes if (lane.zone, lane.side) == ("side", "port"))
    assert read.unread == ((0.0, 10.0 - READS_M), (10.0 + READS_M, 20.0))
    assert read.readings == (0,)
    others = [lane for lane in lanes if lane is not read]
    assert {lane.unread for lane in others} == {((0.0, 20.0),)}


def test_ends_are_drawn_where_they_were_read_or_plated():
    told = result([{"zone": "swim", "side": "port", "station_m": 1.0}, {"zone": "swim", "side": "port", "station_m": 18.5}])
    swims = [lane for lane in lanes_of(request(), told) if lane.zone == "swim"]
    assert {lane.runs for lane in swims} == {((0.4, 1.6), (17.9, 19.1))}
    assert [lane.unread for lane in swims if lane.side == "port"] == [()]
    plated = [{"zone": "counter", "from_m": 18.0}]
    (counter,) = [lane for lane in lanes_of(request(plating=plated), result([])) if lane.zone == "counter"]
    assert counter.runs == counter.unread == ((18.0, 20.0),)


def test_a_part_that_is_named_unread_is_although_a_reading_is_near():
    part = {"zone": "side", "side": "port", "from_m": 10.5, "to_m": 11.0}
    told = result([{"zone": "side", "side": "port", "station_m": 10.0}], parts_unread=[part])
    lane = next(one for one in lanes_of(request(), told) if (one.zone, one.side) == ("side", "port"))
    assert (10.5, 11.0) in lane.unread


def test_a_reading_without_a_side_has_a_lane_of_its_own():
    lanes = lanes_of(request(), result([{"zone": "baseplate", "station_m": 3.0}, {"zone": "side", "side": "port"}]))
    assert [(lane.zone, lane.side, lane.readings) for lane in lanes if lane.readings] == [("baseplate", None, (0,))]
    assert [(lane.zone, lane.side) for lane in lanes if lane.without_station] == [("side", "port")]


def test_what_is_common_is_within_both():
    assert common_to([(0.0, 1.0)], [(1.0, 2.0)]) == ()
    assert common_to([(0.0, 9.0)], [(1.0, 2.0), (3.0, 4.0)]) == ((1.0, 2.0), (3.0, 4.0))


# Axes


@pytest.mark.parametrize("seed", range(30))
def test_ticks_are_round_few_and_within(seed):
    draw = random.Random(seed)
    low = draw.uniform(-50, 50)
    high, most = low + 10 ** draw.uniform(-2, 4), draw.randint(3, 15)
    found = ticks(low, high, most)
    assert 1 <= len(found) <= most + 1
    assert low - 1e-9 <= found[0] <= found[-1] <= high + 1e-9
    steps = [b - a for a, b in itertools.pairwise(found)]
    assert steps == pytest.approx(steps[:1] * len(steps))
    assert all(f"{step:.0e}"[0] in "125" for step in steps)


def test_a_frame_keeps_what_lies_beyond_at_its_edge():
    frame = Frame(left=10, right=110, top=0, bottom=50, across=(0, 10), up=(0, 5))
    assert frame.at(5, 5) == (60, 0)
    assert frame.at(-3, 9) == (10, 0)
    assert frame.holds(10, 5)
    assert not frame.holds(10.1, 5)
