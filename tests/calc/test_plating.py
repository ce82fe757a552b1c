"""Plating: what a reading's plate started with, how old it is, and where that is told twice or not at all."""

import re
from datetime import date

import numpy as np
import pytest

from platemargin.errors import NotApplicableError
from platemargin.plating import NOTATION, from_notation, plated
from platemargin.readings import reading_table

SURVEYED_ON = date(2024, 12, 31)


def known(*readings, plating=(), notation=None, built_on="2008"):
    """Return what is known of some readings."""
    sent = [{"zone": "baseplate", "plate_mm": 8.0, **reading} for reading in readings or ({},)]
    return plated(reading_table(sent), sent, plating, notation, built_on, SURVEYED_ON)


def originals(*readings, **changes):
    """Return the original of each reading."""
    return known(*readings, **changes).table.original_mm.tolist()


# -- the notation --


def test_notation():
    """CONTRACT: "10/6/5" is baseplate; side, chine, swim, counter, transom, stem; cabin-side; a fourth is the roof."""
    told = {entry["zone"]: entry["original_mm"] for entry in from_notation("10/6/5/4")}
    middle = dict.fromkeys(("side", "chine", "swim", "counter", "transom", "stem"), 6.0)
    assert told == {"baseplate": 10.0, **middle, "cabin-side": 5.0, "roof": 4.0}


@pytest.mark.parametrize(("notation", "zones"), [("10/6", 7), ("10/6/5", 8), (None, 0)])
def test_shorter_notation(notation, zones):
    """Figures that are not given plate nothing."""
    assert len(from_notation(notation)) == zones


@pytest.mark.parametrize("notation", ["10/6", "10/6/5/4", "0.5/0.55", "12.5/6.25/5", "40/39.99"])
def test_notation_pattern_takes(notation):
    """Two to four figures from 0.5 to 40 mm."""
    assert re.search(NOTATION, notation)


@pytest.mark.parametrize(
    "notation", ["10", "10/6/5/4/3", "0.4/6", "41/6", "40.1/6", "10-6-5", "10/6/", "10 / 6", "010/6", "1e1/6"]
)
def test_notation_pattern_refuses(notation):
    """Nothing else."""
    assert not re.search(NOTATION, notation)


# -- which entry a reading is of --


def test_entry_overrides_the_notation():
    """CONTRACT: plating entries override the notation."""
    assert originals(notation="10/6", plating=[{"zone": "baseplate", "original_mm": 8.0}]) == [8.0]


def test_entry_of_unknown_plate_overrides_the_notation():
    """An entry that says the original is unknown is believed, whatever figure it has."""
    for entry in ({"zone": "baseplate"}, {"zone": "baseplate", "original_basis": "unknown", "original_mm": 10.0}):
        assert np.isnan(originals(notation="10/6", plating=[entry])).all()


def test_readings_own_original_overrides_all():
    """CONTRACT: a reading's original_mm overrides its zone's."""
    assert originals({"original_mm": 9.0}, {}, notation="10/6") == [9.0, 10.0]


def test_zone_that_no_entry_names():
    """A zone that nothing plates has no known original."""
    assert np.isnan(originals({"zone": "rudder"}, notation="10/6/5")).all()


WHOLE = {"zone": "baseplate", "original_mm": 10.0}
PORT = {"zone": "baseplate", "side": "port", "original_mm": 9.0}
AFT = {"zone": "baseplate", "from_m": 10.0, "original_mm": 8.0}
PATCH = {"zone": "baseplate", "from_m": 11.0, "to_m": 12.0, "original_mm": 7.0}
LONG = {"zone": "baseplate", "from_m": 0.0, "to_m": 17.0, "original_mm": 6.0}
PORT_PATCH = {**PATCH, "side": "port", "original_mm": 5.0}


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize(
    ("entries", "members", "original_mm"),
    [
        ([WHOLE, PORT], {"side": "port"}, 9.0),
        ([WHOLE, PORT], {"side": "starboard"}, 10.0),
        ([WHOLE, PORT], {}, 10.0),
        ([WHOLE, AFT], {"station_m": 10.0}, 8.0),
        ([WHOLE, AFT], {"station_m": 9.999}, 10.0),
        ([WHOLE, AFT], {}, 10.0),
        ([AFT, PATCH], {"station_m": 11.5}, 7.0),
        ([PATCH, LONG], {"station_m": 11.5}, 7.0),
        ([PATCH, LONG], {"station_m": 12.001}, 6.0),
        ([PATCH, PORT_PATCH], {"station_m": 11.5, "side": "port"}, 5.0),
        ([PATCH, PORT_PATCH], {"station_m": 11.5}, 7.0),
    ],
)
def test_narrowest_entry_wins(backwards, entries, members, original_mm):
    """A reading is of the narrowest entry that it is said to be in, in whatever order they are stated."""
    stated = entries[::-1] if backwards else entries
    assert originals(members, plating=stated) == [original_mm]


def test_layers():
    """An overplate or an insert does not take the shell's original, nor the shell theirs."""
    doubler = {"zone": "baseplate", "layer": "overplate", "original_mm": 6.0}
    told = originals({}, {"layer": "overplate"}, {"layer": "insert"}, plating=[WHOLE, doubler])
    assert told[:2] == [10.0, 6.0]
    assert np.isnan(told[2])


def test_notation_is_of_the_shell():
    """The notation says nothing of an overplate."""
    assert np.isnan(originals({"layer": "overplate"}, notation="10/6")).all()


