"""Runs where nothing can be imported but Python's own, numpy, scipy.special and the calculations; prints what it did as JSON.

prove.py VECTORS    every docstring example, and the vectors of the elementwise calculations on plate
"""

import doctest
import importlib
import json
import math
import pkgutil
import sys
from pathlib import Path

import numpy as np

import platemargin
from platemargin.corrosion_rate import Environment, Governing
from platemargin.errors import NotApplicableError
from platemargin.remaining_life import LifeStatus
from platemargin.residual_thickness import PlateState

#: In columns a name is its place in a list, and a day is numpy's.
GIVEN = {"environment": lambda name: Environment[name.upper()], "surveyed_on": np.datetime64}
TOLD = {"plate_state": PlateState, "governing": Governing, "status": LifeStatus, "short_term_significant": bool}
PROVED = ("residual-thickness", "corrosion-rate", "remaining-life", "plate-margin")


def examples():
    """Return how many docstring examples were tried, and how many failed."""
    modules = [importlib.import_module(found.name) for found in pkgutil.walk_packages(platemargin.__path__, "platemargin.")]
    results = [doctest.testmod(module) for module in modules]
    return {"tried": sum(result.attempted for result in results), "failed": sum(result.failed for result in results)}


def called(calculation, request):
    """Return the result of a calculation, or the codes and pointers that it is refused for."""
    name = calculation.replace("-", "_")
    calculate = getattr(importlib.import_module(f"platemargin.{name}"), name)
    given = {key: GIVEN.get(key, float)(value) for key, value in request.items() if key != "id" and value is not None}
    try:
        return calculate(**given), []
    except NotApplicableError as error:
        return None, [[code, "".join(f"/{part}" for part in path)] for code, path, _ in error.faults]


def differs(vector, result):
    """Return the members of a result that are another than a vector's."""
    absolute = vector["tolerances"]["absolute"]
    return [name for name, value in vector["result"].items() if not alike(name, value, getattr(result, name), absolute)]


def alike(name, value, held, absolute):
    """Return whether one value is the vector's; a number may differ by its tolerance."""
    held = held.item()
    if held is None or held != held or (name in TOLD and value is None):  # noqa: PLR0124  NaN is what is not itself
        return value is None
    if name in TOLD:
        kind = TOLD[name]
        return value == (kind(held) if kind is bool else kind(held).name.lower())
    if name in absolute:
        return math.isclose(value, held, rel_tol=0.0, abs_tol=absolute[name] * 1.000001)
    return value == str(held)


def proved(calculation, vectors):
    """Return how many vectors were answered and refused as they say, and which were not."""
    told = {"answered": 0, "refused": 0, "wrong": []}
    for vector in vectors:
        # What its schema refuses, a calculation that is called in Python never sees.
        if vector.get("problem") == "invalid-request":
            continue
        result, faults = called(calculation, vector["request"])
        expected = [[fault["code"], fault["pointer"]] for fault in vector.get("errors", ())]
        if faults != expected or (result is not None and differs(vector, result)):
            told["wrong"].append(vector["name"])
        else:
            told["refused" if faults else "answered"] += 1
    return told


def imported():
    """Return what was imported from the one folder that is no part of Python."""
    folder = Path(sys.path[-1])
    files = [Path(module.__file__) for module in sys.modules.values() if getattr(module, "__file__", None)]
    return sorted({file.relative_to(folder).parts[0] for file in files if file.is_relative_to(folder)})


def main(folder):
    """Prove it and print it."""
    vectors = {name: (folder / f"{name}.ndjson").read_text(encoding="utf-8").splitlines() for name in PROVED}
    told = {
        "examples": examples(),
        "vectors": {name: proved(name, map(json.loads, lines)) for name, lines in vectors.items()},
        "imported": imported(),
    }
    sys.stdout.write(json.dumps(told))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
