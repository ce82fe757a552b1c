"""Entry points become what is served, or the service does not start and says whose plug-in is wrong, and why."""

import random
import re
import subprocess
import sys
import tomllib
from dataclasses import FrozenInstanceError, replace
from importlib.metadata import PathDistribution, distribution, entry_points
from pathlib import Path
from types import ModuleType

import pytest

from platemargin.reference import Reference
from platemargin.rule_sets.trade_practice import rule_set as good_set
from platemargin.rules import Rule, RuleSet
from platemargin_api.app import create_app
from platemargin_api.calculation import GROUP
from platemargin_api.calculations.residual_thickness import calculation as good
from platemargin_api.fields import Number, Object, Request, Response, Text
from platemargin_api.openapi import document
from platemargin_api.registry import (
    RULE_SET_GROUP,
    Distribution,
    Registry,
    RegistryError,
    Served,
    load_registry,
    operators_registry,
)
from platemargin_api.settings import Settings

PYPROJECT = Path(__file__).parents[2] / "pyproject.toml"


@pytest.fixture
def offer(tmp_path, monkeypatch):
    """Return a function that makes a distribution which offers an object, and returns its entry points."""

    def offered(package, name, thing, group=GROUP):
        module = ModuleType(f"offered_by_{package}".replace("-", "_"))
        module.thing = thing
        monkeypatch.setitem(sys.modules, module.__name__, module)
        return at(package, name, f"{module.__name__}:thing", group)

    def at(package, name, value, group=GROUP):
        info = tmp_path / f"{package}.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package}\nVersion: 2.7\n")
        (info / "entry_points.txt").write_text(f"[{group}]\n{name} = {value}\n")
        return list(PathDistribution(info).entry_points)

    offered.at = at
    return offered


def named(name, base=Request):
    """Return a schema class of a name, with one member."""
    members = {"id": Text(1, 100, description="A label."), "gap_mm": Number("mm", 0, 9, description="A gap.")}
    return base.from_dict(members, name=name)


def load(points, group=GROUP):
    return load_registry(points, []) if group == GROUP else load_registry([], points)


# What is installed.


def test_the_installed_entry_points_are_those_of_pyproject_toml():
    """An editable install writes them down once: a new one is not seen until it is installed again."""
    project = tomllib.loads(PYPROJECT.read_text())["project"]
    declared = {(group, name, value) for group, points in project["entry-points"].items() for name, value in points.items()} | {
        ("console_scripts", name, value) for name, value in project["scripts"].items()
    }
    installed = {(point.group, point.name, point.value) for point in distribution("platemargin").entry_points}
    assert declared == installed, (
        "pyproject.toml and the installed package differ in their entry points: run pip install -e . again "
        "(make does it by itself)"
    )


def test_every_installed_plug_in_is_served_under_its_entry_points_name():
    registry = load_registry()
    assert set(registry.calculations) == entry_points(group=GROUP).names
    assert set(registry.rule_sets) == entry_points(group=RULE_SET_GROUP).names
    assert all(name == served.offered.id for name, served in registry.calculations.items())
    assert all(name == plugin.offered.id for name, plugin in registry.rule_sets.items())


def test_no_calculation_is_loaded_by_importing_the_service():
    """Plug-ins are loaded where the application is made, so that their failure is told and not an import's."""
    code = "import sys, platemargin_api.app; print([m for m in sys.modules if m.startswith('platemargin_api.calculations')])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


# What a third party offers.


def test_a_plug_in_is_served_with_its_distribution_after_the_built_ins(offer):
    points = [
        *offer("zinc-works", "a-first-letter", replace(good, id="a-first-letter")),
        *entry_points(group=GROUP),
        *offer("iron-works", "z-last-letter", replace(good, id="z-last-letter")),
    ]
    random.Random(4).shuffle(points)
    served = load_registry(points, []).calculations
    assert list(served) == [*sorted(entry_points(group=GROUP).names), "a-first-letter", "z-last-letter"]
    assert served["a-first-letter"].distribution == Distribution("zinc-works", "2.7")
    assert served["plate-margin"].distribution.name == "platemargin"


def test_a_rule_set_is_served_with_its_distribution(offer):
    plugin = load_registry([], offer("iron-works", "trade-practice", good_set, RULE_SET_GROUP)).rule_sets["trade-practice"]
    assert (plugin.offered, plugin.distribution) == (good_set, Distribution("iron-works", "2.7"))


def test_what_is_served_does_not_change_after_the_start():
    registry = load_registry()
    for mapping in (registry.calculations, registry.rule_sets):
        with pytest.raises(TypeError):
            mapping["another"] = None
    with pytest.raises(FrozenInstanceError):
        registry.calculations = {}


