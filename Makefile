# Everything a developer types. Each target makes .venv first where it needs one (.ci/environment).
.DEFAULT_GOAL := help
.PHONY: help demo serve test check fuzz simulate faults coverage mutate load openapi lock image sbom clean run-environment dev-environment

help:  ## this list
	@sed -n 's/^\([a-z]*\):[^#]*## \(.*\)/  make \1\t\2/p' Makefile | expand -t 16

demo: run-environment  ## one survey through the service, explained
	.venv/bin/platemargin demo

serve: run-environment  ## the service on this machine
	.venv/bin/platemargin serve

test: dev-environment  ## every test but the container's
	.venv/bin/python -m pytest -n auto --dist worksteal -m "not container"

check: dev-environment  ## style, types, who may import whom, and the OpenAPI document
	.venv/bin/ruff check
	.venv/bin/ruff format --check
	.venv/bin/mypy
	.venv/bin/lint-imports
	tests/clients/lint

fuzz: dev-environment  ## the contract and the readers with many more generated requests, and every way to stall
	PLATEMARGIN_EXAMPLES=500 PLATEMARGIN_HOSTILE=long .venv/bin/python -m pytest -n auto tests/contract tests/hostile

simulate: dev-environment  ## the long studies of coverage, false alarms and detection; prints their tables
	rm -rf build/simulate
	PLATEMARGIN_SIMULATIONS=long .venv/bin/python -m pytest -n auto tests/simulate
	cat build/simulate/*.md

faults: dev-environment  ## what it survives, at length: 20 rolling restarts and all; prints what was measured
	PLATEMARGIN_FAULTS=long .venv/bin/python -m pytest -s tests/faults

coverage: dev-environment  ## which lines and branches of calc/ its tests reach; exit 1 under all of them (some minutes)
	mkdir -p build
	.venv/bin/python -m coverage run -m pytest tests/calc tests/published
	.venv/bin/python -m coverage report

mutate: dev-environment  ## faults put into what decides, and which of them its tests find (hours)
	.venv/bin/python tests/mutate/run.py

load: dev-environment  ## how fast it is, beside its floors and a peer; exit 1 where a goal is missed (idle machine, taskset)
	tests/load/environment
	.venv/bin/python tests/load/run.py

# By way of a second file: a command that fails must not leave half a description behind. Vectors are written anew only where each
# calculation's version tells what changed in its answers.
openapi: dev-environment  ## write openapi/openapi.json and openapi/vectors anew
	.venv/bin/platemargin openapi > openapi/openapi.json.new
	mv openapi/openapi.json.new openapi/openapi.json
	.venv/bin/python tests/vectors/vectors.py openapi/vectors

# uv itself is in no lock: install it with pipx or pip. Pins stay where they are; "make lock UPGRADE=--upgrade" moves them.
COMPILE = uv pip compile --quiet --universal --generate-hashes --no-header --python-version 3.11 $(UPGRADE)
lock:  ## write the hashed locks anew (needs uv; npm for those of tests/clients)
	$(COMPILE) pyproject.toml --extra pdf -o requirements.txt
	$(COMPILE) pyproject.toml --group dev -o requirements-dev.txt
	$(COMPILE) --constraint requirements-dev.txt tests/load/peers.in -o tests/load/peers.txt
	$(COMPILE) --constraint requirements-dev.txt tests/clients/python.in -o tests/clients/python.txt
	$(COMPILE) --constraint requirements-dev.txt docker/sbom.in -o docker/sbom.txt
	printf 'hatchling\neditables\n' | $(COMPILE) --constraint requirements-dev.txt -o requirements-build.txt -
	cd tests/clients && npm install --package-lock-only

image: dev-environment  ## build the container image, run it and test it (root; packages: .ci/packages)
	.venv/bin/python -m pytest -m container tests/container

sbom: dev-environment  ## the bill of materials (CycloneDX), build/sbom.cdx.json; an image has its own at /platemargin/sbom.cdx.json
	mkdir -p build
	.venv/bin/python docker/sbom.py > build/sbom.cdx.json

clean:  ## remove .venv and every cache
	rm -rf .venv .hypothesis .import_linter_cache .mypy_cache .pytest_cache .ruff_cache .schemathesis build dist
	find api calc tests -name __pycache__ -prune -exec rm -rf {} +

run-environment:
	@.ci/environment run

dev-environment:
	@.ci/environment dev
