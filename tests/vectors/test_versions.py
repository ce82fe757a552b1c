"""A calculation's version tells whether its answers changed: every vector as it is served, not within a tolerance."""

import copy
import dataclasses
import importlib.util
import shutil
import sys
from functools import partial
from pathlib import Path
from types import MappingProxyType

import pytest

from platemargin.rule_sets import trade_practice
from platemargin_api.registry import Plugin, Served, load_registry

FOLDER = Path(__file__).parents[2] / "openapi/vectors"
registry = load_registry()


def loaded(name):
    spec = importlib.util.spec_from_file_location(f"vectors_{name}", Path(__file__).with_name(f"{name}.py"))
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


versions, vectors = loaded("versions"), loaded("vectors")
NONE, PATCH, MINOR, MAJOR = versions.Change


def test_the_vectors_are_of_the_versions_that_are_served():
    assert versions.read(FOLDER) == versions.current(registry), "a version was raised: run make openapi"


@pytest.mark.parametrize("name", sorted(registry.calculations))
def test_no_answer_changed_without_its_version(name):
    answered = partial(vectors.answered, registry, name)
    changes = versions.changes_of(
        (FOLDER / f"{name}.ndjson").read_bytes(), lambda line: answered(line["name"], line["request"])
    )
    recorded, now = versions.read(FOLDER)["calculations"][name], registry.calculations[name].offered.version
    assert list(versions.missing(name, recorded, now, changes)) == []
    assert recorded != now or set(changes.values()) == {NONE}, "words or members changed: run make openapi"


def answer(**changes):
    told = {"status": 200, "result": {"verdict": "watch", "zones": [{"years": 4.0, "why": "It is thin."}]}, "findings": []}
    return {**copy.deepcopy(told), **changes}


def result(**zone):
    return {"verdict": "watch", "zones": [{"years": 4.0, "why": "It is thin.", **zone}]}


def found(code, severity="note"):
    return {"code": code, "severity": severity}


def refused(*codes, problem="not-applicable"):
    return {"status": 422, "problem": problem, "errors": [{"code": code, "pointer": "/plate_mm"} for code in codes]}


CHANGES = {
    "nothing": (answer(), answer(), NONE),
    "words": (answer(), answer(result=result(why="It is very thin.")), PATCH),
    "one member more": (answer(), answer(result=result(months=48)), MINOR),
    "one member more, and another number": (answer(), answer(result=result(months=48, years=4.01)), MAJOR),
    "one member less": (answer(), answer(result={"verdict": "watch"}), MAJOR),
    "a number's last place": (answer(), answer(result=result(years=4.001)), MAJOR),
    "a number's kind": (answer(), answer(result=result(years=4)), MAJOR),
    "a number gone": (answer(), answer(result=result(years=None)), MAJOR),
    "a name": (answer(), answer(result={**result(), "verdict": "act"}), MAJOR),
    "one item more": (answer(), answer(result={**result(), "zones": result()["zones"] * 2}), MAJOR),
    "a note more": (answer(findings=[found("a")]), answer(findings=[found("b"), found("a")]), MINOR),
    "a finding to watch more": (answer(), answer(findings=[found("a", "watch")]), MAJOR),
    "a finding less": (answer(findings=[found("a"), found("b")]), answer(findings=[found("a")]), MAJOR),
    "findings in another order": (
        answer(findings=[found("a"), found("b")]),
        answer(findings=[found("b"), found("a")]),
        MAJOR,
    ),
    "another severity": (answer(findings=[found("a")]), answer(findings=[found("a", "act")]), MAJOR),
    "a refusal gone": (refused("a"), answer(), MINOR),
    "a refusal come": (answer(), refused("a"), MAJOR),
    "a refusal's reason more": (refused("a"), refused("a", "b"), MINOR),
    "a refusal's reason less": (refused("a", "b"), refused("b"), MAJOR),
    "a refusal of another kind": (refused("a"), refused("a", problem="invalid-request"), MAJOR),
}


