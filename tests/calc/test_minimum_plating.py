"""Least plating: the article and the clamped panel, what governs, what is refused and what is told."""

from math import inf, nextafter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from platemargin import minimum_plating as room
from platemargin.declared import filled
from platemargin.errors import NotApplicableError
from platemargin.minimum_plating import MinimumPlatingGoverning as Governing
from platemargin.minimum_plating import minimum_plating, outside_scope
from platemargin.quantities import rounded

HULL = {"length_m": 21.336, "draught_m": 0.75, "frame_spacing_mm": 600.0, "zone": "bottom"}
BENDING = {"pressure_kpa": 16.0, "yield_mpa": 235.0, "ultimate_mpa": 360.0}

sizes = st.fixed_dictionaries(
    {
        "length_m": st.floats(3, 150),
        "draught_m": st.floats(0.1, 10),
        "frame_spacing_mm": st.floats(100, 2000),
        "double_hull": st.booleans(),
    }
)


@pytest.fixture
def found():
    """Return every finding of a request by code, as (path, values)."""

    def of(**request):
        arguments = {"beam_m": None, "double_hull": False, "panel_length_mm": None, **dict.fromkeys(BENDING), **request}
        result = minimum_plating(**arguments)
        return {
            finding.code: (place.path, place.values)
            for finding in room.FINDINGS
            for place in finding.applies(arguments, result)
        }

    return of


@given(sizes)
def test_bilge_is_never_thinner_than_bottom_and_side(size):
    """The article: in no case less than bottom and side; and none of them is below its 3.0 mm."""
    bottom, side, bilge = (minimum_plating(zone=zone, **size).inland_vessel_mm for zone in ("bottom", "side", "bilge"))
    assert bilge >= bottom == side >= 3.0


@given(sizes, st.sampled_from(["bottom", "side", "bilge"]))
def test_a_double_hull_is_never_the_thicker(size, zone):
    """c = 0.95 makes the formula of the length less, and that alone."""
    single, double = (minimum_plating(**{**size, "double_hull": skin}, zone=zone) for skin in (False, True))
    assert double.by_draught_mm == single.by_draught_mm
    assert 0.95 * single.inland_vessel_mm - 1e-12 <= double.inland_vessel_mm <= single.inland_vessel_mm


@given(sizes, st.sampled_from(["length_m", "draught_m", "frame_spacing_mm"]), st.floats(1, 3))
def test_a_longer_deeper_or_more_widely_framed_hull_is_never_thinner(size, name, times):
    """Nowhere, across 40 m and 500 mm too: at 40 m the first formula gives 3.9 mm, and so does the second."""
    more = {**size, name: size[name] * times}
    assert (
        minimum_plating(zone="side", **more).inland_vessel_mm >= minimum_plating(zone="side", **size).inland_vessel_mm - 1e-12
    )


def test_the_formulas_meet_at_forty_metres():
    """1.5 + 0.06 x 40 = 2.3 + 0.04 x 40 = 3.9: which one is taken at 40 m makes no difference."""
    at, over = (minimum_plating(**{**HULL, "length_m": length, "frame_spacing_mm": 500.0}) for length in (40.0, 40.001))
    assert at.by_length_mm == pytest.approx(3.9)
    assert over.by_length_mm == pytest.approx(3.90004)


@pytest.mark.parametrize(
    ("change", "governing"),
    [
        ({"length_m": 17.5, "frame_spacing_mm": 400.0}, Governing.LEAST),
        ({"length_m": 25.0, "frame_spacing_mm": 500.0}, Governing.LEAST),  # 1.5 + 0.06 x 25 is 3.0 itself
        ({}, Governing.LENGTH),
        ({"draught_m": 2.5}, Governing.DRAUGHT),
        ({**BENDING, "panel_length_mm": 900.0}, Governing.BENDING),
        ({**BENDING, "panel_length_mm": 900.0, "pressure_kpa": 8.0}, Governing.LENGTH),
    ],
)
def test_what_governs(change, governing):
    """The greatest figure, as it is told; of equals the first."""
    assert minimum_plating(**{**HULL, **change}).governing == governing


