"""The Dockerfile, unchanged, builds an image that serves a calculation with everything taken away from it.

No container engine has to run: buildah builds and podman starts, in a storage folder of this test's own. The base
image is made of Debian packages and stands in for the public one under its name, so that no image registry is asked.
"""

import json
import os
import shutil
import subprocess
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from platemargin_api.answer import encoded
from platemargin_api.registry import load_registry

ROOT = Path(__file__).parents[2]
NEEDED = ["buildah", "mmdebstrap", "podman", "runc"]  # Debian packages, each named like its program
MISSING = [name for name in NEEDED if shutil.which(name) is None]
BASE = "docker.io/library/python:3.11-slim-bookworm"
BASE_PACKAGES = "python3,python3-venv,ca-certificates"
IMAGE = "localhost/platemargin:test"
HARDENED = ["--read-only", "--cap-drop=all", "--security-opt=no-new-privileges", "--tmpfs=/tmp"]
# A network of its own with nothing in it but loopback: port 8000 is free there, and nobody else can reach it.
ALONE = ["--network=none", "--no-healthcheck", "--ulimit=nofile=1024:1024", "--ulimit=nproc=1000:1000"]
# The client is the image's own Python: path and JSON body in, the answer's body out; a status other than 2xx raises.
CLIENT = """
import sys, urllib.request
path, body = sys.argv[1:]
request = urllib.request.Request("http://127.0.0.1:8000" + path, body.encode(), {"Content-Type": "application/json"})
print(urllib.request.urlopen(request, timeout=10).read().decode())
"""

pytestmark = [
    pytest.mark.container,
    pytest.mark.skipif(bool(MISSING), reason=f"no image tested: install Debian's {' '.join(MISSING)}"),
    pytest.mark.skipif(os.geteuid() != 0, reason="no image tested: needs root"),
]


def attempt(*command):
    words = [str(word) for word in command]
    return subprocess.run(words, check=False, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=600)


def run(*command):
    done = attempt(*command)
    assert done.returncode == 0, f"{command} failed:\n{done.stdout[-5000:]}"
    return done.stdout.strip()


@pytest.fixture(scope="module")
def storage(tmp_path_factory):
    """Options that keep images and containers out of the machine's own storage, which may hold the real base image."""
    folder = tmp_path_factory.mktemp("containers")
    options = ["--root", folder / "images", "--runroot", folder / "run"]
    yield options
    attempt("buildah", *options, "rm", "--all")  # one that a failed build left behind is still mounted
    shutil.rmtree(folder, ignore_errors=True)  # half a gigabyte that pytest would keep for three runs


@pytest.fixture(scope="module")
def image(storage):
    base = run("buildah", *storage, "from", "scratch")
    folder = run("buildah", *storage, "mount", base)
    run("mmdebstrap", "--quiet", "--variant=minbase", f"--include={BASE_PACKAGES}", "bookworm", folder)
    run("buildah", *storage, "config", "--env", "PATH=/usr/local/bin:/usr/bin:/bin", base)
    run("buildah", *storage, "commit", "--quiet", "--rm", base, BASE)
    # The machine's certificates are lent to the build alone: its network may have some of its own.
    certificates = ["--volume", "/etc/ssl/certs:/etc/ssl/certs:ro"] if Path("/etc/ssl/certs").exists() else []
    build = ["bud", "--isolation=chroot", "--pull-never", "--format=docker", *certificates, "--tag", IMAGE]
    run("buildah", *storage, *build, "--file", ROOT / "docker/Dockerfile", ROOT)
    return IMAGE


@pytest.fixture(scope="module")
def podman(storage):
    return ["podman", *storage, "--runtime=runc", "--cgroup-manager=cgroupfs"]


@pytest.fixture(scope="module")
def probe(podman, image):
    """The image's own health check, as an engine would run it."""
    described = json.loads(run(*podman, "image", "inspect", image))[0]
    how, *command = described["Healthcheck"]["Test"]
    assert how == "CMD"
    return command


@pytest.fixture
def container(podman, image, probe):
    with started(podman, image, probe) as name:
        yield name


@contextmanager
def started(podman, image, probe, *options):
    allowed = ["--env=PLATEMARGIN_ANONYMOUS=allow", *options]
    name = run(*podman, "run", "--detach", "--pull=never", *allowed, *HARDENED, *ALONE, image)
    try:
        wait_until_ready([*podman, "exec", name, *probe])
        yield name
    except TimeoutError:
        pytest.fail("not ready after 10 s:\n" + run(*podman, "logs", name))
    finally:
        run(*podman, "rm", "--force", "--time=1", name)


def wait_until_ready(probe):
    for _ in range(50):
        if attempt(*probe).returncode == 0:
            return
        time.sleep(0.2)
    raise TimeoutError


def test_the_image_answers_a_request(podman, container):
    request = {"original_mm": 10, "plate_mm": 9.8, "pit_depth_mm": 2.8, "years_in_service": 16}
    path = "/v1/calculations/plate-margin"
    answer = json.loads(run(*podman, "exec", container, "python3", "-c", CLIENT, path, json.dumps(request)))
    assert answer["result"]["residual_mm"] == 7.0


def test_a_decision_is_made_again_by_the_image_of_its_release(podman, image, probe, tmp_path):
    """Decided here and kept; the image of the release that the provenance names gets the bytes, and says the same."""
    body = (ROOT / "tests/recipes/surveys/teasel.json").read_bytes()
    registry = load_registry()
    kept = encoded(registry.calculations["hull-survey"], registry, body)
    release = run(*podman, "run", "--rm", "--pull=never", *HARDENED, *ALONE, image, "platemargin", "--version").split()[-1]
    assert release == json.loads(kept)["provenance"]["service_version"]
    # Others than root read it there.
    tmp_path.chmod(0o755)
    (tmp_path / "request.json").write_bytes(body)
    (tmp_path / "answer.json").write_bytes(kept)
    shutil.copy(ROOT / "tests/recipes/decision_again.py", tmp_path)
    lent = f"--volume={tmp_path}:/decision:ro"
    with started(podman, image, probe, lent) as name:
        files = [f"/decision/{file}" for file in ("decision_again.py", "request.json", "answer.json")]
        assert "decides the same: hull-survey" in run(*podman, "exec", name, "python3", *files)


def test_no_process_of_it_is_root(podman, container):
    users = run(*podman, "top", container, "huser").splitlines()[1:]
    assert len(users) >= 2, "a master and at least one worker"
    assert set(users) == {"10001"}


def test_it_holds_the_service_and_not_its_tools(podman, container):
    names = "import importlib.util as u; print([n for n in ('pip', 'hatchling', 'pytest') if u.find_spec(n)])"
    assert run(*podman, "exec", container, "python3", "-c", names) == "[]"


def test_it_refuses_to_serve_the_world_unless_told_to(podman, image):
    refused = attempt(*podman, "run", "--rm", "--pull=never", *HARDENED, *ALONE, image)
    assert refused.returncode != 0
    assert "PLATEMARGIN_ANONYMOUS=allow" in refused.stdout


def test_its_health_check_fails_without_the_service(podman, image, probe):
    assert attempt(*podman, "run", "--rm", "--pull=never", *HARDENED, *ALONE, image, *probe).returncode == 1


def test_it_stops_when_asked(podman, container):
    begun = time.monotonic()
    run(*podman, "kill", "--signal=TERM", container)
    assert run(*podman, "wait", container) == "0"
    assert time.monotonic() - begun < 10
