"""Documentation that is executed, and sections that a reader finds in every calculation."""

import dataclasses
import doctest
import importlib
import inspect
import pkgutil
import re

import pytest

import platemargin

MODULES = [importlib.import_module(found.name) for found in pkgutil.walk_packages(platemargin.__path__, "platemargin.")]
CALCULATIONS = (
    "residual_thickness",
    "corrosion_rate",
    "remaining_life",
    "plate_margin",
    "threshold_check",
    "survey_comparison",
    "hull_survey",
    "minimum_plating",
    "reading_coverage",
    "ultrasonic_thickness",
    "survey_consistency",
    "anode_condition",
    "overplating",
    "anode_sizing",
    "attack_form",
    "treatment_plan",
)
SECTIONS = ("Parameters", "Returns", "Raises", "Notes", "Examples", "References")


def calculation(name):
    """Return a calculation's one public function."""
    return getattr(importlib.import_module(f"platemargin.{name}"), name)


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_are_true(module):
    """Every example in a docstring answers what it says."""
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("name", CALCULATIONS)
def test_calculation_has_an_example(name):
    """Every calculation shows itself at work."""
    (found,) = doctest.DocTestFinder(recurse=False).find(calculation(name), name, globs={})
    assert found.examples


@pytest.mark.parametrize("name", CALCULATIONS)
def test_calculation_has_every_section(name):
    """Parameters, Returns, Raises, Notes, Examples and References, in this order."""
    found = re.findall(r"^(\w+)\n-+$", inspect.getdoc(calculation(name)), flags=re.MULTILINE)
    assert tuple(found) == SECTIONS


@pytest.mark.parametrize("name", CALCULATIONS)
def test_every_parameter_is_described(name):
    """Each argument is named in Parameters, and nothing else is."""
    run = calculation(name)
    section = re.split(r"\n(?:Parameters|Returns)\n-+\n", inspect.getdoc(run))[1]
    described = [
        parameter for line in re.findall(r"^(\w[\w, ]*) : ", section, flags=re.MULTILINE) for parameter in line.split(", ")
    ]
    assert sorted(described) == sorted(inspect.signature(run).parameters)


@pytest.mark.parametrize("name", CALCULATIONS)
def test_arguments_are_named(name):
    """A calculation takes its arguments by name alone."""
    kinds = {parameter.kind for parameter in inspect.signature(calculation(name)).parameters.values()}
    assert kinds == {inspect.Parameter.KEYWORD_ONLY}


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_records_are_frozen_and_named(module):
    """No result or declaration can be changed after it is made, and each member is given by name."""
    for name, record in inspect.getmembers(module, dataclasses.is_dataclass):
        assert record.__dataclass_params__.frozen, name
        assert all(member.kw_only for member in dataclasses.fields(record)), name


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_what_a_module_offers_exists(module):
    """Every name in `__all__` is there, and every module but a package says what it offers."""
    offered = getattr(module, "__all__", None)
    assert offered is not None or hasattr(module, "__path__")
    assert [name for name in offered or () if not hasattr(module, name)] == []
