"""ultrasonic-thickness: corrections that add up, and a budget held against automatic differentiation and draws."""

import math

import numpy as np
import pytest
from uncertainties import ufloat

from platemargin.errors import NotApplicableError
from platemargin.ultrasonic_path import EchoMode, Quantity
from platemargin.ultrasonic_thickness import FINDINGS, ultrasonic_thickness

SINGLE = {"mode": EchoMode.SINGLE_ECHO, "coating_um": 250.0}
CASES = {
    "a time": {"transit_time_us": 2.3},
    "an indication": {"indicated_mm": 6.8},
    "another velocity": {"indicated_mm": 6.8, "velocity_m_per_s": 5850.0, "gauge_velocity_m_per_s": 5960.0},
    "hot": {"indicated_mm": 9.7, "temperature_c": 90.0, "reference_temperature_c": 15.0},
    "painted": {"indicated_mm": 6.8, **SINGLE},
    "everything": {
        "indicated_mm": 6.8,
        "velocity_m_per_s": 5850.0,
        "gauge_velocity_m_per_s": 5960.0,
        "temperature_c": -5.0,
        **SINGLE,
        "readings_averaged": 4,
    },
    "everything by time": {"transit_time_us": 2.3, "temperature_c": 60.0, **SINGLE},
}
DEFAULTS = {"velocity_m_per_s": 5920.0, "reference_temperature_c": 20.0, "mode": EchoMode.UNKNOWN, "readings_averaged": 1}


def inputs(given, of):
    """Return each input made by `of(value, standard uncertainty)`, as the measurement model takes them."""
    given = {**DEFAULTS, "temperature_c": given.get("reference_temperature_c", 20.0), **given}
    timed = "transit_time_us" in given
    return {
        "read": of(given["transit_time_us"], 0.01 / math.sqrt(12)) if timed else of(given["indicated_mm"], 0.1 / math.sqrt(12)),
        "repeated": of(0.0, 0.1 / math.sqrt(given["readings_averaged"])),
        "velocity": of(given["velocity_m_per_s"], 30.0),
        "temperature": of(given["temperature_c"], 5.0),
        "coefficient": of(0.01 / 55, 0.002 / 55),
        "film": of(given["coating_um"], 25.0) if given["mode"] == EchoMode.SINGLE_ECHO else 0.0,
        "film_velocity": of(2500.0, 250.0),
        "gauge": None if timed else given.get("gauge_velocity_m_per_s", given["velocity_m_per_s"]),
        "reference": given["reference_temperature_c"],
    }


def model(i):
    """Return the thickness of the measurement model, written anew: mm, us, m/s, degC, um."""
    one_way_us = i["read"] / 2 if i["gauge"] is None else 1000 * i["read"] / i["gauge"]
    velocity = i["velocity"] * (1 - i["coefficient"] * (i["temperature"] - i["reference"]))
    return (one_way_us - i["film"] / i["film_velocity"]) * velocity / 1000 + i["repeated"]


@pytest.mark.parametrize("case", CASES)
def test_thickness_and_uncertainty_are_those_of_automatic_differentiation(case):
    """Against the package `uncertainties`, on the model written anew."""
    read, oracle = ultrasonic_thickness(**CASES[case]), model(inputs(CASES[case], ufloat))
    assert read.thickness_mm == pytest.approx(oracle.nominal_value, rel=1e-12)
    assert read.standard_uncertainty_mm == pytest.approx(oracle.std_dev, rel=1e-9)


@pytest.mark.parametrize("case", CASES)
def test_uncertainty_is_that_of_draws(case):
    """Against the spread of 200,000 draws of every input; the inverse of a film's velocity is not quite linear."""
    chance = np.random.default_rng(31)
    drawn = model(inputs(CASES[case], lambda value, u: chance.normal(value, u, 200_000)))
    read = ultrasonic_thickness(**CASES[case])
    assert read.standard_uncertainty_mm == pytest.approx(drawn.std(), rel=0.03)
    assert read.thickness_mm == pytest.approx(drawn.mean(), abs=0.01)


