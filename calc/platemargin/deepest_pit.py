"""The pit that nobody measured: from the deepest of each of some patches to the deepest of the whole area."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeAlias

import numpy as np
from scipy.special import chdtrc

from platemargin.declared import Arguments, Fault, Place, Step, refuse
from platemargin.deepest_pit_findings import ENOUGH_TO_SHOW, FINDINGS, POOR_FIT
from platemargin.extreme_value import fit_extreme_value
from platemargin.gumbel import Fit, Method, anderson_darling, fit, log_likelihood, standard_errors
from platemargin.lieblein import MOST as MOST_FOR_LIEBLEIN
from platemargin.pit_prediction import Prediction, predicted
from platemargin.quantities import Floats, below, rounded
from platemargin.residual_thickness import HOLE_ALLOWANCE_MM
from platemargin.unread_pits import probability_as_deep, unread_patches

__all__ = [
    "CONFIDENCE",
    "FAULTS",
    "FINDINGS",
    "METHOD",
    "SAMPLINGS",
    "WORKING",
    "DeepestPit",
    "FitQuality",
    "MethodName",
    "PitSampling",
    "PlotPoints",
    "deepest_pit",
]

PitSampling: TypeAlias = Literal["deepest_of_every_patch", "random_patches", "selected_by_eye", "unknown"]
MethodName: TypeAlias = Literal["maximum_likelihood", "l_moments", "lieblein"]
#: Patches chosen so say something of those that were not read.
SAMPLINGS: tuple[PitSampling, ...] = ("deepest_of_every_patch", "random_patches")
METHOD: MethodName = "maximum_likelihood"
#: One-sided.
CONFIDENCE = 0.95


@dataclass(frozen=True, kw_only=True)
class FitQuality:
    """How far the depths lie from the fit, how often such depths would lie as far, and what another shape would gain."""

    statistic: float
    p_value: float
    statement: str
    shape: float
    likelihood_ratio_statistic: float
    likelihood_ratio_p_value: float


@dataclass(frozen=True, kw_only=True)
class PlotPoints:
    """The depths, ascending, at the reduced variates of their plotting positions i / (n + 1)."""

    reduced_variate: Floats
    depth_mm: Floats


@dataclass(frozen=True, kw_only=True)
class DeepestPit:
    """The fit, and what it says of the whole area; None where the patches say nothing of it, or no plate was given."""

    location_mm: float
    scale_mm: float
    location_se_mm: float
    scale_se_mm: float
    return_period: float
    unread_patches: float
    inspected_percent: float
    deepest_read_mm: float
    most_likely_mm: float | None
    quantile_mm: float | None
    expected_mm: float | None
    upper_mm: float | None
    upper_if_parameters_known_mm: float | None
    upper_reduced: float | None
    probability_holed: float | None
    probability_holed_if_parameters_known: float | None
    fit: FitQuality
    plot: PlotPoints

    @property
    def patches(self) -> int:
        """How many patches were read."""
        return len(self.plot.depth_mm)


def _deeper_than_plate(arguments: Arguments) -> Iterable[Place]:
    plate = arguments["plate_mm"]
    if plate is None:
        return
    for index, depth in enumerate(arguments["pit_depths_mm"]):
        if rounded(depth - plate, "mm") > HOLE_ALLOWANCE_MM:
            yield Place(path=(index,), values={"pit_depth_mm": depth, "plate_mm": plate})


def _more_than_the_area(arguments: Arguments) -> Iterable[Place]:
    inspected = len(arguments["pit_depths_mm"]) * arguments["patch_area_m2"]
    if below(arguments["total_area_m2"], inspected, "m2"):
        yield Place(values={"inspected_m2": inspected, "total_area_m2": arguments["total_area_m2"]})


def _too_many_for_lieblein(arguments: Arguments) -> Iterable[Place]:
    count = len(arguments["pit_depths_mm"])
    if arguments["method"] == "lieblein" and count > MOST_FOR_LIEBLEIN:
        yield Place(values={"count": count, "most": MOST_FOR_LIEBLEIN})


def _no_spread(arguments: Arguments) -> Iterable[Place]:
    if any(True for _ in _too_many_for_lieblein(arguments)):
        return
    depths = np.sort(rounded(arguments["pit_depths_mm"], "mm"))
    if depths[0] == depths[-1] or rounded(fit(depths[None], Method[arguments["method"].upper()]).scale, "mm")[0] <= 0:
        yield Place(values={"depth_mm": float(depths[-1])})


FAULTS = (
    Fault(
        field="pit_depths_mm",
        code="pit_deeper_than_plate",
        message="the pit of {pit_depth_mm} mm is deeper than the plate of {plate_mm} mm by more than 0.5 mm; read both again, "
        "or leave plate_mm out where the patches' plates differ",
        broken=_deeper_than_plate,
    ),
    Fault(
        field="total_area_m2",
        code="patches_over_area",
        message="the patches are {inspected_m2} m2 together, more than the area of {total_area_m2} m2 that they are of; check "
        "the two areas",
        broken=_more_than_the_area,
    ),
    Fault(
        field="method",
        code="too_many_for_lieblein",
        message="Lieblein's estimator is known for {most} patches at the most, not for {count}; ask for maximum_likelihood or "
        "l_moments",
        broken=_too_many_for_lieblein,
    ),
    Fault(
        field="pit_depths_mm",
        code="no_spread",
        message="the depths are all {depth_mm} mm, or as good as: without spread nothing can be said of a deeper one; send "
        "each patch's depth as it was read",
        broken=_no_spread,
    ),
)


def _depth_step(symbol: str, formula: str, substituted: str, reference: str) -> Step:
    """Return the step to a depth of the whole area from the location."""
    return Step(
        symbol=symbol,
        formula=formula,
        substituted=f"{{location_mm}} + {substituted}",
        value=symbol,
        unit="mm",
        reference=reference,
    )


_UPPER = (
    "max(location_mm + scale_mm upper_reduced, upper_if_parameters_known_mm, deepest_read_mm), upper_reduced the quantile of "
    "(deepest - location) / scale in samples as large, drawn and fitted alike, or of the deepest read where every patch was"
)
WORKING = (
    Step(
        symbol="return_period",
        formula="max(total_area_m2 / patch_area_m2, patches)",
        substituted="max({total_area_m2} / {patch_area_m2}, {patches})",
        value="return_period",
        unit="ratio",
        reference="shibata-1994",
    ),
    _depth_step("most_likely_mm", "location_mm + scale_mm ln T", "{scale_mm} * ln({return_period})", "shibata-1994"),
    _depth_step(
        "quantile_mm",
        "location_mm - scale_mm ln(-ln(1 - 1 / T))",
        "{scale_mm} * (-ln(-ln(1 - 1 / {return_period})))",
        "gumbel-1958",
    ),
    _depth_step(
        "expected_mm",
        "location_mm + scale_mm (ln T + 0.5772156649)",
        "{scale_mm} * (ln({return_period}) + 0.5772156649)",
        "gumbel-1958",
    ),
    _depth_step(
        "upper_if_parameters_known_mm",
        "location_mm + scale_mm (ln T - ln(-ln confidence))",
        "{scale_mm} * (ln({return_period}) - ln(-ln({confidence})))",
        "gumbel-1958",
    ),
    Step(
        symbol="upper_mm",
        formula=_UPPER,
        substituted="max({location_mm} + {scale_mm} * {upper_reduced}, {upper_if_parameters_known_mm}, {deepest_read_mm})",
        value="upper_mm",
        unit="mm",
        reference="pivotal-prediction",
    ),
)


def deepest_pit(
    *,
    pit_depths_mm: Sequence[float],
    sampling: PitSampling,
    patch_area_m2: float,
    total_area_m2: float,
    plate_mm: float | None = None,
    method: MethodName = METHOD,
    confidence: float = CONFIDENCE,
) -> DeepestPit:
    """Fit a Gumbel distribution to the deepest pit of each patch, and tell the deepest of the whole area from it.

    F(x) = exp(-exp(-(x - location) / scale)) of one patch; T = total area / patch area patches make F^T, five questions about
    it: its mode location + scale ln T; the depth that one patch in T exceeds, F = 1 - 1/T; its mean
    location + scale (ln T + 0.5772); the depth not exceeded at the confidence c were location and scale known,
    location + scale (ln T - ln(-ln c)); and the same with their uncertainty inside, `upper_mm`.

    Parameters
    ----------
    pit_depths_mm : sequence of float, 5 to 5,000
        The deepest pit of each patch [mm], 0 to 200.
    sampling : PitSampling
        How the patches were chosen; of those picked by eye, or nobody knows how, nothing is told but the fit.
    patch_area_m2, total_area_m2 : float
        Area of one patch and of all that the patches stand for [m2].
    plate_mm : float, optional
        Thickness of the plate [mm].
    method : MethodName, optional
        Estimator of location and scale; Lieblein's for 16 patches at the most.
    confidence : float, optional
        c of the upper depths, one-sided [1], 0.5 to 0.999.

    Returns
    -------
    DeepestPit
        `upper_mm` is the c-quantile of the deepest pit, read or not, given samples as large fitted by the same method.
        `probability_holed` is of a pit in the patches that nobody read, given every depth that was read: that none of those is
        as deep as the plate is known, and that they lie as they do; 1 where one of them is, 0 where every patch was read. It
        is the same by every method.

    Raises
    ------
    NotApplicableError
        Depths without spread, patches of more area than the whole, a pit much deeper than its plate, too many for Lieblein.

    Notes
    -----
    Valid where the patches are alike, equal and independent, large enough to hold several pits, and drawn at random from the
    area that they stand for. Edges, welds and the other face are no part of it, nor is time: it is the day of the survey.
    Beyond 200 patches the estimates of `upper_mm` are taken as normal. Where fewer than half a patch is unread, nothing is
    extrapolated: `upper_mm` is the deepest read, but never below `upper_if_parameters_known_mm`, which with all other depths
    is of an area like it. `upper_mm` covers what it says where most patches were not read, and more where few were not: near
    a census up to 99 % at 95 %, and most at a confidence near a half. Its coverage and the calibration of
    `probability_holed`, simulated, are in DEVELOPERS.md.

    Examples
    --------
    >>> deepest = deepest_pit(
    ...     pit_depths_mm=[0.6, 0.9, 0.7, 1.2, 0.8, 1.0, 0.9, 1.1], sampling="random_patches", patch_area_m2=0.25,
    ...     total_area_m2=25.0,
    ... )
    >>> round(deepest.most_likely_mm, 2), round(deepest.upper_if_parameters_known_mm, 2)
    (1.6, 2.11)

    References
    ----------
    shibata-1994, gumbel-1958, coles-2001, hosking-1990, lieblein-1974, stephens-1977, phien-1987, pivotal-prediction,
    lawless-1973, gauge-uncertainty
    """
    arguments = dict(locals())
    refuse(FAULTS, arguments)
    chosen = Method[method.upper()]
    depths = np.sort(rounded(pit_depths_mm, "mm"))
    fitted = fit(depths[None], chosen)
    # Rounded as declared before use, so that the working shows the very figures that were used.
    location, scale = (float(rounded(value, "mm")[0]) for value in (fitted.location, fitted.scale))
    # Patches of as good as the whole area are all of it: their areas are compared rounded as declared.
    patches = max(float(rounded(total_area_m2 / patch_area_m2, "ratio")), float(len(depths)))
    expected = predicted(chosen, len(depths), patches)
    location_se, scale_se = standard_errors(depths, float(fitted.location[0]), float(fitted.scale[0]), chosen)
    described = DeepestPit(
        location_mm=location,
        scale_mm=scale,
        location_se_mm=location_se,
        scale_se_mm=scale_se,
        return_period=patches,
        unread_patches=unread_patches(patches, len(depths)),
        inspected_percent=min(100 * len(depths) * patch_area_m2 / total_area_m2, 100.0),
        deepest_read_mm=float(depths[-1]),
        **dict.fromkeys(_EXTRAPOLATED),
        fit=_quality(depths, fitted, expected),
        plot=_plot(depths),
    )
    if sampling not in SAMPLINGS:
        return described
    return replace(described, **_extrapolated(described, expected, confidence), **_holed(described, plate_mm))


_EXTRAPOLATED = (
    "most_likely_mm",
    "quantile_mm",
    "expected_mm",
    "upper_mm",
    "upper_if_parameters_known_mm",
    "upper_reduced",
    "probability_holed",
    "probability_holed_if_parameters_known",
)


def _extrapolated(read: DeepestPit, expected: Prediction, confidence: float) -> dict[str, Any]:
    """Return what the fit of the patches read says of the deepest pit of them all."""
    log_patches, location, scale = np.log(read.return_period), read.location_mm, read.scale_mm
    if_known = location + scale * (log_patches - np.log(-np.log(confidence)))
    upper = expected.quantile(confidence) if read.unread_patches else (read.deepest_read_mm - location) / scale
    reduced = float(rounded(upper, "1"))
    values = {
        "most_likely_mm": location + scale * log_patches,
        "quantile_mm": location - scale * np.log(-np.log1p(-1 / read.return_period)),
        "expected_mm": location + scale * (log_patches + np.euler_gamma),
        "upper_mm": max(location + scale * reduced, if_known, read.deepest_read_mm),
        "upper_if_parameters_known_mm": if_known,
        "upper_reduced": reduced,
    }
    return {name: float(value) for name, value in values.items()}


def _holed(read: DeepestPit, plate_mm: float | None) -> dict[str, Any]:
    """Return the probability that a pit is as deep as the plate, given those read, with and without the fit's uncertainty."""
    if plate_mm is None:
        told: tuple[float | None, float | None] = (None, None)
    elif not below(read.deepest_read_mm, plate_mm, "mm"):
        told = (1.0, 1.0)
    else:
        reduced = (plate_mm - read.location_mm) / read.scale_mm
        known = float(-np.expm1(-read.unread_patches * np.exp(-reduced)))
        told = (probability_as_deep(read.plot.depth_mm, plate_mm, read.unread_patches), known)
    return dict(zip(("probability_holed", "probability_holed_if_parameters_known"), told, strict=True))


