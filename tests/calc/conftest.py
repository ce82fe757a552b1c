"""What the tests of the engineering share: an invented hull, and a way to run a calculation and read all that it tells."""

import inspect
from datetime import date
from math import sqrt
from statistics import NormalDist
from string import Formatter
from types import SimpleNamespace

import numpy as np
import pytest

from platemargin import hull_survey, threshold_check
from platemargin.corrosion_rate import Environment
from platemargin.declared import columns, filled
from platemargin.remaining_life import LifeStatus
from platemargin.rule_sets import inland_vessel_benchmark, loss_fraction, loss_fraction_light, trade_practice

HULL = {
    "length_m": 17.5,
    "beam_m": 2.1,
    "draught_m": 0.6,
    "water": "fresh",
    "material": "steel",
    "construction": "welded",
}
#: The names that a reading has to give for the invented hull's plating to be read on both sides.
WET = ("baseplate", "side", "chine", "swim", "counter")


def _complete(run, given):
    """Return the arguments of a call with every default, as a finding sees them."""
    defaults = {
        name: parameter.default
        for name, parameter in inspect.signature(run).parameters.items()
        if parameter.default is not parameter.empty
    }
    return {**defaults, **given}


@pytest.fixture
def told():
    """Run a calculation; return its result, every finding by code as (path, sentence), and the arguments it saw."""

    def call(run, findings, **given):
        arguments = _complete(run, given)
        result = run(**given)
        found = {}
        for finding in findings:
            for path, values in _occurrences(finding, arguments, result):
                found.setdefault(finding.code, []).append((path, filled(finding.statement, values)))
        return SimpleNamespace(result=result, found=found, arguments=arguments)

    return call


def _occurrences(finding, arguments, result):
    where = finding.applies(arguments, result) if _placed(arguments) else finding.applies(columns(arguments), result)
    if _placed(arguments):
        yield from ((place.path, {name: place.values[name] for name in finding.values}) for place in where)
    elif np.any(where):
        known = {**arguments, **vars(result)}
        yield (finding.field,) if finding.field else (), {name: np.asarray(known[name]).item() for name in finding.values}


def _placed(arguments):
    return "readings" in arguments or "earlier" in arguments


@pytest.fixture
def hull():
    """Return the invented hull."""
    return dict(HULL)


@pytest.fixture
def survey(told):
    """Survey the invented hull of 10/6/5 plate, built in 2008 and read 16 years later, by the trade's limits."""

    def call(readings, **changes):
        given = {
            "hull": HULL,
            "surveyed_on": date(2024, 12, 31),
            "built_on": "2008",
            "rule_sets": [trade_practice.rule_set],
            "plating_notation": "10/6/5",
            **changes,
        }
        return told(hull_survey.hull_survey, hull_survey.FINDINGS, readings=readings, **given)

    return call


@pytest.fixture
def whole():
    """Return sound readings of every wet zone of the invented hull, on both sides."""
    return [
        {"id": f"{zone}-{side}", "zone": zone, "side": side, "plate_mm": 5.8, "pit_depth_mm": 0.2}
        for zone in WET
        for side in ("port", "starboard")
    ]


@pytest.fixture
def check(told):
    """Check readings against the trade's limits, or against others."""

    def call(*readings, **changes):
        given = {"rule_sets": [trade_practice.rule_set], **changes}
        return told(threshold_check.threshold_check, threshold_check.FINDINGS, readings=list(readings), **given)

    return call


@pytest.fixture
def rule():
    """Return an inline rule with some of its members changed."""

    def make(**changes):
        plain = {"id": "own", "quantity": "residual_mm", "severity": "act", "statement": "Own limit.", "reference": "own"}
        return {**plain, **({} if "at_most" in changes else {"at_least": 4.0}), **changes}

    return make


@pytest.fixture
def rule_sets():
    """Return the rule sets that ship, by id."""
    rooms = (trade_practice, loss_fraction, loss_fraction_light, inland_vessel_benchmark)
    return {room.rule_set.id: room.rule_set for room in rooms}


@pytest.fixture
def step_value():
    """Return a function that works every line of working: by symbol, what it comes to, what it names, its source."""

    def work(run, steps, given):
        arguments = {name: np.asarray(value) for name, value in _complete(run, given).items()}
        figures = {name: value.item() for name, value in {**arguments, **vars(run(**given))}.items()}
        figures["status"] = LifeStatus(figures["status"]).name.lower()
        figures["environment"] = Environment(figures["environment"]).name.lower() if figures["environment"] >= 0 else ""
        if np.isnan(figures["pit_depth_mm"]):
            figures["pit_depth_mm"] = 0.0
        lines = {}
        for step in steps:
            named = [name for _, name, _, _ in Formatter().parse(step.substituted) if name]
            if any(figures[name] != figures[name] for name in (*named, step.value)) or not step.when(figures):
                continue
            sum_ = step.substituted.format_map({name: f"({figures[name]!r})" for name in named}).replace("^", "**")
            worked = eval(sum_, {"Phi": NormalDist().cdf, "sqrt": sqrt})  # noqa: S307  our own formulas
            assert step.symbol not in lines, "one line of working for one symbol"
            cited = step.reference(figures) if callable(step.reference) else step.reference
            lines[step.symbol] = worked, figures[step.value], cited
        return lines

    return work