@pytest.mark.parametrize("case", CASES)
def test_corrections_add_up_and_the_budget_too(case):
    read = ultrasonic_thickness(**CASES[case])
    corrections = read.corrections
    total = read.uncorrected_mm + corrections.velocity_mm + corrections.temperature_mm + corrections.coating_mm
    assert total == pytest.approx(read.thickness_mm, abs=1e-12)
    squares = sum(line.contribution_mm**2 for line in read.budget)
    assert read.standard_uncertainty_mm**2 == pytest.approx(squares)
    assert [int(line.quantity) for line in read.budget] == list(Quantity)


UNITS = {
    Quantity.READING: "mm",
    Quantity.REPEATABILITY: "mm",
    Quantity.VELOCITY: "m/s",
    Quantity.TEMPERATURE: "degC",
    Quantity.TEMPERATURE_COEFFICIENT: "1/degC",
    Quantity.COATING_THICKNESS: "um",
    Quantity.COATING_VELOCITY: "m/s",
    Quantity.ECHO_MODE: "mm",
}


@pytest.mark.parametrize("case", CASES)
def test_each_line_of_the_budget_is_in_the_unit_of_its_quantity(case):
    units = UNITS | ({Quantity.READING: "us"} if "transit_time_us" in CASES[case] else {})
    assert {Quantity(int(line.quantity)): str(line.unit) for line in ultrasonic_thickness(**CASES[case]).budget} == units


MOVED = {
    Quantity.READING: "indicated_mm",
    Quantity.VELOCITY: "velocity_m_per_s",
    Quantity.TEMPERATURE: "temperature_c",
    Quantity.COATING_THICKNESS: "coating_um",
    Quantity.COATING_VELOCITY: "coating_velocity_m_per_s",
}


@pytest.mark.parametrize("quantity", MOVED)
def test_a_sensitivity_is_how_the_thickness_answers_sign_and_all(quantity):
    """GUM 5.1.3: c is the derivative, here by central differences; warm steel read through paint, its gauge set by itself."""
    given = {"indicated_mm": 6.8, "velocity_m_per_s": 5900.0, "gauge_velocity_m_per_s": 5920.0, "temperature_c": 60.0, **SINGLE}
    given["coating_velocity_m_per_s"] = 2500.0
    name = MOVED[quantity]
    step = given[name] * 1e-5
    above, below = (ultrasonic_thickness(**{**given, name: given[name] + by}).thickness_mm for by in (step, -step))
    (line,) = [line for line in ultrasonic_thickness(**given).budget if int(line.quantity) == quantity]
    assert line.sensitivity == pytest.approx((above - below) / (2 * step), rel=1e-6)


def test_the_uncertainty_is_told_in_millimetres_in_percent_and_twice():
    """GUM 6.2.1 and 6.3.3: U = k u, k = 2 for about 95 %. Of 6.8 mm on bare steel u is made of four, by hand.

    0.1 / sqrt(12) of the last digit, 0.1 of repeating, 6.8 x 30 / 5920 of the velocity, 6.8 x 5 x 0.01 / 55 of the temperature.
    """
    read = ultrasonic_thickness(indicated_mm=6.8)
    u = math.sqrt(0.0288675**2 + 0.1**2 + 0.0344595**2 + 0.0061818**2)
    assert read.standard_uncertainty_mm == pytest.approx(u, abs=1e-7)
    assert read.standard_uncertainty_percent == pytest.approx(100 * u / 6.8, abs=2e-6)
    assert read.expanded_uncertainty_mm == pytest.approx(2 * u, abs=2e-7)


def test_the_velocity_of_warm_steel_and_the_film_as_steel_are_told():
    """ASTM E797, from memory: 1 % less for every 55 degC, 5920 to 5860.8 m/s; and 0.1 us of film is 0.592 mm of steel."""
    assert ultrasonic_thickness(indicated_mm=6.8, temperature_c=75.0).velocity_at_temperature_m_per_s == pytest.approx(5860.8)
    assert ultrasonic_thickness(indicated_mm=6.8, **SINGLE).coating_as_steel_mm == pytest.approx(0.592)
    assert np.isnan(ultrasonic_thickness(indicated_mm=6.8).coating_as_steel_mm)


