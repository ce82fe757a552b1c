#!/bin/sh
# An insurer's own rule set as a package, from an empty folder to one that the service serves at its next start.
#   sh rule_set_package.sh FOLDER [PYTHON]
# PYTHON is that of the service's environment; the package goes into it. Where a file will do, PLATEMARGIN_RULE_SETS is less work.
set -eu
folder=$1
python=${2-.venv/bin/python}
mkdir -p "$folder"
cat >"$folder/pyproject.toml" <<'PROJECT'
[build-system]
requires = ["hatchling"]
build-backend = "hatchling.build"

[project]
name = "invented-terms"
version = "1.0.0"
description = "Terms of an invented insurer"
requires-python = ">=3.11"
dependencies = ["platemargin>=0.1,<1"]

[project.entry-points."platemargin.rule_sets"]
invented-terms = "invented_terms:rule_set"
PROJECT
cat >"$folder/invented_terms.py" <<'MODULE'
"""Terms of an invented insurer."""

from platemargin.reference import Reference
from platemargin.rules import MinimumContent, Rule, RuleSet

POLICY = Reference(
    id="invented-policy", title="Policy of an invented insurer", year=2026, clause="section 7", basis="common_practice"
)
rule_set = RuleSet(
    id="invented-terms",
    version="1.0.0",
    title="Terms of an invented insurer, policies from 2026",
    rules=(
        Rule(
            id="bottom",
            quantity="residual_mm",
            at_least=5.0,
            zones=("baseplate",),
            severity="act",
            statement="Bottom plate below this is renewed.",
            reference=POLICY.id,
        ),
    ),
    references=(POLICY,),
    minimum_content=MinimumContent(zones=("baseplate",), both_sides=True),
)
MODULE
"$python" -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation "$folder"
"$python" -c 'from platemargin_api.registry import load_registry; print(load_registry([]).rule_sets["invented-terms"].offered.digest)'