@pytest.mark.parametrize(("before", "after", "expected"), CHANGES.values(), ids=CHANGES)
def test_each_change_asks_for_its_part_of_the_version(before, after, expected):
    assert versions.of_line(before, after) is expected


@pytest.mark.parametrize(
    ("change", "enough", "not_enough"),
    [
        (PATCH, ["1.4.3", "1.5.0", "2.0.0"], ["1.4.2"]),
        (MINOR, ["1.5.0", "2.0.0", "2.1.7"], ["1.4.2", "1.4.3", "1.4.10"]),
        (MAJOR, ["2.0.0", "10.0.0"], ["1.4.2", "1.4.3", "1.5.0", "1.10.0"]),
    ],
)
def test_a_version_is_raised_enough_or_the_one_it_needs_is_named(change, enough, not_enough):
    for version in enough:
        assert list(versions.missing("x", "1.4.2", version, {"a": NONE, "b": change})) == []
    for version in not_enough:
        (told,) = versions.missing("x", "1.4.2", version, {"a": NONE, "b": change})
        assert "x answers 1 of its vectors otherwise than 1.4.2 did" in told
        assert "the first: 'b'" in told
        assert f"raise its version to {enough[0]}" in told


def test_a_version_never_goes_back():
    assert list(versions.missing("x", "1.4.2", "1.3.9", {})) == ["x: its version went from 1.4.2 back to 1.3.9"]


def with_another_number(version):
    """Return a registry of residual-thickness alone, which tells a hundredth of a percent more under some version."""
    offered = registry.calculations["residual-thickness"].offered

    def run(**arguments):
        told = offered.run(**arguments)
        return dataclasses.replace(told, loss_percent=told.loss_percent + 0.01)

    served = Served(
        offered=dataclasses.replace(offered, run=run, version=version),
        distribution=registry.calculations["residual-thickness"].distribution,
    )
    return dataclasses.replace(registry, calculations=MappingProxyType({"residual-thickness": served}))


@pytest.fixture
def folder(tmp_path):
    return Path(shutil.copytree(FOLDER, tmp_path / "vectors"))


@pytest.mark.parametrize("version", ["1.0.0", "1.1.0"])
def test_another_number_is_not_written_under_a_version_that_does_not_tell_it(version, folder, monkeypatch):
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    monkeypatch.setattr(vectors, "load_registry", lambda: with_another_number(version))
    with pytest.raises(SystemExit) as stopped:
        vectors.main(folder)
    assert "openapi/vectors stays as it was.\nresidual-thickness answers " in stopped.value.code
    assert "raise its version to 2.0.0" in stopped.value.code
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_another_number_is_written_under_a_version_that_tells_it(folder):
    changed = with_another_number("2.0.0")
    assert list(versions.refusals(folder, changed, partial(vectors.answered, changed))) == []


def test_vectors_that_are_gone_are_asked_for(folder):
    (folder / "residual-thickness.ndjson").unlink()
    (told,) = versions.refusals(folder, with_another_number("1.0.0"), None)
    assert "residual-thickness.ndjson is gone" in told


def test_a_rule_set_that_changed_has_another_version(folder):
    rules = trade_practice.rule_set.rules
    moved = (dataclasses.replace(rules[0], at_least=rules[0].at_least + 0.5), *rules[1:])

    def told(version):
        one = dataclasses.replace(trade_practice.rule_set, rules=moved, version=version)
        plugin = Plugin(offered=one, distribution=registry.rule_sets["trade-practice"].distribution)
        changed = dataclasses.replace(registry, calculations={}, rule_sets={"trade-practice": plugin})
        return list(versions.refusals(folder, changed, None))

    assert told("2.0.0") == []
    assert told("1.0.0") == [
        "the rule set trade-practice is another than its version 1.0.0 was: raise it (README.md, Versions)"
    ]
