"""The work that is served in several ways: readings of a hull through one formula, and what is posted to each address."""

import random
from dataclasses import dataclass
from functools import cache

from platemargin.readings import reading_table
from platemargin.reference import RESIDUAL_DATUM
from platemargin.residual_thickness import ResidualThickness, residual_thickness
from platemargin_api.calculation import Calculation
from platemargin_api.calculations import judged
from platemargin_api.calculations.residual_thickness import thickness_members
from platemargin_api.fields import Request, Response, Rows
from platemargin_api.registry import Distribution, Registry, Served, load_registry

ROWS = 120


class ReadingsRequest(Request):
    """Readings as hull-survey takes them."""

    readings = judged.readings()


LeftResponse = Response.from_dict(thickness_members(nullable=True), name="LeftResponse")


class ReadingsResult(Response):
    """What is left at each."""

    readings = Rows(LeftResponse, 0, judged.MOST_READINGS, description="What is left at each reading.")


@dataclass(frozen=True)
class Left:
    readings: ResidualThickness


def left(readings):
    """Do what every way of serving does: the columns of hull-survey's readings through its first formula."""
    table = reading_table(readings)
    return Left(
        residual_thickness(original_mm=table.original_mm, plate_mm=table.plate_mm, pit_depth_mm=table.pit_depth_mm),
    )


READINGS = Served(
    Calculation(
        id="readings",
        version="1.0.0",
        title="What is left at each reading",
        description="hull-survey's way in and out, and its first formula.",
        request=ReadingsRequest,
        response=ReadingsResult,
        run=left,
        summary=lambda figures: [f"{len(figures['readings'])} readings."],
        references=(RESIDUAL_DATUM,),
        cautions=(),
        example={"readings": [{"zone": "side", "plate_mm": 5.0, "original_mm": 6.0}]},
    ),
    Distribution("tests", "0"),
)


@cache
def registry():
    """Return what is installed, and the readings alone beside it."""
    installed = load_registry()
    return Registry({**installed.calculations, "readings": READINGS}, installed.rule_sets)


def reading(index, chance):
    zone, original = [("baseplate", 10.0), ("side", 6.0), ("chine", 6.0), ("swim", 6.0)][index % 4]
    return {
        "id": f"r{index}",
        "zone": zone,
        "side": ("port", "starboard")[index % 2],
        "station_m": round(0.5 + index * 17 / ROWS, 2),
        "plate_mm": round(original - chance.uniform(0.2, 1.1), 1),
        "pit_depth_mm": round(chance.uniform(0, 0.7), 1),
        "original_mm": original,
    }


def readings():
    chance = random.Random(7)
    return [reading(index, chance) for index in range(ROWS)]


def survey():
    hull = {"length_m": 18.0, "beam_m": 2.1, "draught_m": 0.7}
    return {"hull": hull, "built_on": "2004", "surveyed_on": "2026-05-04", "readings": readings()}


def plate():
    return dict(load_registry().calculations["plate-margin"].offered.example)
