"""The plug-in contract: one `Calculation` is everything that a calculation is to the service.

A package offers one as an entry point of the group ``platemargin.calculations``, under the calculation's own id::

    [project.entry-points."platemargin.calculations"]
    wall-area = "my_package.wall_area:calculation"

The built-in calculations are offered in the same way and know nothing more than this page. What the service does with
each call: strict JSON -> `request` loads it -> `run(**arguments)` -> `response` writes it, rounded as declared ->
`findings`, `assumed`, `working` and `summary` are filled with the written figures -> where another medium than JSON is
accepted, one of `renderings` shows that answer. `testing.check_calculation` tells whether a calculation keeps this contract.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, TypeAlias

import marshmallow as ma

from platemargin.declared import Assumption, Fault, Finding, Step
from platemargin.reference import Reference

__all__ = ["GROUP", "Brought", "Calculation", "Deprecation", "Figures", "Rendering"]

#: The entry-point group.
GROUP = "platemargin.calculations"

#: The request's members (after defaults) and the written result's, by name.
Figures: TypeAlias = Mapping[str, Any]

#: From the request as loaded and the members of its whole answer to the same in another medium.
Rendering: TypeAlias = Callable[[Mapping[str, Any], Mapping[str, Any]], bytes]


def _own_figures(figures: Figures, _result: object) -> Sequence[Figures]:
    return [figures]


@dataclass(frozen=True, kw_only=True)
class Deprecation:
    """Since when a calculation is deprecated, when it goes, and what takes its place.

    Raises
    ------
    ValueError
        Where less than twelve months lie between the two days.
    """

    deprecated_on: date
    sunset_on: date
    successor: str | None = None

    def __post_init__(self) -> None:
        if (self.sunset_on - self.deprecated_on).days < 365:  # noqa: PLR2004  twelve months, as the contract promises
            raise ValueError("a calculation is deprecated at least 12 months before its sunset")


@dataclass(frozen=True, kw_only=True)
class Brought:
    """What a member of the request brings to the answers to requests that send it."""

    references: Sequence[Reference] = ()
    cautions: Sequence[str] = ()


@dataclass(frozen=True, kw_only=True)
class Calculation:
    """One calculation.

    Parameters
    ----------
    id : str
        kebab-case; equals the entry point's name.
    version : str
        patch: same numbers; minor: more fields; major: any number or verdict of an unchanged request.
    title, description : str
        One line, and a paragraph: what it answers.
    request, response : type of marshmallow.Schema
        Based on `Request` and `Response` of `platemargin_api.fields` and made of its fields; every number with unit and
        bounds, every array and string with a length. The request's label `id` comes with the base; `run` does not get it.
    run : callable
        A pure function; its keywords are the request's fields. It refuses `faults` itself, with
        `platemargin.declared.refuse`, and returns a (frozen) dataclass whose attributes are the response's fields. Its
        docstring is numpydoc with every section; References holds ids of `references`, with commas between them.
    elementwise : bool
        `run` takes and returns arrays of one length: absent numbers are NaN, choices whole numbers, days datetime64[D]. Those
        that it takes are read-only and need not be contiguous: of a member that nobody sends, one value stands for all rows.
        Those that it returns are sent as they are: a later call does not write to them.
        A member object of the response is a dataclass of such arrays, an array of it (of one declared length) a tuple with
        an item each: an array, or a dataclass of them.
    summary : callable
        From the figures, 1 to 5 sentences fit for a decision letter.
    faults, findings, assumed, working : sequences
        Declared beside the formula; see `platemargin.declared`.
    working_figures : callable
        From the figures and the result, what the steps of working are filled with, once for each thing that is worked out:
        a figure `of` names it in the answer.
    references, cautions : sequences
        What every answer cites, and what it warns of.
    brought : mapping
        By optional member of the request: what an answer cites and warns of beside that where the member is sent.
    renderings : mapping
        By media type, what shows the same answer in it: a pure function of (request as loaded, members of the whole answer)
        that returns bytes, text in UTF-8. It adds no figure of its own, writes no time, and escapes what the request brought;
        pictures and pages run no script and fetch nothing. `platemargin_api.renderings` has parts to build one from.
    example : mapping
        A request that can be sent as it is.
    deprecation : Deprecation, optional
        Told in the headers of every answer.
    """

    id: str
    version: str
    title: str
    description: str
    request: type[ma.Schema]
    response: type[ma.Schema]
    run: Callable[..., Any]
    summary: Callable[[Figures], Sequence[str]]
    references: Sequence[Reference]
    cautions: Sequence[str]
    example: Mapping[str, Any]
    elementwise: bool = False
    faults: Sequence[Fault] = ()
    findings: Sequence[Finding] = ()
    assumed: Sequence[Assumption] = ()
    working: Sequence[Step] = ()
    working_figures: Callable[[Figures, Any], Sequence[Figures]] = field(default=_own_figures)
    deprecation: Deprecation | None = None
    brought: Mapping[str, Brought] = field(default_factory=dict)
    renderings: Mapping[str, Rendering] = field(default_factory=dict)

    def references_with(self, members: Collection[str]) -> tuple[Reference, ...]:
        """Return what an answer cites where some members were sent, each once."""
        brought = (reference for one in self._brought_by(members) for reference in one.references)
        return tuple({reference.id: reference for reference in (*self.references, *brought)}.values())

    def cautions_with(self, members: Collection[str]) -> tuple[str, ...]:
        """Return what an answer warns of where some members were sent, each once."""
        brought = (caution for one in self._brought_by(members) for caution in one.cautions)
        return tuple(dict.fromkeys((*self.cautions, *brought)))

    def _brought_by(self, members: Collection[str]) -> list[Brought]:
        return [brought for member, brought in self.brought.items() if member in members]