def test_bending_without_the_panel_length_is_a_long_panels():
    """The greatest that any length gives."""
    long = minimum_plating(**HULL, **BENDING)
    assert (long.k2, long.panel_aspect, long.panel_width_mm) == (0.5, None, 600.0)
    assert all(
        minimum_plating(**HULL, **BENDING, panel_length_mm=length).bending_mm <= long.bending_mm
        for length in (50.0, 300.0, 600.0, 900.0, 1200.0, 1201.0, 30_000.0)
    )


def test_either_side_may_be_the_shorter():
    """A panel is the same whichever of its sides is the frame spacing."""
    one = minimum_plating(**{**HULL, "frame_spacing_mm": 400.0}, **BENDING, panel_length_mm=500.0)
    other = minimum_plating(**{**HULL, "frame_spacing_mm": 500.0}, **BENDING, panel_length_mm=400.0)
    assert (one.panel_width_mm, one.panel_aspect, one.bending_mm) == (400.0, 1.25, other.bending_mm)


@pytest.mark.parametrize(("strengths", "stress"), [((235.0, 360.0), 211.5), ((355.0, 490.0), 294.0), ((100.0, 100.0), 60.0)])
def test_design_stress(strengths, stress):
    """ISO 12215-5, from memory: the lesser of 0.6 of the tensile and 0.9 of the yield strength."""
    told = minimum_plating(**HULL, **{**BENDING, **dict(zip(("yield_mpa", "ultimate_mpa"), strengths, strict=True))})
    assert told.design_stress_mpa == pytest.approx(stress, abs=1e-12)


def test_bending_by_hand():
    """600 mm under 16 kPa, k2 0.5, 211.5 MPa: 600 sqrt(16 x 0.5 / 211,500) = 600 sqrt(3.782506e-5) = 3.690125 mm."""
    assert minimum_plating(**HULL, **BENDING).bending_mm == pytest.approx(3.690125, abs=1e-6)


def test_the_articles_factors_and_the_hulls_volume_are_told():
    """ES-TRIN Article 3.02: b of the bilge 1.25, c of a double hull 0.95, else 1; 18 x 2.1 x 0.6 = 22.68 m3 by hand."""
    small = {**HULL, "length_m": 18.0, "draught_m": 0.6}
    plain, other = minimum_plating(**small), minimum_plating(**{**small, "zone": "bilge"}, beam_m=2.1, double_hull=True)
    assert (plain.zone_factor, plain.structure_factor, plain.volume_m3) == (1.0, 1.0, None)
    assert (other.zone_factor, other.structure_factor, other.volume_m3) == (1.25, 0.95, pytest.approx(22.68, abs=1e-9))


@pytest.mark.parametrize(
    ("given_", "missing"),
    [
        (("pressure_kpa",), ("yield_mpa", "ultimate_mpa")),
        (("yield_mpa",), ("pressure_kpa", "ultimate_mpa")),
        (("pressure_kpa", "yield_mpa"), ("ultimate_mpa",)),
        (("pressure_kpa", "ultimate_mpa"), ("yield_mpa",)),
        ((), ("pressure_kpa", "yield_mpa", "ultimate_mpa")),
    ],
)
def test_a_part_of_what_bending_needs_is_refused(given_, missing):
    """Each that is missing is named, a panel's length alone included."""
    request = {name: BENDING[name] for name in given_} or {"panel_length_mm": 900.0}
    with pytest.raises(NotApplicableError) as refused:
        minimum_plating(**HULL, **request)
    assert [(code, path) for code, path, _ in refused.value.faults] == [("bending_incomplete", (name,)) for name in missing]
    assert all(" and ".join(request) in message for _, _, message in refused.value.faults)


def test_steel_does_not_yield_after_it_breaks():
    """Equal strengths are taken, a yield over the tensile strength is refused."""
    minimum_plating(**HULL, **{**BENDING, "yield_mpa": 360.0})
    with pytest.raises(NotApplicableError) as refused:
        minimum_plating(**HULL, **{**BENDING, "yield_mpa": 360.01})
    assert [(code, path) for code, path, _ in refused.value.faults] == [("yield_over_ultimate", ("yield_mpa",))]