def test_a_film_counts_in_a_single_echo_alone():
    """250 um at 2500 m/s takes as long as 0.592 mm of steel at 5920 m/s (arithmetic)."""
    by_mode = [float(ultrasonic_thickness(indicated_mm=6.8, coating_um=250.0, mode=mode).thickness_mm) for mode in EchoMode]
    assert by_mode == pytest.approx([6.8 - 0.592, 6.8, 6.8])


def test_an_unknown_mode_widens_by_the_second_moment():
    """GUM F.2.4.5: the film counts wholly or not at all; its mean square about what is told is half its square."""
    unknown = ultrasonic_thickness(indicated_mm=6.8, coating_um=250.0)
    bare = ultrasonic_thickness(indicated_mm=6.8, coating_um=0.0)
    widened = unknown.standard_uncertainty_mm**2 - bare.standard_uncertainty_mm**2
    of_film = np.hypot(0.592 * 25.0 / 250.0, 0.592 * 250.0 / 2500.0)
    assert widened == pytest.approx((0.592**2 + of_film**2) / 2)


def test_a_block_is_reckoned_as_its_rows_are():
    rows = [{"transit_time_us": np.nan, "indicated_mm": np.nan, **DEFAULTS, **case} for case in CASES.values()]
    names = ("transit_time_us", "indicated_mm", "velocity_m_per_s", "mode", "readings_averaged")
    block = ultrasonic_thickness(**{name: np.array([row[name] for row in rows]) for name in names})
    for index, row in enumerate(rows):
        alone = ultrasonic_thickness(**{name: row[name] for name in names})
        assert block.thickness_mm[index] == alone.thickness_mm
        assert block.corrections.temperature_mm[index] == alone.corrections.temperature_mm
        assert [line.unit[index] for line in block.budget] == [str(line.unit) for line in alone.budget]
        assert [line.contribution_mm[index] for line in block.budget] == [float(line.contribution_mm) for line in alone.budget]


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({}, "no_reading"),
        ({"transit_time_us": 2.0, "indicated_mm": 6.0}, "two_readings"),
        ({"transit_time_us": 2.0, "gauge_velocity_m_per_s": 5900.0}, "gauge_velocity_without_indication"),
        ({"indicated_mm": 1.0, "coating_um": 500.0}, "coating_thicker_than_reading"),
        ({"indicated_mm": 1.184, "coating_um": 500.0, "mode": EchoMode.SINGLE_ECHO}, "coating_thicker_than_reading"),
    ],
)
def test_what_describes_nothing_real_is_refused(given, code):
    with pytest.raises(NotApplicableError) as refused:
        ultrasonic_thickness(**given)
    assert [fault[0] for fault in refused.value.faults] == [code]


def test_a_film_thicker_than_the_reading_is_possible_by_multiple_echo():
    read = ultrasonic_thickness(indicated_mm=1.0, coating_um=500.0, mode=EchoMode.MULTIPLE_ECHO)
    assert read.thickness_mm == 1.0


def test_every_finding_has_a_code_of_its_own():
    assert len({finding.code for finding in FINDINGS}) == len(FINDINGS)


@pytest.mark.parametrize(("temperature_c", "sign"), [(60.0, -1), (20.0, 0), (-5.0, 1)])
def test_a_velocity_that_falls_faster_makes_warm_steel_thinner_and_cold_steel_thicker(temperature_c, sign):
    read = ultrasonic_thickness(indicated_mm=6.8, temperature_c=temperature_c, reference_temperature_c=20.0)
    (line,) = [line for line in read.budget if int(line.quantity) == Quantity.TEMPERATURE_COEFFICIENT]
    assert np.sign(line.sensitivity) == sign
