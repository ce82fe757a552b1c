"""The service that the hostile requests are sent to."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))

from wire import serving  # beside this file


@pytest.fixture(scope="module")
def service(tmp_path_factory):
    """Start the service with a pause of 1 s at most in what is sent to it."""
    with serving(tmp_path_factory.mktemp("hostile"), PLATEMARGIN_READ_TIMEOUT_SECONDS="1") as started:
        yield started
