"""Dates as a paper trail gives them: a year, a month or a day."""

from __future__ import annotations

import calendar
from datetime import date

__all__ = ["PARTIAL_DATE", "days_of", "years_between"]

#: A year, a year and month, or a day, 1800 to 2099.
PARTIAL_DATE = r"^(18|19|20)[0-9]{2}(-(0[1-9]|1[0-2])(-(0[1-9]|[12][0-9]|3[01]))?)?$"
_DAYS_PER_YEAR = 365.25


def days_of(text: str) -> tuple[date, date] | None:
    """Return the first and the last day of a year, a month or a day; None where the calendar has no such day.

    An age counted from the last day is the least that the text allows.

    Examples
    --------
    >>> [day.isoformat() for day in days_of("2008-02")]
    ['2008-02-01', '2008-02-29']
    >>> days_of("2009-02-30") is None
    True
    """
    year, *rest = map(int, text.split("-"))
    month = rest[0] if rest else None
    try:
        first = date(year, month or 1, rest[1] if len(rest) > 1 else 1)
    except ValueError:
        return None
    if len(rest) > 1:
        return first, first
    last_month = month or 12
    return first, date(year, last_month, calendar.monthrange(year, last_month)[1])


def years_between(start: date, end: date) -> float:
    """Return the time from one day to another [year of 365.25 days]; negative where the second is the earlier."""
    return (end - start).days / _DAYS_PER_YEAR
