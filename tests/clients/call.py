"""Calls the live service with the Python client that its document generates; prints as JSON what the client understood.

call.py ADDRESS EXAMPLES    EXAMPLES: a JSON object, a request by calculation
"""

import json
import sys
from importlib import import_module
from pathlib import Path
from typing import Any

from platemargin_client import Client
from platemargin_client.api.calculations import calculate_plate_margin, calculate_threshold_check
from platemargin_client.api.catalogue import list_calculations
from platemargin_client.models import (
    CalculationList,
    PlateMarginAnswer,
    PlateMarginRequest,
    PlateMarginRequestEnvironment,
    PlateMarginResultStatus,
    Problem,
    ReadingRequest,
    ReadingRequestSide,
    ThresholdCheckAnswer,
    ThresholdCheckRequest,
)
from platemargin_client.types import Unset


def one_reading(client: Client) -> dict[str, Any]:
    """Return what the client made of one reading, member by member as their types promise."""
    request = PlateMarginRequest(
        original_mm=10.0,
        plate_mm=8.8,
        pit_depth_mm=2.6,
        years_in_service=16.0,
        environment=PlateMarginRequestEnvironment.FRESH_WATER,
    )
    answer = calculate_plate_margin.sync(client=client, body=request, prefer="return=minimal")
    assert isinstance(answer, PlateMarginAnswer)
    assert answer.result.status is PlateMarginResultStatus.ABOVE
    assert answer.result.years is not None
    assert isinstance(answer.working, Unset)
    margin: float = answer.result.margin_mm
    return {
        "margin_mm": margin,
        "years": answer.result.years,
        "findings": [finding.code.upper() for finding in answer.findings],
    }


def readings(client: Client) -> str:
    """Return the verdict on a list of objects."""
    read = [ReadingRequest(zone="side", plate_mm=5.4, side=ReadingRequestSide.PORT), ReadingRequest(zone="chine", plate_mm=3.9)]
    answer = calculate_threshold_check.sync(client=client, body=ThresholdCheckRequest(readings=read))
    assert isinstance(answer, ThresholdCheckAnswer)
    return answer.result.verdict.value


def refused(client: Client) -> list[tuple[str, str]]:
    """Return codes and pointers of a request that is refused."""
    request = PlateMarginRequest(original_mm=10.0, plate_mm=8.8, pit_depth_mm=9.9, years_in_service=16.0)
    problem = calculate_plate_margin.sync(client=client, body=request)
    assert isinstance(problem, Problem)
    assert not isinstance(problem.errors, Unset)
    return [(fault.code, fault.pointer) for fault in problem.errors]


def listed(client: Client) -> list[str]:
    """Return the calculations of the catalogue."""
    told = list_calculations.sync(client=client)
    assert isinstance(told, CalculationList)
    return [calculation.id for calculation in told.calculations]


def example(client: Client, calculation: str, request: dict[str, Any]) -> dict[str, Any]:
    """Return an answer after it went through the client's models, as the request did before it was sent."""
    name = calculation.replace("-", "_")
    module = import_module(f"platemargin_client.api.calculations.calculate_{name}")
    models = import_module("platemargin_client.models")
    model = getattr(models, f"{name.title().replace('_', '')}Request")
    answer: dict[str, Any] = module.sync(client=client, body=model.from_dict(request)).to_dict()
    return answer


def main(address: str, examples: dict[str, dict[str, Any]]) -> None:
    """Call everything and print it."""
    with Client(base_url=address) as client:
        told = {
            "one_reading": one_reading(client),
            "readings": readings(client),
            "refused": refused(client),
            "listed": listed(client),
            "examples": {calculation: example(client, calculation, request) for calculation, request in examples.items()},
        }
    sys.stdout.write(json.dumps(told))


if __name__ == "__main__":
    main(sys.argv[1], json.loads(Path(sys.argv[2]).read_text(encoding="utf-8")))
