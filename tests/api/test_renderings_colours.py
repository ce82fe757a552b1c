"""The colours: legible by WCAG 2.2, and told apart by who sees no red or no green, and in grey.

Simulation of dichromats: the matrices of severity 1.0 of Machado, Oliveira and Fernandes (2009), "A physiologically-based
model for simulation of color vision deficiency", applied to linear sRGB; written from memory, each row adds up to 1. sRGB
is IEC 61966-2-1, Lab is CIE 1976 with the white of D65, the distance that of CIE 1976: 2.3 is just noticed (Mahy 1994,
from memory).
"""

import itertools
import re
from pathlib import Path

import numpy as np
import pytest

from platemargin_api.renderings import colours
from platemargin_api.renderings.colours import CLASSES, class_of

STYLE = (Path(colours.__file__).parent / "templates" / "report.css").read_text()
SIGHT = {
    "trichromat": np.eye(3),
    "protanope": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]),
    "deuteranope": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]),
}
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
#: Six times what is just noticed: small marks of two classes that follow one another are not taken for each other.
APART = 14.0
ON_THE_MARGIN = [one for one in CLASSES if one.code not in ("kept", "not_judged")]


def linear(colour):
    encoded = np.array([int(colour[n : n + 2], 16) for n in (1, 3, 5)]) / 255
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def luminance(colour):
    return float(np.array([0.2126, 0.7152, 0.0722]) @ linear(colour))


def contrast(one, other):
    """Return the contrast ratio of WCAG 2.2."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def lab(colour, sight):
    seen = np.clip(SIGHT[sight] @ linear(colour), 0, 1)
    ratio = (TO_XYZ @ seen) / (TO_XYZ @ np.ones(3))
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_the_matrices_keep_white_white():
    for matrix in SIGHT.values():
        assert matrix.sum(axis=1) == pytest.approx(np.ones(3), abs=2e-6)
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert lab("#ffffff", "trichromat") == pytest.approx([100, 0, 0], abs=1e-6)


@pytest.mark.parametrize("sight", SIGHT)
def test_classes_that_follow_one_another_stay_apart(sight):
    for one, other in itertools.pairwise(ON_THE_MARGIN):
        assert np.linalg.norm(lab(one.colour, sight) - lab(other.colour, sight)) > APART, (one.code, other.code)


@pytest.mark.parametrize("sight", SIGHT)
def test_circles_of_any_two_classes_stay_apart(sight):
    """Where the shape is the same the colour alone tells them apart."""
    circles = [one for one in CLASSES if one.shape in ("circle", "ring")]
    for one, other in itertools.combinations(circles, 2):
        assert np.linalg.norm(lab(one.colour, sight) - lab(other.colour, sight)) > APART, (one.code, other.code)


@pytest.mark.parametrize("sight", SIGHT)
def test_the_thinner_the_darker_so_that_it_holds_in_grey(sight):
    lightness = [lab(one.colour, sight)[0] for one in ON_THE_MARGIN]
    assert lightness == sorted(lightness)
    assert all(lighter - darker > 5 for darker, lighter in itertools.pairwise(lightness))


def test_what_calls_for_something_has_a_shape_of_its_own():
    shapes = [one.shape for one in CLASSES]
    assert len({"cross", "diamond", "triangle", "circle", "ring"} & set(shapes)) == 5
    assert [shapes.count(one) for one in ("cross", "diamond", "triangle", "ring")] == [1, 1, 1, 1]


@pytest.mark.parametrize("ink", [colours.INK, colours.QUIET, colours.LIMIT])
@pytest.mark.parametrize("ground", [colours.PAPER, "#f3f5f7", colours.BAND])
def test_words_of_pictures_are_legible(ink, ground):
    assert contrast(ink, ground) >= 4.5


@pytest.mark.parametrize("stroke", [colours.INK, colours.QUIET, colours.ACCENT, colours.LIMIT, colours.UNREAD])
@pytest.mark.parametrize("ground", [colours.PAPER, "#f3f5f7"])
def test_lines_of_pictures_are_seen(stroke, ground):
    assert contrast(stroke, ground) >= 3


def rules():
    """Return each rule of the report's style that sets a colour of letters: its selector, that colour and its ground."""
    for selector, body in re.findall(r"([^{}]+)\{([^{}]*)\}", STYLE):
        ink = re.search(r"(?<![-\w])color: (#[0-9a-f]{6})", body)
        ground = re.search(r"background: (#[0-9a-f]{6})", body)
        if ink:
            yield selector.strip(), ink[1], ground[1] if ground else "#ffffff"


def test_words_of_the_report_are_legible():
    found = list(rules())
    assert len(found) >= 12
    for selector, ink, ground in found:
        assert contrast(ink, ground) >= 4.5, selector


# Which class a reading is of


@pytest.mark.parametrize(
    ("state", "verdict", "margin", "code"),
    [
        ("holed", "act", -4.0, "holed"),
        ("holed", "not_judged", None, "holed"),
        ("metal_remains", "act", -0.6, "act"),
        ("metal_remains", "act", 3.0, "act"),
        ("metal_remains", "watch", -0.1, "watch"),
        ("metal_remains", "no_limit_broken", 0.0, "slight"),
        ("metal_remains", "no_limit_broken", 0.999, "slight"),
        ("metal_remains", "no_limit_broken", 1.0, "fair"),
        ("metal_remains", "no_limit_broken", 2.0, "ample"),
        ("thicker_than_original", "no_limit_broken", None, "kept"),
        ("metal_remains", "not_judged", 3.0, "not_judged"),
        ("metal_remains", "not_judged", None, "not_judged"),
    ],
)
def test_the_class_of_a_reading(state, verdict, margin, code):
    assert class_of({"plate_state": state, "verdict": verdict, "margin_mm": margin}).code == code
