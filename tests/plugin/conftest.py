"""Plug-ins as real packages: built and installed with no network into a folder that only the service under test sees."""

import os
import shutil
import socket
import subprocess
import sys
import textwrap
import time
from contextlib import contextmanager
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import pytest

PLATE_WEIGHT = Path(__file__).parent / "platemargin-plate-weight"
# Its tests import the package, which is not installed here: test_plugin.py runs them where it is.
collect_ignore = [PLATE_WEIGHT.name]


def _install(package, site):
    """Build a package and install it into the folder `site`; this environment does not change."""
    offline = ["--no-index", "--no-deps", "--no-build-isolation", "--disable-pip-version-check"]
    subprocess.run([sys.executable, "-m", "pip", "install", "--quiet", *offline, "--target", site, package], check=True)


def _environment(site):
    return {**os.environ, "PYTHONPATH": str(site), "WEB_CONCURRENCY": "1", "PLATEMARGIN_BIND": f"127.0.0.1:{_free_port()}"}


def _free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture(scope="module")
def plate_weight(tmp_path_factory):
    """Return the folder that the example plug-in is installed in, and a copy of its source."""
    folder = tmp_path_factory.mktemp("plate-weight")
    source = Path(shutil.copytree(PLATE_WEIGHT, folder / "source", ignore=shutil.ignore_patterns("__pycache__")))
    _install(source, folder / "site")
    return folder / "site", source


@pytest.fixture
def broken(tmp_path):
    """Return a function that makes a package from entry points and a module, and installs it."""

    def package(entry_points, module):
        source = tmp_path / "broken-plug-in"
        source.mkdir()
        (source / "broken_plug_in.py").write_text(textwrap.dedent(module))
        (source / "pyproject.toml").write_text(
            textwrap.dedent(f"""\
            [build-system]
            requires = ["hatchling"]
            build-backend = "hatchling.build"

            [project]
            name = "broken-plug-in"
            version = "0.9.0"

            [project.entry-points."platemargin.calculations"]
            {entry_points}
            """)
        )
        _install(source, tmp_path / "site")
        return tmp_path / "site"

    return package


@pytest.fixture(scope="module")
def service(plate_weight):
    """Return the address of the real service, started with the example plug-in installed."""
    with _running(_environment(plate_weight[0])) as address:
        yield address


@pytest.fixture
def run():
    """Return a function that runs a module of Python where the packages of a folder are installed."""

    def ended(site, *module, cwd=None):
        command = [sys.executable, "-m", *module]
        return subprocess.run(command, env=_environment(site), cwd=cwd, capture_output=True, text=True, check=False, timeout=60)

    return ended


@contextmanager
def _running(env):
    address = f"http://{env['PLATEMARGIN_BIND']}"
    with subprocess.Popen([sys.executable, "-m", "platemargin_api", "serve"], env=env) as process:
        try:
            for _ in range(300):
                assert process.poll() is None, "the service ended before it answered"
                try:
                    with urlopen(f"{address}/health/ready", timeout=5):
                        break
                except URLError:
                    time.sleep(0.1)
            else:
                pytest.fail("the service did not answer within 30 seconds")
            yield address
        finally:
            process.terminate()
            process.wait(30)
