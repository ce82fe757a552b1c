"""The engineering stands alone: numpy, scipy.special and the standard library."""

import subprocess
import sys

import pytest

#: Imports every module of the engineering with nothing else to be had, and prints what it loaded.
ALONE = """
import importlib
import pkgutil
import sys


class Nothing:
    refused = ("scipy.stats", "scipy.optimize", "scipy.interpolate", "scipy.integrate", "platemargin_api")
    allowed = frozenset(sys.stdlib_module_names) | {"numpy", "scipy", "platemargin"}

    def find_spec(self, name, path=None, target=None):
        if name.startswith("_sysconfigdata"):  # the standard library's own, named after the platform
            return None
        if name.startswith(self.refused) or name.partition(".")[0] not in self.allowed:
            raise ModuleNotFoundError(f"{name} is not to be had", name=name)


sys.meta_path.insert(0, Nothing())
import platemargin

for found in pkgutil.walk_packages(platemargin.__path__, "platemargin."):
    importlib.import_module(found.name)

from platemargin.plate_margin import plate_margin

plate_margin(original_mm=10.0, plate_mm=8.8, years_in_service=16.0)
print(*sorted(sys.modules))
"""


@pytest.fixture(scope="module")
def loaded():
    """Return the names of all modules that the engineering needs to import and run."""
    alone = subprocess.run([sys.executable, "-c", ALONE], capture_output=True, text=True, check=False, timeout=60)
    assert alone.returncode == 0, alone.stderr
    return set(alone.stdout.split())


def test_it_imports_and_runs_with_numpy_and_scipy_special_alone(loaded):
    """DESIGN: calc imports with numpy and scipy.special alone."""
    assert {"numpy", "scipy.special", "platemargin.hull_survey", "platemargin.rule_sets.trade_practice"} <= loaded


@pytest.mark.parametrize("name", ["flask", "marshmallow", "orjson", "apispec", "gunicorn", "scipy.stats", "platemargin_api"])
def test_it_does_not_load(loaded, name):
    """No web, no schema library, no statistics package is loaded by the way."""
    assert name not in loaded