def test_two_calculations_may_share_one_schema(offer):
    points = [*offer("iron-works", "one", replace(good, id="one")), *offer("zinc-works", "two", replace(good, id="two"))]
    assert set(document(load(points))["paths"]) >= {"/v1/calculations/one", "/v1/calculations/two"}


# What the service does not start with.

REFUSED = {
    "a calculation of another type": (GROUP, "thing", {"id": "thing"}, "thing is a dict, not a Calculation"),
    "a rule set among calculations": (GROUP, "trade-practice", good_set, "thing is a RuleSet, not a Calculation"),
    "a class in place of a calculation": (GROUP, "thing", type(good), "thing is a type, not a Calculation"),
    "an id that is not the name": (GROUP, "other", good, "its id is 'residual-thickness', its entry point's name is not"),
    "an id in capitals": (GROUP, "Gap", replace(good, id="Gap"), "the id 'Gap' is not in kebab-case"),
    "an id with an underscore": (GROUP, "a_gap", replace(good, id="a_gap"), "the id 'a_gap' is not in kebab-case"),
    "an id that ends in a hyphen": (GROUP, "gap-", replace(good, id="gap-"), "the id 'gap-' is not in kebab-case"),
    "a version of two parts": (GROUP, good.id, replace(good, version="1.0"), "the version '1.0' is not of the form 1.2.3"),
    "a version with a word": (GROUP, good.id, replace(good, version="1.0.0rc1"), "the version '1.0.0rc1' is not of the form"),
    "a version that is a number": (GROUP, good.id, replace(good, version=1.0), "the version 1.0 is not of the form 1.2.3"),
    "a request that is no schema": (GROUP, good.id, replace(good, request=dict), "its request is not a class of marshmallow"),
    "a response that is an instance": (
        GROUP,
        good.id,
        replace(good, response=good.response()),
        "its response is not a class of marshmallow schema",
    ),
    "a schema of one name twice": (
        GROUP,
        good.id,
        replace(good, request=named("Gap"), response=named("Gap", Response)),
        "its schema Gap has the name of another one, of 'residual-thickness' from iron-works",
    ),
    "a line of working that is no template": (
        GROUP,
        good.id,
        replace(good, working=(replace(good.working[0], substituted="{plate_mm} - {"),)),
        "Single '{' encountered in format string",
    ),
    "a sentence that asks for a form": (
        GROUP,
        good.id,
        replace(good, findings=(replace(good.findings[0], statement="{plate_mm:.2f} mm"),)),
        "a template names its figures as {name}, and no otherwise: '{plate_mm:.2f} mm'",
    ),
    "a rule set of another type": (RULE_SET_GROUP, "thing", [good_set], "thing is a list, not a RuleSet"),
    "a calculation among rule sets": (RULE_SET_GROUP, good.id, good, "thing is a Calculation, not a RuleSet"),
    "a rule set whose id is not the name": (RULE_SET_GROUP, "other", good_set, "its id is 'trade-practice', its entry point's"),
    "a rule set's id in capitals": (RULE_SET_GROUP, "Mine", replace(good_set, id="Mine"), "the id 'Mine' is not in kebab-case"),
    "a rule set's version": (RULE_SET_GROUP, good_set.id, replace(good_set, version="2026"), "the version '2026' is not of"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_it_does_not_start_with(case, offer):
    """The message names the distribution, its version, the group and the entry point, and says why."""
    group, name, thing, reason = REFUSED[case]
    with pytest.raises(RegistryError, match=re.escape(reason)) as caught:
        load(offer("iron-works", name, thing, group), group)
    assert str(caught.value).startswith(f"iron-works 2.7: {group} '{name}': ")


@pytest.mark.parametrize("group", [GROUP, RULE_SET_GROUP])
@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("no_such_module:thing", "ModuleNotFoundError: No module named 'no_such_module'"),
        ("platemargin.rules:no_such_thing", "AttributeError: module 'platemargin.rules' has no attribute 'no_such_thing'"),
        ("a_module_that_raises:thing", "RuleSetError: rule 'bare': give exactly one of at_least and at_most"),
    ],
)
def test_it_does_not_start_with_what_cannot_be_imported(group, value, reason, offer, tmp_path, monkeypatch):
    (tmp_path / "a_module_that_raises.py").write_text(
        "from platemargin.rules import Rule\n"
        'Rule(id="bare", quantity="plate_mm", severity="act", statement="Bare.", reference="nothing")\n'
    )
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(RegistryError) as caught:
        load(offer.at("iron-works", "thing", value, group), group)
    assert str(caught.value) == f"iron-works 2.7: {group} 'thing': it cannot be imported: {reason}"


