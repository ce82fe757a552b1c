"""How often the true thickness lies within k standard uncertainties of the thickness told."""

import numpy as np

from platemargin.ultrasonic_path import EchoMode
from platemargin.ultrasonic_thickness import ultrasonic_thickness

#: True thickness [mm], temperature [degC], film [um], mode, last digit [mm].
CASES = {
    "6 mm, bare": (6.0, 20.0, 0.0, EchoMode.SINGLE_ECHO),
    "10 mm, 40 degC": (10.0, 40.0, 0.0, EchoMode.SINGLE_ECHO),
    "4 mm, 250 um, single echo": (4.0, 12.0, 250.0, EchoMode.SINGLE_ECHO),
    "8 mm, 600 um, single echo": (8.0, 12.0, 600.0, EchoMode.SINGLE_ECHO),
    "8 mm, 600 um, multiple echo": (8.0, 12.0, 600.0, EchoMode.MULTIPLE_ECHO),
}


def indicated(chance, size, true, celsius, film, counts):
    """Return what gauges show: steels, walls and films vary, coupling scatters, the last digit is a tenth."""
    velocity = chance.normal(5920.0, 30.0, size)
    warmer = chance.normal(celsius, 5.0, size) - 20.0
    velocity = velocity * (1 - chance.normal(0.01 / 55, 0.002 / 55, size) * warmer)
    of_film = chance.normal(film, 25.0, size) / chance.normal(2500.0, 250.0, size) if film else np.zeros(size)
    shown = 5.920 * (1000 * true / velocity + counts * of_film) + chance.normal(0.0, 0.1, size)
    return np.round(shown, 1)


def coverage(read, true, factor):
    return float((np.abs(read.thickness_mm - true) <= factor * read.standard_uncertainty_mm).mean())


def test_nine_in_ten_lie_within_1_645_standard_uncertainties(study):
    """Each true thickness is drawn anew about its case, so that the last digit falls anywhere."""
    chance, size, rows = np.random.default_rng(23), study.size(40_000, 1_000_000), []
    for case, (true, celsius, film, mode) in CASES.items():
        thickness = true + chance.uniform(-0.5, 0.5, size)
        shown = indicated(chance, size, thickness, celsius, film, mode == EchoMode.SINGLE_ECHO)
        read = ultrasonic_thickness(indicated_mm=shown, temperature_c=celsius, coating_um=film, mode=mode)
        ninety, expanded = coverage(read, thickness, 1.645), coverage(read, thickness, 2.0)
        assert 0.88 <= ninety <= 0.92, case
        assert 0.94 <= expanded <= 0.97, case
        rows.append((case, f"{100 * ninety:.2f} %", f"{100 * expanded:.2f} %"))
    study.table("Ultrasonic thickness, coverage", ["case", "k = 1.645", "k = 2"], rows)


def test_an_unknown_mode_covers_either(study):
    """Half the gauges counted the film, half did not; what is told covers at least as many as it says."""
    chance, size, rows = np.random.default_rng(29), study.size(40_000, 1_000_000), []
    for film in (50.0, 100.0, 250.0, 600.0):
        thickness = 8.0 + chance.uniform(-0.5, 0.5, size)
        shown = indicated(chance, size, thickness, 20.0, film, chance.integers(0, 2, size))
        read = ultrasonic_thickness(indicated_mm=shown, temperature_c=20.0, coating_um=film)
        ninety = coverage(read, thickness, 1.645)
        assert ninety >= 0.88, film
        rows.append((film, f"{100 * ninety:.2f} %"))
    study.table("Ultrasonic thickness in an unknown mode", ["film, um", "k = 1.645"], rows)
