"""Rule sets of the operator's own, as TOML files: served like any other, or refused with file, key and reason."""

import os
import re
import subprocess
import sys
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from platemargin.rule_sets.trade_practice import rule_set as trade_practice
from platemargin.rules import Rule
from platemargin_api.app import create_app
from platemargin_api.registry import RegistryError, load_registry
from platemargin_api.settings import Settings

TERMS = """
id = "fleet-terms"
version = "1.2.0"
title = "Terms of an invented insurer"
materials = ["steel", "wrought_iron"]

[minimum_content]
zones = ["baseplate"]
both_sides = true
readings_per_zone = 2

[[references]]
id = "fleet-policy"
title = "Policy of an invented insurer"
clause = "section 7"
basis = "common_practice"

[[rules]]
id = "bottom"
quantity = "residual_mm"
at_least = 5.0
zones = ["baseplate"]
severity = "act"
statement = "Bottom plate below this is renewed."
reference = "fleet-policy"

[[rules]]
id = "loss"
quantity = "loss_percent"
at_most = 20
severity = "watch"
statement = "The insurer is told of a greater loss."
reference = "fleet-policy"
"""


def written(folder, text, name="fleet-terms.toml"):
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def load(folder):
    return load_registry([], rule_set_folder=folder)


def toml(rule_set):
    """Return a rule set as a file says it: what is absent is left out."""

    def lines(members):
        for name, value in members.items():
            if value is not None and not isinstance(value, dict):
                told = (
                    str(value).lower() if isinstance(value, bool) else repr(list(value) if isinstance(value, tuple) else value)
                )
                yield f"{name} = {told}"

    own = {name: value for name, value in asdict(rule_set).items() if name not in ("rules", "references", "minimum_content")}
    tables = [
        *("[[references]]\n" + "\n".join(lines(asdict(one))) for one in rule_set.references),
        *("[[rules]]\n" + "\n".join(lines(asdict(one))) for one in rule_set.rules),
    ]
    return "\n".join([*lines(own), *tables])


def test_a_file_says_what_a_package_says(tmp_path):
    """The same content has the same digest: an insurer may move a set from a file to a package and judge alike."""
    set_in_file = written(tmp_path, toml(trade_practice).replace("'trade-practice'", "'in-a-file'"), "in-a-file.toml")
    plugin = load(set_in_file).rule_sets["in-a-file"]
    assert plugin.offered.rules == trade_practice.rules
    assert plugin.offered.references == trade_practice.references
    assert {**plugin.offered.content, "id": "trade-practice"} == trade_practice.content
    assert plugin.offered.digest == replace(trade_practice, id="in-a-file").digest


def test_a_survey_is_judged_by_a_file(tmp_path):
    registry = load_registry(rule_set_folder=written(tmp_path, TERMS))
    client = create_app(registry).test_client()
    listed = client.get("/v1/rule-sets/fleet-terms").json
    assert listed["distribution"] == {"name": "fleet-terms.toml", "version": "1.2.0"}
    check = {"readings": [{"zone": "baseplate", "plate_mm": 4.9, "original_mm": 8.0}], "rule_sets": ["fleet-terms"]}
    told = client.post("/v1/calculations/threshold-check", json=check).json
    assert told["result"]["verdict"] == "act"
    (used,) = told["provenance"]["rule_sets"]
    assert used == {"id": "fleet-terms", "version": "1.2.0", "digest": listed["digest"]}
    assert "fleet-policy" in {one["id"] for one in told["references"]}


def test_the_rules_of_a_file_are_those_of_its_text(tmp_path):
    found = load(written(tmp_path, TERMS)).rule_sets["fleet-terms"].offered
    assert found.rules[0] == Rule(
        id="bottom",
        quantity="residual_mm",
        at_least=5.0,
        zones=("baseplate",),
        severity="act",
        statement="Bottom plate below this is renewed.",
        reference="fleet-policy",
    )
    assert (found.rules[1].at_most, found.materials, found.may_clear) == (20, ("steel", "wrought_iron"), True)
    assert (found.minimum_content.both_sides, found.minimum_content.inside_seen) == (True, False)


def test_a_changed_limit_changes_the_digest(tmp_path):
    before = load(written(tmp_path, TERMS)).rule_sets["fleet-terms"].offered.digest
    after = load(written(tmp_path, TERMS.replace("5.0", "4.5"))).rule_sets["fleet-terms"].offered.digest
    assert before != after


