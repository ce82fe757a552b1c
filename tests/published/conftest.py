"""What the published examples of cathodic protection share: the service, asked over HTTP in SI units."""

import pytest

from platemargin_api.app import create_app

PLATE = {
    "material": "magnesium",
    "net_mass_kg": 10.0,
    "length_m": 0.3,
    "width_m": 0.2,
    "thickness_m": 0.1,
    "mounting": "flush",
}
WHOLE = {
    "wetted_area_m2": 10.0,
    "electrolyte": {"resistivity_ohm_m": 50.0},
    "coating": {"category": "bare"},
    "design_life_years": 10.0,
}


@pytest.fixture(scope="session")
def sized():
    """Return a function that sizes anodes over HTTP: the answer to a request with some members changed."""
    client = create_app().test_client()

    def ask(anode=(), **changes):
        body = {**WHOLE, "anode": {**PLATE, **dict(anode)}, **changes}
        answer = client.post("/v1/calculations/anode-sizing", json={k: v for k, v in body.items() if v is not None})
        assert answer.status_code == 200, answer.data
        return answer.json

    return ask


@pytest.fixture(scope="session")
def raw():
    """Return a function that reads the quotient before it is rounded up, from an answer's working."""

    def quotient(answer, need):
        (line,) = [line for line in answer["working"] if line["symbol"] == f"quotient_by_{need}"]
        return line["value"]

    return quotient
