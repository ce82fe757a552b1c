"""How often grids and random readings meet attack, and how often the limit after clean readings holds."""

import numpy as np
import pytest

from platemargin.sampling import hit_probability, missed_fraction_upper, readings_needed

RATIOS = (0.2, 0.5, 0.8, 1.0, 1.1, 1.2, 1.3, 1.4, 1.42)


def test_a_grid_of_random_origin_meets_a_round_patch_as_often_as_told(study):
    """The patch's centre falls anywhere in a cell; it is hit where a corner lies within its radius."""
    chance, size, rows = np.random.default_rng(7), study.size(100_000, 4_000_000), []
    for ratio in RATIOS:
        off = np.abs(chance.random((size, 2)) - np.round(chance.random((size, 2))))
        off = np.minimum(off, 1 - off)
        hits = float((np.hypot(off[:, 0], off[:, 1]) <= ratio / 2).mean())
        told = hit_probability(ratio, 1.0)
        assert abs(hits - told) <= 5 * np.sqrt(told * (1 - told) / size) + 1e-9
        rows.append((ratio, f"{told:.4f}", f"{hits:.4f}"))
    study.table("A square grid and a round patch", ["d / s", "told", "simulated"], rows)


@pytest.mark.parametrize("confidence", [0.9, 0.95])
def test_the_limit_after_clean_readings_holds_as_often_as_told(study, confidence):
    """At a fraction just over the limit, clean readings come up with 1 - c: exact for no hit, whatever n.

    What is told is told only where no reading met attack; over all surveys of one fraction the limit is then wrong with
    (1 - p)^n where it lies below p, and never where it does not: discrete, never over 1 - c.
    """
    chance, size, rows = np.random.default_rng(11), study.size(100_000, 4_000_000), []
    for readings in (5, 10, 29, 59, 300):
        upper = missed_fraction_upper(readings, confidence)
        for fraction in (0.5 * upper, upper, min(1.3 * upper, 0.99)):
            clean = float((chance.binomial(readings, fraction, size) == 0).mean())
            wrong = clean if upper <= fraction else 0.0
            error = 5 * np.sqrt(confidence * (1 - confidence) / size)
            assert wrong <= 1 - confidence + error
            if fraction == upper:
                assert abs(clean - (1 - confidence)) <= error
            rows.append((readings, f"{fraction:.4f}", f"{upper:.4f}", f"{100 * wrong:.2f} %"))
    study.table(
        f"Limit after clean readings, {confidence:g}", ["readings", "attacked", "limit", "surveys in which it is wrong"], rows
    )


def test_the_readings_needed_meet_the_attack_as_often_as_asked(study):
    """Rounded up to a whole number: at the least the confidence, and less with one reading fewer."""
    chance, size, rows = np.random.default_rng(13), study.size(100_000, 2_000_000), []
    for fraction in (0.5, 0.2, 0.1, 0.05, 0.01):
        needed = readings_needed(fraction, 0.95)
        met = float((chance.binomial(needed, fraction, size) > 0).mean())
        assert met >= 0.95 - 5 * np.sqrt(0.95 * 0.05 / size)
        rows.append((fraction, needed, f"{100 * met:.2f} %"))
    study.table("Readings needed at 95 %", ["attacked", "readings", "surveys that met it"], rows)
