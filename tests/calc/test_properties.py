"""What holds of every answer, whatever the figures."""

import warnings
from datetime import date
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platemargin.corrosion_rate import Environment, corrosion_rate
from platemargin.hull_survey import hull_survey
from platemargin.plate_margin import plate_margin
from platemargin.quantities import decimals_of
from platemargin.remaining_life import LifeStatus, remaining_life
from platemargin.residual_thickness import residual_thickness
from platemargin.rule_sets import inland_vessel_benchmark, loss_fraction, loss_fraction_light, trade_practice
from platemargin.rules import Verdict
from platemargin.threshold_check import threshold_check

HULL = {
    "length_m": 17.5,
    "beam_m": 2.1,
    "draught_m": 0.6,
    "water": "fresh",
    "material": "steel",
    "construction": "welded",
}
#: Results that may have no value (CONTRACT: `|null`); every other figure is finite, always.
NULLABLE = {
    "years",
    "years_low",
    "years_high",
    "pit_share_percent",
    "short_term_mm_per_year",
    "short_term_standard_uncertainty_mm_per_year",
    "short_term_significant",
    "benchmark_loss_mm",
    "benchmark_ratio",
    "growth_low",
    "growth_high",
}

every_example = settings(deadline=None, derandomize=True, max_examples=300)
fewer_examples = settings(deadline=None, derandomize=True, max_examples=60)


def between(low, high):
    """Return numbers of a range, its ends included."""
    return st.floats(low, high, allow_nan=False, allow_subnormal=False)


tenths = st.integers(0, 120).map(lambda tenth: tenth / 10)
uncertainties = between(0.001, 10.0)

life_options = st.fixed_dictionaries(
    {"threshold_mm": between(0.0, 40.0)},
    optional={
        "exponent": between(0.2, 2.0),
        "rate_factor": between(0.0, 10.0),
        "original_standard_uncertainty_mm": uncertainties,
        "confidence": between(0.5, 0.999),
        "years_ahead": between(0.0, 200.0),
        "surveyed_on": st.dates().map(np.datetime64),
        "interval_cap_years": between(0.1, 50.0),
    },
)
benchmark_options = st.fixed_dictionaries(
    {}, optional={"faces": st.sampled_from([1, 2]), "environment": st.sampled_from([*Environment]).map(int)}
)


@st.composite
def services(draw):
    """Return an age, what of it was protected, and a previous reading or none: in range, and possible together."""
    years = draw(between(0.1, 200.0))
    given = {"years_in_service": years, "protected_years": draw(st.sampled_from([0.0, years / 2, years - 0.01]))}
    if draw(st.booleans()):
        given |= {
            "previous_mm": draw(between(0.0, 200.0)),
            "years_since_previous": draw(between(0.1, years)),
            "previous_standard_uncertainty_mm": draw(uncertainties),
        }
    return given


@st.composite
def thicknesses(draw):
    """Return an original, a plate and a pit that is not deeper than the plate by more than a hole's allowance."""
    plate = draw(between(0.0, 200.0))
    pit = draw(st.one_of(st.just(np.nan), between(0.0, min(plate + 0.5, 200.0))))
    return {"original_mm": draw(between(0.5, 40.0)), "plate_mm": plate, "pit_depth_mm": pit}


@st.composite
def plate_requests(draw):
    """Return a request of `plate_margin`."""
    gauges = {
        "plate_standard_uncertainty_mm": draw(uncertainties),
        "pit_standard_uncertainty_mm": draw(uncertainties),
    }
    return {**draw(thicknesses()), **draw(services()), **draw(life_options), **draw(benchmark_options), **gauges}


@st.composite
def rate_requests(draw):
    """Return a request of `corrosion_rate`."""
    original = {"original_mm": draw(between(0.5, 40.0)), "residual_mm": draw(between(0.0, 200.0))}
    general = {"general_loss_mm": draw(st.one_of(st.just(np.nan), between(-200.0, 40.0)))}
    return {
        **original,
        **general,
        **draw(services()),
        **draw(benchmark_options),
        "residual_standard_uncertainty_mm": draw(uncertainties),
    }


@st.composite
def life_requests(draw):
    """Return a request of `remaining_life`."""
    original = {"original_mm": draw(between(0.5, 40.0)), "residual_mm": draw(between(0.0, 200.0))}
    return {
        **original,
        **draw(services()),
        **draw(life_options),
        "residual_standard_uncertainty_mm": draw(uncertainties),
    }


