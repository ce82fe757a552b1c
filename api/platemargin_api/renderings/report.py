"""The survey report of hull-survey: one page of HTML that needs nothing else, on a screen or on paper."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from platemargin.remaining_life import LONGEST_TOLD_YEARS
from platemargin_api.renderings.assessed import cannot_say, not_examined
from platemargin_api.renderings.map_legend import limit_words
from platemargin_api.renderings.plate_map import hull_drawing
from platemargin_api.renderings.words import figure, plain, tenths, visible_throughout

__all__ = ["chance", "life_words", "survey_report", "value_words"]

_VERDICTS = {"act": "Act", "watch": "Watch", "not_judged": "Not judged", "no_limit_broken": "No limit broken"}
_URGENCIES = {
    "before_afloat": "Before the boat is afloat again",
    "before_cover": "Before the plate is covered",
    "next_docking": "At the next docking",
    "monitor": "From now on",
}
_SEVERITIES = {"act": "Calls for action", "watch": "To be watched", "note": "To be known"}
_BASES = {"published": "published", "from_memory": "from memory", "common_practice": "common practice"}


def survey_report(request: Mapping[str, Any], answer: Mapping[str, Any]) -> bytes:
    """Return the report of a survey.

    Every text of request and answer is escaped by the template; the map alone is markup, and escapes its own.
    """
    request, answer = visible_throughout(request), visible_throughout(answer)
    drawing = Markup(hull_drawing(request, answer).decode())  # noqa: S704  it is made of elements, never of text
    result = answer["result"]
    page: str = _template().render(
        request=request,
        answer=answer,
        result=result,
        hull=request["hull"],
        drawing=drawing,
        missing=not_examined(result),
        open_questions=cannot_say(request, result),
        verdicts=_VERDICTS,
        urgencies=_URGENCIES,
        severities=_SEVERITIES,
        bases=_BASES,
    )
    return page.encode()


@cache
def _template() -> Any:
    environment = Environment(
        loader=PackageLoader("platemargin_api.renderings"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    told = (chance, figure, life_words, limit_words, plain, tenths, value_words)
    environment.filters |= {one.__name__: one for one in told}
    return environment.get_template("report.html")


def chance(probability: float) -> str:
    """Return a probability; what rounds to 0 or 1 is neither.

    Examples
    --------
    >>> chance(0.054799), chance(0.0), chance(1.0)
    ('0.054799', 'under 0.000001', 'over 0.999999')
    """
    return {0.0: "under 0.000001", 1.0: "over 0.999999"}.get(probability) or figure(probability)


def life_words(life: Mapping[str, Any]) -> str:
    """Return a life in years with its band; one that nobody can know is told by its lower end alone.

    Examples
    --------
    >>> life_words({"status": "above", "years": 2.8, "years_low": 0.0, "years_high": 10.27})
    '2.8 (0 to 10.27)'
    >>> life_words({"status": "above", "years": 224.0, "years_low": 69.01, "years_high": None})
    'not before 69.01'
    """
    low, years, high = life["years_low"], life["years"], life["years_high"]
    if life["status"] != "above":
        return plain(life["status"])
    if years is None or years > LONGEST_TOLD_YEARS:
        return "no finite value" if low is None else f"not before {figure(low)}"
    return f"{figure(years)} ({figure(low)} {'or more' if high is None else f'to {figure(high)}'})"


def value_words(value: Any) -> str:
    """Return a value of any type in words.

    Examples
    --------
    >>> value_words({"swim": 6.0, "painted": False}), value_words(["trade-practice"]), value_words([])
    ('swim: 6; painted: no', 'trade-practice', 'none')
    """
    if isinstance(value, Mapping):
        return "; ".join(f"{plain(str(name))}: {value_words(member)}" for name, member in value.items()) or "none"
    if isinstance(value, list):
        return ", ".join(value_words(item) for item in value) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return figure(value, none="none") if isinstance(value, (int, float)) or value is None else str(value)
