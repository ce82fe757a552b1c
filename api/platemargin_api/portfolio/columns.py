"""What each column of an input is for: a member of the request, the hull, carried along; any other is refused by name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from platemargin_api.answer import LABEL
from platemargin_api.csv_writer import result_columns
from platemargin_api.portfolio.refused import InputError
from platemargin_api.registry import Served
from platemargin_api.wording import hint, nearest

__all__ = ["ASSUMED", "CODES", "ERROR", "HULL", "ROW", "Asked", "Columns", "assumable", "columns_of", "unused"]

#: Columns of the answers beside the result's: where the row stands in its input, its hull, what was found, which members took
#: a value that nobody stated, why it is refused.
ROW, HULL, CODES, ASSUMED, ERROR = "row", "hull", "finding_codes", "assumed", "error"


@dataclass(frozen=True)
class Asked:
    """What the caller asked for: the calculation, and how columns are called."""

    calculation: str
    #: The column that names the hull; None where nothing is rolled up.
    hull: str | None = HULL
    #: Columns of other names, each with the member of the request that it is.
    renamed: tuple[tuple[str, str], ...] = ()
    keep: tuple[str, ...] = ()


@dataclass(frozen=True)
class Columns:
    """The columns of one input."""

    #: By member of the request.
    members: Mapping[str, str]
    keep: Sequence[str]
    hull: str | None


def columns_of(served: Served, asked: Asked, names: Sequence[str]) -> Columns:
    """Return what each column of an input is for.

    Raises
    ------
    InputError
        Telling every column that is unknown, doubled, missing, or carried under a name that the answer has.
    """
    renamed = dict(asked.renamed)
    used = [(renamed.get(name, name), name) for name in names]
    members = {member: name for member, name in used if member in served.request.fields}
    faults = [*_faults(served, asked, names), *_twice(served, used), *_missing(served, asked, names, members)]
    if faults:
        raise InputError("; ".join(faults))
    return Columns(members, [name for name in asked.keep if name in names], asked.hull)


def _faults(served: Served, asked: Asked, names: Sequence[str]) -> Iterator[str]:
    fields, renamed = served.request.fields, dict(asked.renamed)
    taken = {ROW, *([] if asked.hull is None else [HULL]), LABEL, CODES, ASSUMED, ERROR, *result_columns(served)}
    for name, member in renamed.items():
        if member not in fields:
            near = hint(member, fields, otherwise=f"members are {', '.join(fields)}")
            yield f"--column {name}={member}: {member} is no member of {served.offered.id}{near}"
    for name, times in Counter(names).items():
        if times > 1:
            yield f"the column {name!r} is there {times} times"
        if name in asked.keep:
            if name in taken:
                yield f"the column {name!r} cannot be kept: the answers have one of that name"
        elif name not in fields and name not in renamed and name != asked.hull:
            member = nearest(name, fields).get("nearest", "MEMBER")
            yield f"the column {name!r} is not known: --column {name}={member} says what it is, --keep {name} carries it along"


def _twice(served: Served, used: Sequence[tuple[str, str]]) -> Iterator[str]:
    by_member: dict[str, list[str]] = {}
    for member, name in used:
        by_member.setdefault(member, []).append(name)
    for member, names in by_member.items():
        if member in served.request.fields and len(set(names)) > 1:
            yield f"{' and '.join(map(repr, names))} are both {member}"


def _missing(served: Served, asked: Asked, names: Sequence[str], members: Mapping[str, str]) -> Iterator[str]:
    for member, field in served.request.fields.items():
        if field.required and member not in members:
            yield f"no column is {member}, which every row needs: --column NAME={member} says which one is"
    if asked.hull is not None and asked.hull not in names:
        yield f"no column is called {asked.hull!r}: --hull-column names the one that tells the hull, --no-hulls does without"


def assumable(served: Served) -> Sequence[str]:
    """Return the members of a request in whose absence the calculation takes a value of its own, plain defaults left out."""
    return [name for name in dict.fromkeys(told.field for told in served.offered.assumed) if name in served.request.fields]


def unused(asked: Asked, names: set[str]) -> list[str]:
    """Return the columns that were asked for and that no input has: misspelt, most likely."""
    return [name for name in (*dict(asked.renamed), *asked.keep) if name not in names]