def _quality(depths: Floats, fitted: Fit, expected: Prediction) -> FitQuality:
    depths = _spread(depths)
    # A ratio of likelihoods is of the greatest of each distribution, whatever the estimator that was asked for.
    likeliest = fit(depths[None], Method.MAXIMUM_LIKELIHOOD)
    location, scale = float(likeliest.location[0]), float(likeliest.scale[0])
    statistic = float(anderson_darling(depths[None], fitted)[0])
    p_value = expected.p_value(statistic)
    other = fit_extreme_value(depths, location, scale)
    ratio = max(2 * (other.log_likelihood - log_likelihood(depths, location, scale)), 0.0)
    other_p = float(chdtrc(1, ratio))
    often = f"depths of a Gumbel distribution lie as far from their fit in {_percent(p_value)} of samples"
    return FitQuality(
        statistic=statistic,
        p_value=p_value,
        statement=f"{_verdict(p_value, other_p, len(depths))}: {often}.",
        shape=other.shape,
        likelihood_ratio_statistic=ratio,
        likelihood_ratio_p_value=other_p,
    )


def _percent(share: float) -> str:
    """Say how many in a hundred; what is drawn by chance is never all of them, nor none."""
    told = round(100 * share, 1)
    if told in (0, 100):
        return "more than 99.9 %" if told else "less than 0.1 %"
    return f"{told:.1f} %"


