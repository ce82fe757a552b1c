"""What the contract's tests share: one application, and the document that it serves of itself."""

import pytest

from platemargin_api.app import create_app


@pytest.fixture(scope="module")
def application():
    return create_app()


@pytest.fixture
def client(application):
    return application.test_client()


@pytest.fixture(scope="module")
def document(application):
    return application.test_client().get("/openapi.json").json
