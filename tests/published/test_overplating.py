"""What plate weighs and how far it sinks a boat: arithmetic of cited figures, checked by hand."""

import pytest

from platemargin.overplating import overplating


def plated(area_m2, thickness_mm, **hull):
    box = {"length_m": 20.0, "beam_m": 2.0, "waterplane_coefficient": 1.0, **hull}
    return overplating(patches=[{"zone": "baseplate", "area_m2": area_m2, "thickness_mm": thickness_mm}], hull=box)


@pytest.mark.parametrize(("thickness_mm", "kg_per_m2"), [(4.0, 31.40), (5.0, 39.25), (6.0, 47.10), (8.0, 62.80), (10.0, 78.50)])
def test_weight_of_a_square_metre(thickness_mm, kg_per_m2):
    """Steel plate of 7850 kg/m3, as plate tables have it (derived)."""
    assert plated(1.0, thickness_mm).steel_kg == pytest.approx(kg_per_m2, abs=1e-9)


def test_six_millimetres_over_25_square_metres():
    """1177.5 kg; at 40 m2 of waterplane in fresh water 0.400 t/cm, hence 29.4 mm (derived)."""
    result = plated(25.0, 6.0)
    assert result.steel_kg == pytest.approx(1177.5, abs=1e-9)
    assert result.tonnes_per_cm == pytest.approx(0.400, abs=1e-12)
    assert result.sinkage_mm == pytest.approx(29.4375, abs=1e-9)


def test_salt_water_carries_more():
    """TPC = waterplane area x 1.025 / 100 (Barrass and Derrett, from memory)."""
    assert plated(25.0, 6.0, water="sea").tonnes_per_cm == pytest.approx(40.0 * 1.025 / 100.0, abs=1e-12)


def test_moment_to_trim_a_box():
    """MCT 1 cm of a box in salt water = 1.025 B L^2 / 1200 t m (Barrass and Derrett, from memory)."""
    assert plated(1.0, 4.0, water="sea").trim_moment_t_m_per_cm == pytest.approx(1.025 * 2.0 * 400.0 / 1200.0, abs=1e-9)


def test_trim_of_a_plate_forward():
    """10 m2 of 6 mm, 471 kg, 3 m before the middle: 1.413 t m over MCT 1 cm = L^2 B share / 1200 of a hull in fresh water.

    Derived: of a waterplane of 0.9, share 0.9^3 gives 0.486 t m/cm and the most trim, 29.074 mm, 0.9 gives 0.6 and the least.
    """
    patch = {"zone": "baseplate", "area_m2": 10.0, "thickness_mm": 6.0, "station_m": 7.0}
    result = overplating(patches=[patch], hull={"length_m": 20.0, "beam_m": 2.0, "waterplane_coefficient": 0.9})
    assert result.trim_moment_t_m_per_cm == pytest.approx(0.486, abs=1e-12)
    assert (result.trim_mm, result.trim_least_mm) == (pytest.approx(29.074074, abs=1e-6), pytest.approx(23.55, abs=1e-9))
    assert result.trim_by == "bow"


def test_displacement_from_the_draught():
    """Block coefficient x L B T x density (Barrass and Derrett, from memory): 0.75 x 20 x 2 x 0.6 m3 of fresh water, 18 t."""
    assert plated(25.0, 6.0, draught_m=0.6).displacement_after_kg == pytest.approx(18_000.0 + 1177.5, abs=1e-9)