ELEMENTWISE = [
    pytest.param(residual_thickness, thicknesses(), id="residual-thickness"),
    pytest.param(corrosion_rate, rate_requests(), id="corrosion-rate"),
    pytest.param(remaining_life, life_requests(), id="remaining-life"),
    pytest.param(plate_margin, plate_requests(), id="plate-margin"),
]


def figures(result):
    """Return a result's numbers by name; a day is not one."""
    return {name: value for name, value in vars(result).items() if np.asarray(value).dtype.kind != "M"}


def assert_finite(result):
    """Every figure is a number; one that may be absent is a number or NaN, never infinite."""
    for name, value in figures(result).items():
        assert not np.isinf(value).any(), name
        assert name in NULLABLE or np.isfinite(value).all(), name


def declared(name, value):
    """Return a figure as it is written: rounded as declared, with what fifteen digits of a float can tell."""
    return np.round(np.asarray(value, dtype=np.float64), decimals_of(name))


# -- more steel is never worse --


@given(life_requests(), between(0.0, 200.0))
@every_example
def test_thinner_plate_never_has_more_life(request, other):
    """Of two plates alike in all but what is left, the thinner never has more years, nor more years_low."""
    # A previous reading makes two plates unlike in more: which rate governs, and how uncertain it is.
    alike = {name: value for name, value in request.items() if "previous" not in name}
    thin, thick = sorted([alike["residual_mm"], other])
    for name in ("years", "years_low", "years_high"):
        less, more = (
            np.nan_to_num(getattr(remaining_life(**{**alike, "residual_mm": left}), name), nan=np.inf) for left in (thin, thick)
        )
        assert less <= more * (1 + 1e-9) + 1e-9, name


@given(life_requests(), between(0.0, 200.0))
@every_example
def test_thinner_plate_never_has_more_life_where_attack_does_not_slow(request, other):
    """With a previous reading too, the thinner plate never has more years, where attack goes on evenly or quickens."""
    # Where it slows, time counts from the previous reading once its rate governs: the model's life then jumps up.
    alike = {**request, "exponent": max(request.get("exponent", 1.0), 1.0)}
    thin, thick = sorted([alike["residual_mm"], other])
    less, more = (np.nan_to_num(remaining_life(**{**alike, "residual_mm": left}).years, nan=np.inf) for left in (thin, thick))
    # Rates are compared rounded to 0.0001 mm/year: within that of a tie either may govern.
    assert less <= more * (1 + 1e-3) + 1e-9


@given(between(0.5, 40.0), between(0.0, 200.0), between(0.0, 200.0), between(0.0, 200.0))
@every_example
def test_deeper_pit_never_has_less_loss(original_mm, plate_mm, one, other):
    """Of two pits in the same plate, the deeper never has less loss, nor more plate left."""
    shallow, deep = sorted([min(one, plate_mm + 0.5), min(other, plate_mm + 0.5)])
    less, more = (residual_thickness(original_mm=original_mm, plate_mm=plate_mm, pit_depth_mm=pit) for pit in (shallow, deep))
    assert more.loss_mm >= less.loss_mm
    assert more.loss_percent >= less.loss_percent
    assert more.residual_mm <= less.residual_mm


@given(between(0.5, 40.0), tenths, tenths, tenths)
@fewer_examples
def test_deeper_pit_never_has_a_better_verdict(original_mm, plate_mm, one, other):
    """Of two pits in the same plate, the deeper never has the better verdict by any shipped rule set."""
    shallow, deep = sorted([min(one, plate_mm), min(other, plate_mm)])
    better, worse = (
        threshold_check(
            readings=[{"zone": "side", "plate_mm": plate_mm, "pit_depth_mm": pit, "original_mm": original_mm}],
            rule_sets=[trade_practice.rule_set, loss_fraction.rule_set, loss_fraction_light.rule_set],
        ).verdict
        for pit in (shallow, deep)
    )
    assert worse >= better


# -- the order of readings says nothing --

zones = st.sampled_from(["baseplate", "side", "chine", "cabin-side", "bsaeplate", "port locker"])
sides = st.sampled_from([{}, {"side": "port"}, {"side": "starboard"}])


