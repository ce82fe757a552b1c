"""The two plots: their curves and points are the answer's, recomputed here by another way."""

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from scipy import stats

from platemargin.remaining_life import remaining_life
from platemargin_api.registry import load_registry
from platemargin_api.renderings.probability_plot import deepest_drawn, return_periods, variate
from platemargin_api.renderings.thickness_curve import Curve, horizon

SVG = "{http://www.w3.org/2000/svg}"
LIFE = dict(load_registry().calculations["remaining-life"].offered.example)
PITS = dict(load_registry().calculations["deepest-pit"].offered.example)
LIVES = {
    "example": LIFE,
    "below": {**LIFE, "residual_mm": 3.2},
    "no_loss": {**LIFE, "residual_mm": 10.1},
    "no_upper_end": {**LIFE, "residual_mm": 9.6},
    "previous": {**LIFE, "previous_mm": 8.0, "years_since_previous": 4.0},
    "slowing": {**LIFE, "exponent": 0.4, "rate_factor": 0.5},
    "stopped": {**LIFE, "rate_factor": 0.0},
    "old": {**LIFE, "years_in_service": 200.0, "years_ahead": 200.0},
    "young": {**LIFE, "years_in_service": 0.1, "years_ahead": 0.0},
    "no_limit": {**LIFE, "threshold_mm": 0.0},
    "nothing_left": {**LIFE, "residual_mm": 0.0, "threshold_mm": 0.0},
    "thick": {**LIFE, "residual_mm": 200.0},
}
DEPTHS = {
    "example": PITS,
    "by_eye": {**PITS, "sampling": "selected_by_eye"},
    "no_plate": {name: value for name, value in PITS.items() if name != "plate_mm"},
    "far": {**PITS, "pit_depths_mm": [0, 0.1, 0.2, 4, 9], "total_area_m2": 50_000.0, "plate_mm": 200.0},
    "whole": {**PITS, "total_area_m2": 3.01},
    "shallow": {**PITS, "pit_depths_mm": [0.0, 0.0, 0.1, 0.1, 0.2]},
    "deep": {**PITS, "pit_depths_mm": [0.0, 50.0, 100.0, 150.0, 200.0], "plate_mm": 200.0},
    "many": {**PITS, "pit_depths_mm": [0.5 + n % 97 / 90 for n in range(2000)], "total_area_m2": 10_000.0},
}


def words(drawing):
    return " ".join("".join(e.itertext()) for e in ET.fromstring(drawing).iter(f"{SVG}text")).replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("calculation", "request_sent"),
    [*(("remaining-life", one) for one in LIVES.values()), *(("deepest-pit", one) for one in DEPTHS.values())],
    ids=[*LIVES, *(f"pits_{name}" for name in DEPTHS)],
)
def test_each_is_a_picture_with_words_and_everything_within_it(rendered, calculation, request_sent):
    _, answer, drawing = rendered(request_sent, calculation=calculation)
    root = ET.fromstring(drawing)
    width, height = map(float, root.get("viewBox").split()[2:])
    assert (root.get("role"), width) == ("img", 600)
    description = root.find(f"{SVG}desc").text
    assert all(sentence in description for sentence in answer["summary"])
    for element in root.iter():
        assert not {"style", "class", "href"} & set(element.attrib)
        for name in ("x", "x1", "x2", "cx"):
            assert 0 <= float(element.get(name, 0)) <= width
        for name in ("y", "y1", "y2", "cy"):
            assert -20 <= float(element.get(name, 0)) <= height
        assert "nan" not in element.get("d", "")


# remaining-life


@pytest.mark.parametrize("name", ["example", "previous", "slowing", "old", "no_upper_end"])
@pytest.mark.parametrize("years", [0.0, 1.0, 7.5, 20.0, 60.0])
def test_the_curve_is_the_forecast(rendered, name, years):
    """The forecast of the calculation itself at that time, which the drawing does not use."""
    loaded, answer, _ = rendered(LIVES[name], calculation="remaining-life")
    curve = Curve(loaded, answer["result"])
    forecast = remaining_life(**{k: v for k, v in LIVES[name].items() if k != "surveyed_on"} | {"years_ahead": years})
    # Figures of the answer are rounded to 0.001 mm and 0.001 of the coverage factor.
    assert curve.middle(years) == pytest.approx(float(forecast.forecast_mm), abs=0.01)
    assert curve.ends(years)[0] == pytest.approx(float(forecast.forecast_low_mm), abs=0.03)
    assert curve.ends(years)[1] == pytest.approx(float(forecast.forecast_high_mm), abs=0.03)