WRONG = {
    "not TOML": (TERMS + "\nid", "fleet-terms.toml: it is not TOML 1.0 in UTF-8: "),
    "a misspelt key": (
        TERMS.replace('severity = "act"', 'severety = "act"'),
        "rules[0].severety: is not known here; the nearest is severity",
    ),
    "a misspelt value": (
        TERMS.replace('"act"', '"akt"'),
        "rules[0].severity: must be one of watch, act, not 'akt'; the nearest is act",
    ),
    "a limit in words": (TERMS.replace("5.0", '"five"'), "rules[0].at_least: "),
    "a limit beyond all plate": (TERMS.replace("5.0", "500"), "rules[0].at_least: must be from 0 to 200, not 500"),
    "not a number": (TERMS.replace("5.0", "nan"), "rules[0].at_least: "),
    "a day for a limit": (TERMS.replace("5.0", "2026-01-01"), "rules[0].at_least: "),
    "two limits": (TERMS.replace("at_least = 5.0", "at_least = 5.0\nat_most = 9.0"), "rule 'bottom': give exactly one of"),
    "a reference that it does not bring": (
        TERMS.replace('id = "fleet-policy"', 'id = "other"'),
        "cites the reference 'fleet-policy'",
    ),
    "two rules of one id": (TERMS.replace('"loss"', '"bottom"'), "has two rules 'bottom'"),
    "no rule": (TERMS[: TERMS.index("[[rules]]")], "rules: is required"),
    "an id that is not the file's name": (TERMS.replace('"fleet-terms"', '"terms"'), "call the file terms.toml"),
    "a version of another form": (TERMS.replace("1.2.0", "2026"), "the version '2026' is not of the form 1.2.3"),
}


@pytest.mark.parametrize(("text", "says"), WRONG.values(), ids=WRONG)
def test_the_service_does_not_start_with_a_wrong_file(tmp_path, text, says):
    with pytest.raises(RegistryError) as refused:
        load(written(tmp_path, text))
    assert str(refused.value).startswith("PLATEMARGIN_RULE_SETS: fleet-terms.toml: ")
    assert says in str(refused.value)


def test_an_id_that_is_taken_is_refused(tmp_path):
    folder = written(tmp_path, TERMS.replace("fleet-terms", "trade-practice"), "trade-practice.toml")
    with pytest.raises(RegistryError, match=r"trade-practice\.toml: the id 'trade-practice' is already taken by platemargin"):
        load(folder)


def test_a_name_in_another_form_is_refused(tmp_path):
    with pytest.raises(RegistryError, match=r"Fleet\.toml: the id 'Fleet' is not in kebab-case"):
        load(written(tmp_path, TERMS.replace('"fleet-terms"', '"Fleet"'), "Fleet.toml"))


@pytest.mark.parametrize("path", ["nowhere", "."])
def test_a_folder_without_files_is_refused(tmp_path, path):
    """A misspelt folder must not mean a service without the insurer's rules."""
    with pytest.raises(RegistryError, match="no folder that holds a file called ID"):
        load(tmp_path / path)


@pytest.mark.parametrize("content", [b"\xff\xfeid", b"x" * (1024 * 1024 + 1)])
def test_a_file_that_is_no_text_or_very_large_is_refused(tmp_path, content):
    (tmp_path / "a.toml").write_bytes(content)
    with pytest.raises(RegistryError, match=r"a\.toml: it is"):
        load(tmp_path)


def test_the_setting_names_the_folder():
    assert Settings.from_environment({"PLATEMARGIN_RULE_SETS": "/etc/terms"}).rule_set_folder == Path("/etc/terms")
    assert Settings.from_environment({}).rule_set_folder is None


@pytest.mark.parametrize("arguments", [["serve"], ["openapi"], ["calculations"]])
def test_every_command_says_what_is_wrong_in_one_line(tmp_path, arguments):
    environment = {**os.environ, "PLATEMARGIN_RULE_SETS": str(written(tmp_path, TERMS.replace('"act"', '"akt"')))}
    command = [str(Path(sys.executable).with_name("platemargin")), *arguments]
    ended = subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=60)
    assert ended.returncode == 1
    assert ended.stderr.count("\n") == 1
    assert "rules[0].severity: must be one of watch, act" in ended.stderr


def test_the_example_of_the_readme_is_a_rule_set(tmp_path):
    example = re.search(r"```toml\n(.*?)```", (Path(__file__).parents[2] / "README.md").read_text(), re.DOTALL)[1]
    found = load(written(tmp_path, example, "fleet-terms-2026.toml")).rule_sets["fleet-terms-2026"].offered
    assert [rule.limit for rule in found.rules] == [5.0, 20.0]
