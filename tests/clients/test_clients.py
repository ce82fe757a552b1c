"""The OpenAPI document makes clients: generated, checked by the strictest types of their language, and calling the service.

What makes them is fetched once (tests/clients/environment); a machine that cannot skips these tests by name.
"""

import json
import os
import re
import shutil
import subprocess
from itertools import pairwise
from pathlib import Path

import pytest

from platemargin_api.app import create_app
from platemargin_api.demo import served
from platemargin_api.registry import load_registry

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
BUILD = ROOT / "build/clients"
DOCUMENT = ROOT / "openapi/openapi.json"

registry = load_registry()
service = create_app(registry).test_client()
EXAMPLES = {name: dict(served_.offered.example) for name, served_ in registry.calculations.items()}
ONE = {"original_mm": 10, "plate_mm": 8.8, "pit_depth_mm": 2.6, "years_in_service": 16, "environment": "fresh_water"}


def run(*command, **more):
    words = [str(word) for word in command]
    return subprocess.run(words, check=False, capture_output=True, text=True, timeout=300, **more)


def done(*command, **more):
    ended = run(*command, **more)
    assert ended.returncode == 0, f"{command}\n{ended.stdout[-4000:]}\n{ended.stderr[-4000:]}"
    return ended


def environment(kind):
    made = run(HERE / "environment", kind)
    if made.returncode == 3:
        pytest.skip(made.stdout.strip())
    assert made.returncode == 0, made.stdout + made.stderr


@pytest.fixture(scope="module")
def address():
    with served(0) as running:
        yield running


def answered(calculation, request, prefer="return=representation"):
    return service.post(f"/v1/calculations/{calculation}", json=request, headers={"Prefer": prefer}).json


def expected():
    """Return what the same calls are answered without any generated client."""
    told = answered("plate-margin", ONE, "return=minimal")
    check = {"readings": [{"zone": "side", "plate_mm": 5.4, "side": "port"}, {"zone": "chine", "plate_mm": 3.9}]}
    fault = answered("plate-margin", {**ONE, "pit_depth_mm": 9.9})["errors"][0]
    return {
        "one_reading": {
            "margin_mm": 2.2,
            "years": told["result"]["years"],
            "findings": [finding["code"].upper() for finding in told["findings"]],
        },
        "readings": answered("threshold-check", check)["result"]["verdict"],
        "refused": [[fault["code"], fault["pointer"]]],
        "listed": sorted(EXAMPLES),
    }


@pytest.fixture(scope="module")
def generated(tmp_path_factory):
    """Generate the Python client; return its folder and what its generator said."""
    environment("python")
    folder = tmp_path_factory.mktemp("python")
    (folder / "options.yaml").write_text("post_hooks: []\n")
    options = ["--config", folder / "options.yaml", "--meta", "none", "--output-path", folder / "platemargin_client"]
    made = done(BUILD / "python/bin/openapi-python-client", "generate", "--path", DOCUMENT, *options)
    return folder, made.stdout + made.stderr


def test_the_python_generator_passes_over_nothing_but_the_media_of_many_rows(generated):
    """Its clients speak JSON; many rows are sent with the HTTP client that they are built on."""
    told = re.findall(r"^(?:WARNING|ERROR|Unsupported|Unable|Cannot|Invalid)\b.*", generated[1], re.MULTILINE)
    rows = ("application/x-ndjson", "text/csv", "application/vnd.apache.arrow.stream")
    media = {f"Unsupported content type {medium}" for medium in rows}
    others = {words for words in told if not words.startswith("WARNING parsing POST /v1/calculations/")} - media
    assert others == set()
    of_elementwise = sum(served_.offered.elementwise for served_ in registry.calculations.values())
    assert len([words for words in told if words in media]) == len(EXAMPLES) + 2 * of_elementwise


def test_no_name_of_a_python_model_is_made_up_by_its_generator(generated):
    """Every object and enumeration has a name in the document: "Type1" and "Item" are a generator's for one without."""
    models = {path.stem for path in (generated[0] / "platemargin_client/models").glob("*.py")}
    assert len(models) > 200
    assert [name for name in models if re.search(r"(type_?\d|_item|response_200)$", name)] == []


