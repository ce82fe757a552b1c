"""The engineering without the service: numpy and scipy.special are all that it needs, and all that it finds here.

Python is started without its site-packages, and a folder that holds those two and the calculations is put in their place:
every other import fails for want of the package.
"""

import ast
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import scipy

import platemargin

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


@pytest.fixture(scope="module")
def alone(tmp_path_factory):
    """Return a call of Python that finds numpy, scipy and the calculations, and nothing else that is not its own."""
    folder = tmp_path_factory.mktemp("alone")
    for package in (np, scipy, platemargin):
        home = Path(package.__file__).parent
        # Beside a package of wheels lie its libraries, numpy.libs.
        for part in (home, home.with_name(f"{home.name}.libs")):
            if part.exists():
                (folder / part.name).symlink_to(part)
    start = f"import runpy, sys; sys.path.append({str(folder)!r}); del sys.argv[0]; "

    def call(program, *arguments):
        command = [sys.executable, "-I", "-S", "-c", start + program, *map(str, arguments)]
        nothing = {"PATH": os.environ["PATH"]}
        return subprocess.run(command, capture_output=True, text=True, check=False, timeout=120, env=nothing)

    return call


RUN = "runpy.run_path(sys.argv[0], run_name='__main__')"


@pytest.mark.parametrize("package", ["flask", "marshmallow", "orjson", "msgspec", "platemargin_api", "pytest"])
def test_nothing_else_is_there(alone, package):
    done = alone(f"import {package}", "-")
    assert done.returncode == 1
    assert f"ModuleNotFoundError: No module named '{package}'" in done.stderr


def test_every_example_is_true_there_and_vectors_are_answered_as_they_say(alone):
    done = alone(RUN, HERE / "prove.py", ROOT / "openapi/vectors")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["imported"] == ["numpy", "platemargin", "scipy"]
    assert told["examples"]["failed"] == 0, done.stdout
    assert told["examples"]["tried"] > 100
    for calculation, proved in told["vectors"].items():
        assert proved["wrong"] == [], calculation
        assert proved["answered"] >= 35
    assert sum(proved["refused"] for proved in told["vectors"].values()) >= 10


def test_of_scipy_only_the_special_functions_are_imported():
    names = set()
    for path in (ROOT / "calc/platemargin").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                names.add(node.module)
    assert {name for name in names if name.startswith("scipy")} == {"scipy.special"}


def test_the_recipe_runs_there(alone):
    """It tells the figures that README.md's first answer has, and README.md shows how it begins."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = next(block for block in re.findall(r"```python\n(.*?)```", readme, re.DOTALL) if "plate_margin(" in block)
    assert shown in (ROOT / "tests/recipes/offline_margin.py").read_text(encoding="utf-8")
    done = alone(RUN, ROOT / "tests/recipes/offline_margin.py")
    assert done.returncode == 0, done.stderr
    first, *_, baseplate, side = done.stdout.splitlines()
    assert first == "+2.2 mm to the limit of 4 mm, which it reaches in 6.5 years at the earliest"
    assert baseplate.startswith("baseplate: 6.2 mm at the thinnest")
    assert side.startswith("side: 3.8 mm at the thinnest")
    assert "watch: bow in zone side" in done.stdout
