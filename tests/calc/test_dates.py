"""Dates as a paper trail gives them."""

import re
from datetime import date

import pytest

from platemargin.dates import PARTIAL_DATE, days_of, years_between


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2008", date(2008, 1, 1), date(2008, 12, 31)),
        ("2008-02", date(2008, 2, 1), date(2008, 2, 29)),
        ("2100-02", date(2100, 2, 1), date(2100, 2, 28)),
        ("2009-04", date(2009, 4, 1), date(2009, 4, 30)),
        ("2008-12", date(2008, 12, 1), date(2008, 12, 31)),
        ("2008-05-07", date(2008, 5, 7), date(2008, 5, 7)),
    ],
)
def test_period(text, first, last):
    """A year or a month runs from its first day to its last; a day is itself."""
    assert days_of(text) == (first, last)


@pytest.mark.parametrize("text", ["2009-02-29", "2008-04-31"])
def test_no_such_day(text):
    """A day that the calendar lacks is none."""
    assert re.search(PARTIAL_DATE, text)
    assert days_of(text) is None


@pytest.mark.parametrize("text", ["2008", "1899-12", "2099-12-31", "1800"])
def test_pattern_takes(text):
    """A year, a month or a day from 1800 to 2099."""
    assert re.search(PARTIAL_DATE, text)


@pytest.mark.parametrize("text", ["08", "1799", "2100", "2008-13", "2008-00", "2008-1", "2008-01-32", "2008/01", "2008-01-"])
def test_pattern_refuses(text):
    """Nothing else."""
    assert not re.search(PARTIAL_DATE, text)


def test_years_between():
    """Years are of 365.25 days, and negative backwards: sixteen years with four leap days are 16."""
    assert years_between(date(2008, 12, 31), date(2024, 12, 31)) == 16.0
    assert years_between(date(2024, 12, 31), date(2008, 12, 31)) == -16.0