def test_the_python_client_is_strictly_typed_and_calls_the_service(generated, address):
    folder, _ = generated
    (folder / "call.py").write_text((HERE / "call.py").read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "examples.json").write_text(json.dumps(EXAMPLES), encoding="utf-8")
    python = BUILD / "python/bin/python"
    cache = ["--cache-dir", BUILD / "mypy"]
    done(python, "-m", "mypy", "--strict", *cache, "-p", "platemargin_client", "-m", "call", cwd=folder)
    told = json.loads(done(python, "call.py", address, "examples.json", cwd=folder).stdout)
    examples = told.pop("examples")
    assert {**told, "listed": sorted(told["listed"])} == expected()
    assert sorted(examples) == sorted(EXAMPLES)
    for calculation, answer in examples.items():
        whole = answered(calculation, EXAMPLES[calculation])
        # The digest of the bytes received is of another spelling of the same request.
        for provenance in (answer["provenance"], whole["provenance"]):
            del provenance["request_digest"]
        assert answer == whole, calculation


@pytest.fixture(scope="module")
def typescript():
    """Generate the types beside the calls; return the folder, in which node finds its modules."""
    environment("node")
    folder = BUILD / f"typescript-{os.environ.get('PYTEST_XDIST_WORKER', 'alone')}"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for name in ("call.ts", "tsconfig.json", "package.json"):
        shutil.copy(HERE / name, folder)
    # A member with a default need not be sent: without the option the generator asks for it.
    options = ["--default-non-nullable", "false", "--output", folder / "schema.d.ts"]
    done(BUILD / "node_modules/.bin/openapi-typescript", DOCUMENT, *options)
    yield folder
    shutil.rmtree(folder)


def test_the_typescript_client_is_strictly_typed_and_calls_the_service(typescript, address):
    """Beside the calls, every example, sent and answered, is of the type that the document gives it."""
    lines = ['import type { components } from "./schema.js";']
    for name, request in EXAMPLES.items():
        model = name.title().replace("-", "")
        for kind, value in (("Request", request), ("Answer", answered(name, request))):
            lines.append(f'export const {model}{kind}: components["schemas"]["{model}{kind}"] = {json.dumps(value)};')
    (typescript / "examples.ts").write_text("\n".join(lines), encoding="utf-8")
    done(BUILD / "node_modules/.bin/tsc", "--project", typescript)
    told = json.loads(done("node", "call.js", address, cwd=typescript).stdout)
    assert told.pop("lines") == [["line", "result", "findings"], ["line", "problem"], ["summary"]]
    assert {**told, "listed": sorted(told["listed"])} == expected()


@pytest.mark.parametrize(
    ("path", "said"),
    [
        (("HullRequest", "properties", "name", "maxLength"), "owasp:api4:2023-string-limit"),
        (("ThresholdCheckRequest", "properties", "readings", "maxItems"), "owasp:api4:2023-array-limit"),
    ],
)
def test_the_linters_see_what_is_missing(tmp_path, path, said):
    """`make check` passes the document as it is; the rules that are stated anew find what is taken away."""
    environment("node")
    document = json.loads(DOCUMENT.read_text(encoding="utf-8"))
    *holders, member = path
    schema = document["components"]["schemas"]
    for name in holders:
        schema = schema[name]
    del schema[member]
    (tmp_path / "openapi.json").write_text(json.dumps(document), encoding="utf-8")
    linted = run(HERE / "lint", tmp_path / "openapi.json")
    assert linted.returncode != 0
    assert f" error  {said} " in linted.stdout


def test_every_rule_that_is_off_has_its_reason():
    for name in ("spectral.yaml", "redocly.yaml"):
        lines = (HERE / name).read_text(encoding="utf-8").splitlines()
        for before, line in pairwise(lines):
            assert not line.endswith(": off") or before.endswith(": off") or before.lstrip().startswith("#"), line


def test_a_machine_without_node_says_what_it_leaves_out(tmp_path):
    """`make check` passes there, and says by name what it did not do."""
    for folder in ("/usr/bin", "/bin"):
        for program in Path(folder).iterdir():
            link = tmp_path / program.name
            if program.name not in ("node", "nodejs", "npm", "npx") and not link.exists():
                link.symlink_to(program)
    without = done(HERE / "lint", env={**os.environ, "PATH": str(tmp_path)})
    assert without.stdout.startswith("left out: spectral, redocly and the generated TypeScript client: install Debian's nodejs")