@pytest.mark.parametrize("name", ["example", "previous"])
def test_the_curve_begins_at_the_base_and_crosses_the_limit_when_the_answer_says(rendered, name):
    loaded, answer, _ = rendered(LIVES[name], calculation="remaining-life")
    curve, result, limit = Curve(loaded, answer["result"]), answer["result"], loaded["threshold_mm"]
    assert curve.middle(-result["base_years"]) == pytest.approx(result["base_mm"])
    assert curve.middle(0.0) == loaded["residual_mm"]
    assert curve.middle(result["years"]) == pytest.approx(limit, abs=0.01)
    assert curve.ends(result["years_low"])[0] == pytest.approx(limit, abs=0.01)
    assert curve.ends(result["years_high"])[1] == pytest.approx(limit, abs=0.01)


@pytest.mark.parametrize("name", LIVES)
def test_the_future_that_is_drawn_is_finite_and_no_longer_than_anybody_knows(rendered, name):
    loaded, answer, drawing = rendered(LIVES[name], calculation="remaining-life")
    last = horizon(loaded, answer["result"])
    assert 5 <= last <= max(100, loaded["years_ahead"])
    if (answer["result"]["years"] or 0) > 100:
        assert "middle over 100 years" in words(drawing)


@pytest.mark.parametrize("name", ["example", "previous"])
def test_its_figures_are_the_answers(rendered, name):
    loaded, answer, drawing = rendered(LIVES[name], calculation="remaining-life")
    result = answer["result"]
    told = words(drawing)
    assert (
        f"earliest {result['years_low']:g} years; middle {result['years']:g} years; latest {result['years_high']:g} years"
        in told
    )
    assert f"limit {loaded['threshold_mm']:g} mm" in told


# deepest-pit


@pytest.mark.parametrize("period", [1.5, 2.0, 120.0, 1e5, 1e12])
def test_the_variate_is_that_of_gumbel(period):
    """scipy's own quantile of the Gumbel distribution."""
    assert variate(period) == pytest.approx(stats.gumbel_r.isf(1 / period), rel=1e-6)


def test_return_periods_are_within():
    assert return_periods(0.0, 5.0) == [2, 5, 10, 20, 50, 100]


@pytest.mark.parametrize("name", DEPTHS)
def test_every_depth_is_a_point_and_the_fit_is_a_line_through_them(rendered, name):
    loaded, answer, drawing = rendered(DEPTHS[name], calculation="deepest-pit")
    result, root = answer["result"], ET.fromstring(drawing)
    points = [e for e in root.iter(f"{SVG}circle") if e.get("r") == "3.4"][:-1]  # the last is the legend's
    assert len(points) == len(loaded["pit_depths_mm"])
    across, down = (np.array([float(e.get(which)) for e in points]) for which in ("cx", "cy"))
    variates, depths = (np.array([one[of] for one in result["plot"]]) for of in ("reduced_variate", "depth_mm"))
    scale_across, scale_down = np.polyfit(variates, across, 1), np.polyfit(depths, down, 1)
    assert np.polyval(scale_across, variates) == pytest.approx(across, abs=0.02)
    assert np.polyval(scale_down, depths) == pytest.approx(down, abs=0.02)
    fit = next(e for e in root.iter(f"{SVG}path") if e.get("stroke-width") == "2")
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", fit.get("d"))]
    for x, y in zip(numbers[::2], numbers[1::2], strict=True):
        at = (x - scale_across[1]) / scale_across[0]
        depth = result["location_mm"] + result["scale_mm"] * at
        # Rounded to 0.001 mm in the answer, to 0.01 of a unit in the drawing.
        assert np.polyval(scale_down, depth) == pytest.approx(y, abs=0.05 + abs(scale_down[0]) * 0.01)


def test_pits_picked_by_eye_show_nothing_of_the_whole_area(rendered):
    _, _, drawing = rendered(DEPTHS["by_eye"], calculation="deepest-pit")
    assert "upper" not in words(drawing)
    assert "the whole area: nothing is told of it from these patches" in words(drawing)


def test_what_lies_beyond_the_picture_is_told(rendered):
    loaded, answer, drawing = rendered(DEPTHS["far"], calculation="deepest-pit")
    assert deepest_drawn(loaded, answer["result"]) < answer["result"]["upper_mm"]
    assert f"beyond the picture: the upper depth ({answer['result']['upper_mm']:g} mm) and the plate (200 mm)" in words(drawing)


def test_the_figures_of_the_whole_area_are_the_answers(rendered):
    _, answer, drawing = rendered(PITS, calculation="deepest-pit")
    result, told = answer["result"], words(drawing)
    assert f"most likely {result['most_likely_mm']:g} mm" in told
    assert f"upper {result['upper_mm']:g} mm" in told
    assert f"plate {PITS['plate_mm']:g} mm: as deep is a hole" in told