@st.composite
def readings(draw):
    """Return readings with names of their own, no two of a zone with the same plate left: ties go to the first."""
    plates = draw(
        st.lists(
            st.tuples(zones, st.integers(0, 120), st.one_of(st.none(), st.integers(0, 40)), sides),
            min_size=1,
            max_size=12,
            unique_by=lambda reading: (reading[0], max(reading[1] - (reading[2] or 0), 0)),
        )
    )
    return [
        {
            "id": f"r{index}",
            "zone": zone,
            "plate_mm": plate / 10,
            **side,
            **({} if pit is None else {"pit_depth_mm": min(pit, plate) / 10}),
        }
        for index, (zone, plate, pit, side) in enumerate(plates)
    ]


OWN_RULES = [
    {
        "id": "own",
        "quantity": "residual_mm",
        "at_least": 2.5,
        "severity": "act",
        "statement": "Own.",
        "reference": "own",
        **where,
    }
    for where in ({}, {"zones": ["side"]}, {"zones": ["port locker"]}, {"exposures": ["waterline"]})
]


@given(
    readings(),
    st.lists(st.sampled_from([trade_practice.rule_set, loss_fraction.rule_set]), unique_by=lambda found: found.id),
    st.sampled_from([[], *([rule] for rule in OWN_RULES)]),
    st.sampled_from([{}, {"draught_m": 0.75}, {"draught_m": 2.0, "frame_spacing_mm": 700.0}]),
)
@fewer_examples
def test_a_benchmark_only_ever_adds_what_breaks_it(sent, sets, rules, hull):
    """Whatever it is used beside, each verdict of a reading is what it was, or watch where it is broken; the whole one too, but
    for a pass, which is withheld where the hull does not tell what the benchmark needs.
    """
    size = {"length_m": 38.0, **hull}
    known = all(size.get(name) is not None for name in inland_vessel_benchmark.rule_set.by_hull.needs)
    without = threshold_check(readings=sent, rule_sets=sets, rules=rules, hull=size)
    beside = threshold_check(readings=sent, rule_sets=[*sets, inland_vessel_benchmark.rule_set], rules=rules, hull=size)
    breaks = np.any([outcome.broken for outcome in beside.judged.outcomes if not outcome.may_clear], axis=0)
    assert list(beside.judged.verdicts) == list(np.maximum(without.judged.verdicts, np.where(breaks, Verdict.WATCH, 0)))
    at_best = Verdict.NO_LIMIT_BROKEN if known else Verdict.NOT_JUDGED
    assert beside.verdict == max(without.verdict, Verdict.WATCH if breaks.any() else at_best)


@given(st.data(), readings())
@fewer_examples
def test_order_of_readings_does_not_matter_to_zones(data, in_order):
    """Each zone of a survey is the same however its readings are sent, but for the index of the thinnest."""
    shuffled = data.draw(st.permutations(in_order))
    first, second = (_zones(sent) for sent in (in_order, shuffled))
    assert first.keys() == second.keys()
    for name, zone in first.items():
        assert zone == pytest.approx(second[name], nan_ok=True), name


def _zones(sent):
    answer = hull_survey(
        hull=HULL,
        surveyed_on=date(2024, 12, 31),
        built_on="2008",
        rule_sets=[trade_practice.rule_set, loss_fraction.rule_set],
        plating_notation="10/6/5",
        readings=sent,
    )
    flat = {"": {"verdict": answer.verdict}}
    for zone in answer.zones:
        members = {name: value for name, value in vars(zone).items() if name not in {"thinnest_reading_index", "thresholds"}}
        lives = {
            f"{life.threshold_mm} {name}": np.nan if value is None else value
            for life in zone.thresholds
            for name, value in vars(life).items()
        }
        flat[zone.zone] = {name: np.nan if value is None else value for name, value in {**members, **lives}.items()}
    return flat


# -- one code for one and for many --


@pytest.mark.parametrize(("run", "requests"), ELEMENTWISE)
def test_scalars_and_arrays_answer_the_same(run, requests):
    """Rows sent together answer what each answers alone, rounded as declared."""

    @given(st.lists(requests, min_size=1, max_size=6))
    @fewer_examples
    def alike(rows):
        # A row may lack what another has: the default fills it, as it does for the row alone.
        names = {name for row in rows for name in row}
        defaults = {name: run.__kwdefaults__[name] for name in names if name in run.__kwdefaults__}
        columns = {name: np.array([row.get(name, defaults.get(name)) for row in rows]) for name in names}
        together = vars(run(**columns))
        for index, row in enumerate(rows):
            for name, value in vars(run(**row)).items():
                at_index = together[name][index]
                if np.asarray(value).dtype.kind == "M":
                    assert np.array_equal(value, at_index) or (np.isnat(value) and np.isnat(at_index)), name
                else:
                    np.testing.assert_array_equal(declared(name, value), declared(name, at_index), err_msg=name)

    alike()