@pytest.mark.parametrize(
    ("length_m", "beam_m", "draught_m", "within"),
    [
        (20.0, None, 0.1, True),
        (19.999, None, 0.5, False),
        (19.9996, None, 0.5, True),  # 20.000 as it is told
        (18.0, 2.1, 0.6, False),
        (19.0, 5.0, 1.0526316, True),  # 100.000 m3
        (19.0, 5.0, 1.0526, False),
        (3.0, 30.0, 10.0, True),
    ],
)
def test_scope(length_m, beam_m, draught_m, within):
    """Directive (EU) 2016/1629, from memory: 20 m, or length x beam x draught of 100 m3; the limits themselves are within."""
    assert (outside_scope(length_m, beam_m, draught_m) is None) == within


def test_what_is_outside_the_scope_is_told(found):
    """Where the beam would tell, it is pointed at; where it does, the length is."""
    assert "outside_scope" not in found(**HULL)
    short = {**HULL, "length_m": 17.5}
    path, values = found(**short)["outside_scope"]
    assert path == ("beam_m",)
    assert "its beam is not told" in values["scope"]
    path, values = found(**short, beam_m=2.1)["outside_scope"]
    assert path == ("length_m",)
    assert "is below 100 m3" in values["scope"]


def test_a_pressure_below_still_waters_is_told(found):
    """0.75 m of fresh water is 7.355 kPa: less cannot be what a bottom bears. A side's panel may lie higher."""
    assert "pressure_below_static_head" not in found(**HULL, **{**BENDING, "pressure_kpa": 7.355})
    _, values = found(**HULL, **{**BENDING, "pressure_kpa": 7.354})["pressure_below_static_head"]
    assert float(rounded(values["static_head_kpa"], "kPa")) == 7.355
    assert "pressure_below_static_head" not in found(**{**HULL, **BENDING, "zone": "side", "pressure_kpa": 1.0})


def test_bending_of_a_long_hull_is_told(found):
    """ISO 12215-5 is of small craft, up to 24 m."""
    assert "bending_outside_scope" not in found(**{**HULL, **BENDING, "length_m": 24.0})
    assert "bending_outside_scope" in found(**{**HULL, **BENDING, "length_m": 24.001})
    assert "bending_outside_scope" not in found(**{**HULL, "length_m": 60.0})


@pytest.mark.parametrize(
    ("change", "code", "path", "words"),
    [
        ({"length_m": 17.5}, "outside_scope", ("beam_m",), "this hull of 17.5 m: it is shorter than 20 m"),
        # 0.8 m x 9.80665 kPa/m = 7.845 kPa
        (
            {**BENDING, "draught_m": 0.8, "pressure_kpa": 7.0},
            "pressure_below_static_head",
            ("pressure_kpa",),
            "of 7 kPa is less than the 7.845 kPa that still water of 0.8 m puts",
        ),
        ({**BENDING, "length_m": 30.0}, "bending_outside_scope", ("length_m",), "up to 24 m, not of 30 m:"),
    ],
)
def test_a_finding_has_its_figures_and_points_at_what_to_send(found, change, code, path, words):
    """The sentence as it is read, its figures filled in."""
    where, values = found(**{**HULL, **change})[code]
    (statement,) = (finding.statement for finding in room.FINDINGS if finding.code == code)
    assert where == path
    assert words in filled(statement, values)


@given(
    sizes,
    st.sampled_from(["bottom", "side", "bilge"]),
    st.floats(0.1, 500),
    st.floats(100, 1500),
    st.floats(1, 1.3),
    st.one_of(st.none(), st.floats(50, 30_000)),
)
def test_every_request_in_range_has_finite_figures(size, zone, pressure, strength, over, panel):
    """Whatever is in range; and bending never exceeds that of a long panel of the frame spacing."""
    steel = {"yield_mpa": strength, "ultimate_mpa": strength * over}
    told = minimum_plating(**size, zone=zone, pressure_kpa=pressure, **steel, panel_length_mm=panel)
    figures = [value for value in vars(told).values() if value is not None]
    assert all(0 <= value < inf for value in figures)
    assert told.bending_mm <= size["frame_spacing_mm"] * (pressure * 0.5 / (1000 * told.design_stress_mpa)) ** 0.5 + 1e-9


def test_just_over_twice_as_long_is_long():
    """The ratio is compared as it is told: a panel that is told as 2 is of the fit, and one over it is long."""
    assert minimum_plating(**HULL, **BENDING, panel_length_mm=nextafter(1200.0, inf)).k2 == pytest.approx(2.35 / 4.725)
    assert minimum_plating(**HULL, **BENDING, panel_length_mm=1200.01).k2 == 0.5