@pytest.mark.parametrize(("group", "thing"), [(GROUP, good), (RULE_SET_GROUP, good_set)])
def test_it_does_not_start_with_two_of_one_id(group, thing, offer):
    """Not even with two that are the same: nobody could tell whose it serves. The built-in has the older claim."""
    for owner, points in (
        ("platemargin", entry_points(group=group)),
        ("copper-works", offer("copper-works", thing.id, thing, group)),
    ):
        with pytest.raises(RegistryError) as caught:
            load([*offer(f"iron-works-beside-{owner}", thing.id, thing, group), *points], group)
        assert str(caught.value) == (
            f"iron-works-beside-{owner} 2.7: {group} '{thing.id}': the id '{thing.id}' is already taken by {owner}"
        )


def test_it_does_not_start_with_two_schemas_of_one_name_however_deep(offer):
    """The OpenAPI document knows a schema by its name alone."""

    class Outer(Request):
        inner = Object(named("ResidualThicknessRequest"), description="A gap.", required=True)

    points = [*entry_points(group=GROUP), *offer("iron-works", "gap", replace(good, id="gap", request=Outer))]
    with pytest.raises(RegistryError) as caught:
        load(points)
    assert str(caught.value) == (
        f"iron-works 2.7: {GROUP} 'gap': its schema ResidualThicknessRequest has the name of another one, of "
        "'residual-thickness' from platemargin"
    )


@pytest.mark.parametrize("name", ["Problem", "Finding", "ResidualThicknessAnswer"])
def test_it_does_not_start_with_a_schema_of_a_name_that_the_document_uses(name):
    registry = Registry({good.id: Served(replace(good, request=named(name)), Distribution("iron-works", "2.7"))}, {})
    with pytest.raises(RegistryError, match=f"iron-works 2.7: .*its schema {name} has a name that the service's own document"):
        create_app(registry)


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"example": {"original_mm": 10.0}}, "ProblemError: /plate_mm: is required: a number from 0 to 200 mm"),
        ({"summary": lambda figures: [figures["colour"]]}, "KeyError: 'colour'"),
    ],
)
def test_it_does_not_start_with_an_example_that_is_not_answered(changed, reason):
    registry = Registry({good.id: Served(replace(good, **changed), Distribution("iron-works", "2.7"))}, {})
    with pytest.raises(RegistryError) as caught:
        create_app(registry)
    assert str(caught.value) == f"iron-works 2.7: {GROUP} 'residual-thickness': its example is not answered: {reason}"


def test_an_entry_point_of_no_distribution_is_told_as_such():
    point = entry_points(group=GROUP)["plate-margin"]
    orphan = type(point)("other", point.value, GROUP)
    with pytest.raises(RegistryError, match=r"^\(no distribution\) 0: platemargin.calculations 'other': its id is"):
        load([orphan])


# A rule set is checked where it is made: its author sees it before anybody serves it.


@pytest.mark.parametrize(
    ("rules", "reason"),
    [
        ([], "rule set 'mine' has no rule"),
        ([{}, {}], "rule set 'mine' has two rules 'least'"),
        ([{"reference": "nowhere"}], "rule set 'mine' cites the reference 'nowhere' and does not bring it"),
        ([{"at_most": 9.0}], "rule 'least': give exactly one of at_least and at_most"),
        ([{"quantity": "colour"}], "rule 'least': quantity 'colour' is none of"),
        ([{"severity": "note"}], "rule 'least': severity 'note' is neither watch nor act"),
        ([{"exposures": ("dry",)}], "rule 'least': exposure 'dry' is none of"),
        ([{"original_at_least_mm": 8.0, "original_at_most_mm": 6.0}], "rule 'least': original_at_least_mm is above"),
    ],
)
def test_a_rule_set_that_contradicts_itself_cannot_be_made(rules, reason):
    source = Reference(id="mine", title="My own terms", year=2026, clause="1", basis="published")
    least = {
        "id": "least",
        "quantity": "plate_mm",
        "at_least": 4.0,
        "severity": "act",
        "statement": "Thin.",
        "reference": "mine",
    }
    with pytest.raises(ValueError, match=re.escape(reason)):
        RuleSet(
            id="mine",
            version="1.0.0",
            title="Mine",
            rules=tuple(Rule(**{**least, **rule}) for rule in rules),
            references=(source,),
        )


def test_what_is_installed_is_loaded_once_for_a_process():
    assert operators_registry(Settings()) is operators_registry(Settings())
    assert operators_registry(Settings()).calculations.keys() == load_registry().calculations.keys()