@pytest.mark.parametrize(("run", "requests"), ELEMENTWISE)
def test_every_result_has_the_arguments_common_shape(run, requests):
    """One column among scalars makes every result a column of its length; all scalars make scalars."""

    @given(requests, st.data())
    @fewer_examples
    def shaped(request, data):
        name = data.draw(st.sampled_from(sorted(request)))
        mixed = vars(run(**{**request, name: np.full(3, request[name])}))
        assert {np.shape(value) for value in mixed.values()} == {(3,)}
        assert {np.shape(value) for value in vars(run(**request)).values()} == {()}

    shaped()


@pytest.mark.parametrize(("run", "requests"), ELEMENTWISE)
def test_arguments_are_not_changed(run, requests):
    """A calculation leaves the arrays that it is given as they were."""

    @given(requests)
    @fewer_examples
    def unchanged(request):
        sent = {name: np.array([value]) for name, value in request.items()}
        for column in sent.values():
            column.flags.writeable = False
        run(**sent)

    unchanged()


# -- landing on a limit is not breaking it: every pair of one-decimal figures, exhaustively --

MOST = 2000  # tenths: a gauge's 200 mm


def _on_limit(tenths_left):
    return [
        {"zone": "side", "plate_mm": plate / 10, "pit_depth_mm": (plate - tenths_left) / 10}
        for plate in range(tenths_left, MOST + 1)
    ]


@pytest.mark.parametrize(
    ("tenths_left", "verdict", "margins"),
    [
        (40, Verdict.NO_LIMIT_BROKEN, (0.0, 0.5)),
        (39, Verdict.WATCH, (-0.1, 0.4)),
        (35, Verdict.WATCH, (-0.5, 0.0)),
        (34, Verdict.ACT, (-0.6, -0.1)),
    ],
)
def test_every_pair_that_lands_on_a_thickness(tenths_left, verdict, margins):
    """All 1,961 one-decimal plates and pits that leave 4.0 mm (4.6 - 0.6 with them) do not break 4.0 mm; 3.9 mm does."""
    pairs = _on_limit(tenths_left)
    assert len(pairs) == MOST + 1 - tenths_left
    answer = threshold_check(readings=pairs, rule_sets=[trade_practice.rule_set])
    broken = tuple(len(pairs) if margin < 0 else 0 for margin in margins)
    assert answer.verdict == verdict
    assert tuple(rule.margin for rule in answer.rules) == margins
    assert tuple(rule.broken_count for rule in answer.rules) == broken


def test_every_pair_that_lands_on_a_thickness_is_not_below_it():
    """The remaining life says the same of them: at 4.0 mm none is below 4.0 mm already."""
    plate_mm, pit_depth_mm = np.array([[pair["plate_mm"], pair["pit_depth_mm"]] for pair in _on_limit(40)]).T
    at = {"original_mm": 10.0, "plate_mm": plate_mm, "pit_depth_mm": pit_depth_mm, "years_in_service": 16.0}
    answer = plate_margin(**at, threshold_mm=4.0)
    assert not (answer.status == LifeStatus.ALREADY_BELOW).any()
    assert (answer.margin_mm == 0).all()
    assert (plate_margin(**at, threshold_mm=4.1).status == LifeStatus.ALREADY_BELOW).all()


