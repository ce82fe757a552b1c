"""Put one fault after another into the functions that decide, and count those that the tests of their module find.

    run.py [MODULE ...]

mutmut changes an operator, a number, a name or an argument at a time, and runs the tests that call the changed function until
one fails. It takes source from a folder src/ and writes beside it: both are in build/mutate. Properties are tried there with 20
cases each, and the draws of a million are left out: a fault that takes more to be found is counted as not found.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "build/mutate"
#: The modules that decide a verdict, a life or a figure, and the tests of each.
TESTS = {
    "anode_resistance": "calc/test_anode_resistance calc/test_anode_sizing published/test_dnv_rp_b401",
    "corrosion_rate": "calc/test_corrosion_rate calc/test_plate_margin published/test_api_570 published/test_en_1993_5",
    "current_demand": "calc/test_current_demand calc/test_anode_sizing published/test_dnv_rp_b401",
    "electrolyte": "calc/test_electrolyte published/test_unesco_44",
    "extreme_value": "published/test_gumbel",
    "flotation": "calc/test_overplating published/test_overplating",
    "gumbel": "published/test_gumbel calc/test_deepest_pit",
    "judged": "calc/test_threshold_check published/test_nvic_7_68",
    "matching": "calc/test_matching",
    "mill_tolerance": "calc/test_mill_tolerance published/test_en_10029",
    "minimum_plating": "calc/test_minimum_plating published/test_clamped_plate published/test_es_trin",
    "pit_prediction": "published/test_gumbel calc/test_deepest_pit",
    "plate_margin": "calc/test_plate_margin published/test_common_practice",
    "quantities": "calc/test_quantities",
    "reading_coverage": "calc/test_reading_coverage",
    "remaining_life": "calc/test_remaining_life calc/test_plate_margin published/test_api_570 published/test_fieller_1954",
    "residual_thickness": "calc/test_residual_thickness calc/test_plate_margin published/test_common_practice",
    "sampling": "calc/test_sampling published/test_clopper_pearson_1934 published/test_gilbert_1987",
    "ultrasonic_path": "calc/test_ultrasonic_thickness published/test_astm_e797",
    "ultrasonic_thickness": "calc/test_ultrasonic_thickness published/test_astm_e797 published/test_jcgm_100",
    "unread_pits": "published/test_gumbel calc/test_deepest_pit",
}
SETTINGS = """
[tool.mutmut]
source_paths = ["src"]
only_mutate = ["src/platemargin/{module}.py"]
pytest_add_cli_args_test_selection = {tests}
use_git_change_detection = false

[tool.pytest.ini_options]
addopts = ["--import-mode=importlib", "-p", "no:cacheprovider", "-p", "no:unraisableexception", "-p", "no:threadexception"]
filterwarnings = ["error"]
"""
#: However loaded the machine is, a property is not given up for it.
PATIENT = """
from hypothesis import HealthCheck, settings

settings.register_profile("patient", max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
settings.load_profile("patient")
"""
#: What mutmut writes of a fault that was found: a test failed, pytest did, or it took too much of the processor.
FOUND = {1, 3, 24, 36, 152, 255, -24}


def laid_out(module):
    """Make the folder in which mutmut works anew, and return it."""
    folder = FOLDER / module
    shutil.rmtree(folder, ignore_errors=True)
    unwanted = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "calc/platemargin", folder / "src/platemargin", ignore=unwanted)
    for part in ("calc", "published"):
        shutil.copytree(ROOT / "tests" / part, folder / "tests" / part, ignore=unwanted)
    (folder / "tests/conftest.py").write_text(PATIENT, encoding="utf-8")
    for path in folder.glob("tests/*/*.py"):
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"max_examples=\d+", "max_examples=20", text), encoding="utf-8")
    tests = [f"tests/{name}.py" for name in TESTS[module].split()]
    (folder / "pyproject.toml").write_text(SETTINGS.format(module=module, tests=json.dumps(tests)), encoding="utf-8")
    return folder


def mutmut(folder, *arguments):
    """Run mutmut in a folder and return what it printed."""
    command = [Path(sys.executable).with_name("mutmut"), *arguments]
    # pytest starts anew for each fault: with nothing beside itself that takes time.
    bare = {**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    done = subprocess.run(
        command, cwd=folder, env=bare, check=False, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    if done.returncode:
        sys.exit(f"mutmut failed in {folder}:\n{done.stdout[-5000:]}")
    return done.stdout


def counted(module):
    """Return how many faults were put into a module and how many were found; keep the others as changes of its text."""
    folder = laid_out(module)
    mutmut(folder, "run", "--max-children", str(os.cpu_count()))
    told = json.loads((folder / f"mutants/src/platemargin/{module}.py.meta").read_text(encoding="utf-8"))["exit_code_by_key"]
    missed = [name for name, code in told.items() if code not in FOUND]
    (FOLDER / f"{module}.diff").write_text("".join(mutmut(folder, "show", name) for name in missed), encoding="utf-8")
    return len(told), len(told) - len(missed)


def main(modules):
    """Print a table, a line as soon as it is known."""
    print("| module | faults | found | |\n|---|---|---|---|", flush=True)
    counts = []
    for module in modules:
        counts.append(counted(module))
        print(row(f"`{module}`", *counts[-1]), flush=True)
    print(row("all", *map(sum, zip(*counts, strict=True))))
    print(f"\nThose that were not found: {FOLDER.relative_to(ROOT)}/MODULE.diff")


def row(name, faults, found):
    """Return a line of the table."""
    return f"| {name} | {faults:,} | {found:,} | {found / faults:.1%} |"


if __name__ == "__main__":
    main(sys.argv[1:] or TESTS)
