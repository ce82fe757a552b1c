"""What a survey report is made of: sections of paragraphs, lists and tables in words, whatever they are set in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

__all__ = [
    "Block",
    "Cell",
    "Column",
    "Facts",
    "Heading",
    "Item",
    "Items",
    "Map",
    "Paragraph",
    "Report",
    "Row",
    "Section",
    "Table",
]
__all__ += ["items", "row"]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Some sentences."""

    words: str
    kind: str = field(default="paragraph", init=False)


@dataclass(frozen=True, slots=True)
class Item:
    """An item of a list, and what it rests on."""

    words: str
    reasons: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    items: Sequence[Item]
    kind: str = field(default="items", init=False)


@dataclass(frozen=True, slots=True)
class Heading:
    """The heading of a part of a section."""

    id: str
    words: str
    kind: str = field(default="heading", init=False)


@dataclass(frozen=True, slots=True)
class Facts:
    """Names of things and what they are, in pairs."""

    pairs: Sequence[tuple[str, str]]
    kind: str = field(default="facts", init=False)


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    Its role says how it is set: "number" to the right, "mark" in the colour of its row, "code" as a formula, "name" narrow,
    "id" broken wherever it has to be; "" as words are. `share` is how much of the width it gets where the width is shared out.
    """

    head: str
    role: str = ""
    share: float = 1.0


@dataclass(frozen=True, slots=True)
class Cell:
    """Words in a table, and below them less important ones."""

    words: str
    small: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table: its cells, or one over all columns; how bad what it tells is, by code and then by size, least first."""

    cells: Sequence[Cell]
    code: str = ""
    size: float = 0.0


@dataclass(frozen=True, slots=True)
class Table:
    """A table; `otherwise` is said where it has no row."""

    named_by: str
    caption: str
    columns: Sequence[Column]
    rows: Sequence[Row]
    otherwise: str = "None."
    kind: str = field(default="table", init=False)


@dataclass(frozen=True, slots=True)
class Map:
    """The plate map, and what it shows for who cannot see it."""

    caption: str
    drawing: str
    description: str
    kind: str = field(default="map", init=False)


Block: TypeAlias = Paragraph | Items | Heading | Facts | Table | Map


@dataclass(frozen=True, slots=True)
class Section:
    """A section of the report."""

    id: str
    heading: str
    blocks: Sequence[Block]


@dataclass(frozen=True, slots=True)
class Report:
    """A whole report: the decision, and beside it what was not examined; then the sections.

    `notes` are on how it is set, where there is something to be said of that.
    """

    title: str
    kind: str
    name: str
    facts: Sequence[str]
    verdict: str
    verdict_words: str
    decision: str
    missing: Sequence[str]
    sections: Sequence[Section]
    foot: str
    notes: Sequence[str] = ()


def items(told: Iterable[str]) -> Items:
    """Return sentences as a list."""
    return Items([Item(words) for words in told])


def row(*cells: str | Cell, code: str = "", size: float = 0.0) -> Row:
    """Return a row of words and cells."""
    return Row([cell if isinstance(cell, Cell) else Cell(cell) for cell in cells], code, size)