@pytest.mark.parametrize(
    ("rule_set", "rule_id", "percent"),
    [
        (loss_fraction.rule_set, "local-loss-watch", 20),
        (loss_fraction.rule_set, "local-loss-act", 25),
        (loss_fraction_light.rule_set, "local-loss-light-act", 15),
    ],
)
def test_every_pair_that_lands_on_a_loss(rule_set, rule_id, percent):
    """All one-decimal originals, plates and pits that lose 20 % (6 to 4.8 with them) do not break 20 %; 0.1 mm more does."""
    on_limit = [(original, original * (100 - percent) // 100) for original in range(5, 401) if original * percent % 100 == 0]
    assert len(on_limit) >= 20
    for further, broken in ((0, False), (1, True)):
        sent = [
            {
                "zone": "side",
                "original_mm": original / 10,
                "plate_mm": (left - further + pit) / 10,
                "pit_depth_mm": pit / 10,
            }
            for original, left in on_limit
            for pit in range(201)
            if left >= further
        ]
        answer = threshold_check(readings=sent, rule_sets=[rule_set])
        (told,) = (rule for rule in answer.rules if rule.id == rule_id)
        assert told.broken_count == (len(sent) if broken else 0)
        assert broken or told.margin == 0


# -- every request in range has a finite answer --


@pytest.mark.parametrize(("run", "requests"), ELEMENTWISE)
def test_every_request_in_range_has_a_finite_answer(run, requests):
    """No request in range makes a figure infinite, or absent where it may not be, or makes numpy warn."""

    @given(requests)
    @every_example
    def finite(request):
        with warnings.catch_warnings(), np.errstate(over="warn", divide="warn", invalid="warn"):
            warnings.simplefilter("error")
            assert_finite(run(**request))

    finite()


#: The ends of every range, and t = 0.1 with n = 2, f = 10 and x = 200 among them.
CORNERS = {
    "original_mm": [0.5, 3.0, 40.0],
    "residual_mm": [0.0, 0.5, 40.0, 200.0],
    "years_in_service": [0.1, 200.0],
    "threshold_mm": [0.0, 0.5, 40.0],
    "unprotected_years": [0.01, np.inf],
    "previous": [(np.nan, np.nan), (0.0, 0.1), (200.0, 0.1), (200.0, np.inf)],
    "exponent": [0.2, 1.0, 2.0],
    "rate_factor": [0.0, 1e-9, 10.0],
    "residual_standard_uncertainty_mm": [0.001, 10.0],
    "original_standard_uncertainty_mm": [0.001, 10.0, np.nan],
    "confidence": [0.5, 0.999],
    "years_ahead": [0.0, 200.0],
}


def _corners():
    """Return every combination of the corners as columns."""
    sizes = [len(values) for values in CORNERS.values()]
    places = np.indices(sizes).reshape(len(sizes), -1)
    columns = {
        name: np.array(values, dtype=float)[place] for (name, values), place in zip(CORNERS.items(), places, strict=True)
    }
    years = columns["years_in_service"]
    previous = columns.pop("previous").T
    protected = years - np.minimum(columns.pop("unprotected_years"), years)
    return {
        **columns,
        "protected_years": np.where(protected < years, protected, 0.0),
        "previous_mm": previous[0],
        "years_since_previous": np.minimum(previous[1], years),
    }


def test_every_corner_of_the_range_has_a_finite_answer():
    """The same for all combinations of the ranges' ends at once, in `corrosion_rate` and `remaining_life`."""
    rows = _corners()
    assert len(rows["confidence"]) == np.prod([len(values) for values in CORNERS.values()])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        life = remaining_life(**rows, surveyed_on=np.datetime64("2024-12-31"))
        rate = corrosion_rate(
            **{name: column for name, column in rows.items() if name in corrosion_rate.__kwdefaults__},
            original_mm=rows["original_mm"],
            residual_mm=rows["residual_mm"],
            years_in_service=rows["years_in_service"],
            environment=1,
            general_loss_mm=1.0,
        )
    assert_finite(life)
    assert_finite(rate)
    assert (life.forecast_low_mm <= life.forecast_mm).all()
    assert (life.forecast_mm <= life.forecast_high_mm).all()
    for name in ("probability_below", "probability_below_now"):
        assert ((getattr(life, name) >= 0) & (getattr(life, name) <= 1)).all()


def test_the_hardest_corner_is_among_them():
    """Age 0.1 years, exponent 2, rate factor 10, 200 years ahead: a forecast of no plate, certainly below."""
    life = remaining_life(
        original_mm=40.0,
        residual_mm=0.5,
        years_in_service=0.1,
        threshold_mm=0.4,
        exponent=2.0,
        rate_factor=10.0,
        years_ahead=200.0,
    )
    assert_finite(life)
    assert (float(life.forecast_mm), round(float(life.probability_below), 6)) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("original_mm", "plate_mm", "pit_depth_mm"), [*product([0.5, 40.0], [0.0, 0.001, 200.0], [0.0, 0.5, np.nan])]
)
def test_every_corner_of_a_thickness_has_a_finite_answer(original_mm, plate_mm, pit_depth_mm):
    """The same for `residual_thickness`, from no plate with a pit in it to 200 mm of plate on half a millimetre."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert_finite(residual_thickness(original_mm=original_mm, plate_mm=plate_mm, pit_depth_mm=pit_depth_mm))
