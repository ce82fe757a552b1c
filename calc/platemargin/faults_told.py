"""Faults that a calculation refuses, told instead as findings: for a check whose very subject they are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice
from string import Formatter
from typing import Any

from platemargin.declared import Arguments, Fault, Finding, Place, filled

__all__ = ["MOST_TOLD", "faults_as_findings"]

#: So many places of one code are told, as a refusal tells at most a hundred of all; the rest is counted.
MOST_TOLD = 20


def faults_as_findings(faults: Sequence[Fault]) -> tuple[Finding, ...]:
    """Return a finding for each code among some faults, with the fault's own words, and one that counts what is not listed.

    Nothing is declared twice: where a fault is added, its finding is.
    """
    by_code: dict[str, list[Fault]] = {}
    for fault in faults:
        by_code.setdefault(fault.code, []).append(fault)
    listed = tuple(_finding(code, own) for code, own in by_code.items())
    return (*listed, _not_listed(by_code))


def _finding(code: str, faults: Sequence[Fault]) -> Finding:
    messages = {fault.message for fault in faults}
    # Two faults may share a code and not their words: then the words are the finding's value.
    template = messages.pop() if len(messages) == 1 else "{told}"

    def applies(arguments: Arguments, _result: object) -> Iterable[Place]:
        return list(islice(_places(faults, arguments), MOST_TOLD))

    return Finding(
        code=code,
        severity="watch",
        statement=f"{template[0].upper()}{template[1:]}.",
        values=tuple(dict.fromkeys(name for _, name, _, _ in Formatter().parse(template) if name)),
        applies=applies,
    )


def _places(faults: Iterable[Fault], arguments: Arguments) -> Iterable[Place]:
    for fault in faults:
        for place in _broken(fault, arguments):
            told = filled(fault.message, place.values)
            told = f"{told[0].upper()}{told[1:]}"
            yield Place(path=(fault.field, *place.path), values={"told": told, **place.values})


def _broken(fault: Fault, arguments: Arguments) -> Iterable[Place]:
    where: Any = fault.broken(arguments)
    return where  # type: ignore[no-any-return]


def _not_listed(by_code: dict[str, list[Fault]]) -> Finding:
    def applies(arguments: Arguments, _result: object) -> Iterable[Place]:
        for code, faults in by_code.items():
            count = sum(1 for _ in _places(faults, arguments))
            if count > MOST_TOLD:
                yield Place(path=(faults[0].field,), values={"more": count - MOST_TOLD, "fault": code.replace("_", " ")})

    return Finding(
        code="faults_not_listed",
        severity="note",
        statement="{more} more places are not listed where the check is: {fault}.",
        values=("more", "fault"),
        applies=applies,
    )