@pytest.mark.parametrize(
    ("entry", "members", "exposure"),
    [
        ({}, {}, "immersed"),
        ({"exposure": "internal"}, {}, "internal"),
        ({"exposure": "internal"}, {"exposure": "waterline"}, "waterline"),
    ],
)
def test_exposure(entry, members, exposure):
    """A reading's own exposure overrides its entry's, and that its zone's."""
    assert known(members, plating=[{**WHOLE, **entry}]).table.exposure.tolist() == [exposure]


# -- how old it is --


@pytest.mark.parametrize(
    ("built_on", "entry", "members", "years"),
    [
        ("2008-12-31", {}, {}, 16.0),
        ("2008", {}, {}, 16.0),  # the last day of the period
        ("2008-12", {}, {}, 16.0),
        ("2008", {"fitted_on": "2016"}, {}, 8.0),
        ("2008", {"fitted_on": "2016"}, {"fitted_on": "2020"}, 4.0),
        ("2008", {}, {"fitted_on": "2020"}, 4.0),
        (None, {"fitted_on": "2016"}, {}, 8.0),
        (None, {}, {}, np.nan),
        ("2024", {}, {}, np.nan),  # not after the survey, and then too short for a rate
        ("2024-11-26", {}, {}, 0.1),  # 35 days, as declared
        ("2024-11-27", {}, {}, np.nan),  # 34 days: less than a tenth of a year
    ],
)
def test_age(built_on, entry, members, years):
    """An age counts from the reading's own day, its entry's, or the boat's: the least that the text allows."""
    told = known(members, plating=[{**WHOLE, **entry}], built_on=built_on).years_in_service
    assert told.tolist() == pytest.approx([years], nan_ok=True)


@pytest.mark.parametrize("layer", ["overplate", "insert"])
def test_age_of_a_plate_fitted_later(layer):
    """A plate that is not the shell is not of the boat's age: its own day is needed."""
    assert np.isnan(known({"layer": layer}).years_in_service).all()
    assert known({"layer": layer, "fitted_on": "2020"}).years_in_service.tolist() == pytest.approx([4.0])


def test_protected_years():
    """Protection is the entry's, none where it says none."""
    assert known({}, {"side": "port"}, plating=[WHOLE, {**PORT, "protected_years": 5.0}]).protected_years.tolist() == [0.0, 5.0]


# -- what is refused --


@pytest.mark.parametrize(
    ("changes", "code", "path"),
    [
        ({"built_on": "2008-02-30"}, "day_not_possible", ("built_on",)),
        ({"built_on": "2025"}, "day_not_possible", ("built_on",)),
        ({"plating": [{**WHOLE, "fitted_on": "2025-01"}]}, "day_not_possible", ("plating", 0, "fitted_on")),
        ({"plating": [{**PATCH, "to_m": 10.9}]}, "range_backwards", ("plating", 0, "to_m")),
        ({"plating": [WHOLE, PORT, {**WHOLE, "original_mm": 9.0}]}, "plating_stated_twice", ("plating", 2)),
        ({"plating": [{**WHOLE, "protected_years": 16.0}]}, "protected_longer_than_service", ("plating", 0, "protected_years")),
        (
            {"plating": [{**WHOLE, "protected_years": 15.996}]},
            "protected_longer_than_service",
            ("plating", 0, "protected_years"),
        ),
        (
            {"built_on": "2024-07-01", "plating": [{**WHOLE, "protected_years": 0.5}]},
            "protected_longer_than_service",
            ("plating", 0, "protected_years"),
        ),
        (
            {"unexamined": [{"zone": "side", "reason": "afloat", "from_m": 2.0, "to_m": 1.0}]},
            "range_backwards",
            ("unexamined", 0, "to_m"),
        ),
    ],
)
def test_refused(survey, changes, code, path):
    """What cannot be is refused, by code, at the member to change."""
    with pytest.raises(NotApplicableError) as refused:
        survey([{"zone": "baseplate", "plate_mm": 8.0}], **changes)
    assert [fault[:2] for fault in refused.value.faults] == [(code, path)]


@pytest.mark.parametrize(
    ("fitted_on", "code"),
    [("2025", "day_not_possible"), ("2023-02-29", "day_not_possible"), ("2023", "protected_longer_than_service")],
)
def test_refused_reading(survey, fitted_on, code):
    """A reading's own day is refused where it cannot be, or where its entry's protection outlasts it."""
    with pytest.raises(NotApplicableError) as refused:
        survey(
            [{"zone": "side", "plate_mm": 6.0}, {"zone": "baseplate", "plate_mm": 8.0, "fitted_on": fitted_on}],
            plating=[{**WHOLE, "protected_years": 5.0}],
        )
    assert [fault[:2] for fault in refused.value.faults] == [(code, ("readings", 1, "fitted_on"))]


@pytest.mark.parametrize(
    "changes",
    [
        {"built_on": "2024"},  # part of it is before the survey
        {"built_on": "2024-12-31", "plating": [{**WHOLE, "protected_years": 0.0}]},  # no age, no protection: no rate either
        {"plating": [{**WHOLE, "protected_years": 15.99}]},
        {"plating": [WHOLE, {**WHOLE, "layer": "overplate"}]},
        {"plating": [{**PATCH, "to_m": 11.0}]},
    ],
)
def test_just_not_refused(survey, changes):
    """What is just possible is answered."""
    assert survey([{"zone": "baseplate", "plate_mm": 8.0}], **changes).result.zones[0].readings == 1
