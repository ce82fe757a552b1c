"""The survey report of hull-survey: one page of HTML that needs nothing else, and the same as PDF."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from platemargin_api.renderings.report_content import report_of
from platemargin_api.renderings.report_parts import Column
from platemargin_api.renderings.words import visible_throughout

__all__ = ["survey_report", "survey_report_pdf"]


def survey_report(request: Mapping[str, Any], answer: Mapping[str, Any]) -> bytes:
    """Return the report of a survey.

    Every text of request and answer is escaped by the template; the map alone is markup, and escapes its own.
    """
    report = report_of(visible_throughout(request), visible_throughout(answer))
    page: str = _template().render(report=report)
    return page.encode()


def survey_report_pdf(request: Mapping[str, Any], answer: Mapping[str, Any]) -> bytes:
    """Return the same report as PDF, with the extra ``platemargin[pdf]``, which is loaded with the first that is asked for."""
    from platemargin_api.renderings.report_pdf import set_report  # noqa: PLC0415

    return set_report(request, answer)


@cache
def _template() -> Any:
    environment = Environment(
        loader=PackageLoader("platemargin_api.renderings"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    # A drawing is made of elements, never of text.
    environment.filters |= {"drawing": Markup, "tags": _tags}
    environment.globals["zip"] = zip
    return environment.get_template("report.html")


def _tags(columns: Sequence[Column]) -> list[tuple[Markup, Markup]]:
    """Return what a cell of each column stands between, made once for all rows of a table."""
    classes = [Markup(' class="{}"').format(column.role) if column.role else "" for column in columns]
    head, *others = classes
    first = (Markup('<th scope="row"{}>').format(head), Markup("</th>"))
    return [first, *((Markup("<td{}>").format(role), Markup("</td>")) for role in others)]