def _verdict(p_value: float, other_p: float, patches: int) -> str:
    """Say what the fit is worth; no fault that shows is not the same as a good fit where few patches could not show one."""
    if p_value < POOR_FIT:
        return "The fit is poor"
    if other_p < POOR_FIT:
        return "Another shape of distribution fits clearly better"
    return "Nothing speaks against the fit" if patches >= ENOUGH_TO_SHOW else "So few patches would hardly show a poor fit"


#: No pit gauge that is used on plate reads in larger steps (common practice).
_COARSEST_GAUGE_MM = 1.0


def _spread(depths: Floats) -> Floats:
    """Spread depths that read alike evenly over the gauge's step, taken as the least between two that differ.

    A depth read to 0.1 mm is somewhere within that: as it is written it would be told to be no Gumbel's the sooner, the more
    patches there are.
    """
    values, first, counts = np.unique(depths, return_index=True, return_counts=True)
    step = min(np.diff(values).min(), _COARSEST_GAUGE_MM)
    place = np.arange(len(depths)) - np.repeat(first, counts)
    alike = np.repeat(counts, counts)
    return np.asarray(depths + step * ((place + 0.5) / alike - 0.5))


def _plot(depths: Floats) -> PlotPoints:
    positions = np.arange(1, len(depths) + 1) / (len(depths) + 1)
    return PlotPoints(reduced_variate=-np.log(-np.log(positions)), depth_mm=depths)
