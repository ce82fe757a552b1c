"""Fields of a request or a response: JSON types only, bounds on everything, rounding as declared, faults as data.

A plug-in's schemas use these. Every fault raised here is a `Wrong`: a code, words that tell a person what to change, and
what is allowed. The same field reads a request, writes a response, and turns a column of many rows either way.
"""

from __future__ import annotations

import math
import re
from abc import abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum
from functools import cache
from typing import Any

import marshmallow as ma
import numpy as np
from marshmallow import validate
from marshmallow.exceptions import ValidationError
from marshmallow.experimental.context import Context

from platemargin.quantities import DECIMALS, FIGURES, Array, Floats, one_rounded, one_to_decimals, rounded, to_decimals
from platemargin_api.wording import came, number_hint, within

__all__ = [
    "LABEL",
    "Between",
    "Choice",
    "Day",
    "Flag",
    "Integer",
    "Length",
    "List",
    "Member",
    "Number",
    "Object",
    "OneOf",
    "Pattern",
    "Request",
    "Response",
    "Rows",
    "RuleSets",
    "Text",
    "Wrong",
]

#: The label that every request may carry; it is echoed and is no argument of the calculation.
LABEL = "id"

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True)
class Wrong:
    """One fault of a request: what is wrong in code and words, what is allowed, and what may be a misspelt name of that."""

    code: str
    detail: str
    allowed: Mapping[str, Any] = field(default_factory=dict)
    misspelt: str | None = None


@cache
def _objects_of(names: tuple[str, ...]) -> Callable[[Sequence[Sequence[Any]]], list[dict[str, Any]]]:
    """Return a function from a column of each name to objects: a literal is made several times as fast as `dict(zip())`."""
    values = [f"value{number}" for number in range(len(names))]
    literal = ", ".join(f"{name!r}: {value}" for name, value in zip(names, values, strict=True))
    text = f"lambda columns: [{{{literal}}} for {', '.join(values)}, in zip(*columns, strict=True)]"
    made: Callable[[Sequence[Sequence[Any]]], list[dict[str, Any]]] = eval(text)  # noqa: S307  of names as they are quoted
    return made


def _single(value: Any) -> Any:
    """Return the one value of an array of one, or of numpy's own; any other as it is."""
    return value.item() if isinstance(value, (np.ndarray, np.generic)) else value


def _wrong(code: str, detail: str, *, misspelt: str | None = None, **allowed: Any) -> ValidationError:
    return ValidationError([Wrong(code, detail, allowed, misspelt)])


class Member(ma.Schema):
    """The base of every object within a request: unknown members are refused."""

    class Meta:
        """An unknown member is a fault."""

        unknown = ma.RAISE

    # marshmallow passes a message on whatever its type, though it declares text.
    error_messages: dict[str, Any] = {  # noqa: RUF012
        "unknown": Wrong("unknown_field", "is not known here"),
        "type": Wrong("wrong_type", "must be an object, its members in braces"),
    }


class Response(ma.Schema):
    """The base of every response: every member is present, null only where its field says so; later versions may add some."""

    class Meta:
        """Who reads a response passes over a member that is new to them."""

        unknown = ma.EXCLUDE

    def on_bind_field(self, field_name: str, field_obj: ma.fields.Field[Any]) -> None:  # noqa: ARG002
        """Declare the member present."""
        field_obj.required = True
        field_obj.allow_none = bool(getattr(field_obj, "nullable", False))
        field_obj.dump_default = None


class _Own(ma.fields.Field[Any]):
    """What all fields here share: null is absence, and a fault says in the same words what the field takes."""

    def __init__(
        self,
        *of: Any,
        description: str,
        required: bool = False,
        default: Any = ma.missing,
        basis: str | None = None,
        nullable: bool = False,
        unit: str | None = None,
        validate: Any = None,
    ) -> None:
        metadata = {"description": description, "unit": unit, "basis": basis}
        super().__init__(
            *of,
            required=required,
            load_default=default,
            allow_none=nullable or not required,
            validate=validate,
            metadata={key: value for key, value in metadata.items() if value is not None},
        )
        self.nullable = nullable
        self.unit = unit

    def deserialize(self, value: Any, attr: str | None = None, data: Any = None, **kwargs: Any) -> Any:
        """Read a value; an explicit null is the same as absence."""
        if value is not None and value is not ma.missing:
            return super().deserialize(value, attr, data, **kwargs)
        # Most members of most rows are absent: no call is made for them. A list is the request's own to change.
        if not self.required:
            return self.load_default.copy() if isinstance(self.load_default, list) else self.load_default
        null = "; null is absence" if value is None else ""
        raise _wrong("missing", f"is required: {self.wanted}{null}")

    @property
    @abstractmethod
    def wanted(self) -> str:
        """What the field takes, in words."""

    def not_of_type(self, value: Any, **allowed: Any) -> ValidationError:
        """Return the fault of a value that is of another type."""
        return _wrong("wrong_type", f"must be {self.wanted}, not {came(value)}", **allowed)

    def _serialize(self, value: Any, *_: Any, **__: Any) -> Any:
        return self.value(value)

    def value(self, value: Any) -> Any:
        """Return one value of a result as it is written: as a column of one value would be.

        Most values of most results are not arrays, and are written without one.
        """
        return None if value is None else self.values(np.atleast_1d(np.asarray(value)))[0]

    def column(self, values: Sequence[Any]) -> Array:  # noqa: ARG002  fields that can be columns say how
        """Return loaded values of many rows as a column for `run`; None = absent."""
        raise TypeError(f"{type(self).__name__} cannot be a column of an elementwise calculation")

    def plain(self, value: Any) -> Any:
        """Return a loaded value as what a column of it holds."""
        held = self.column([value])[0]
        return held if held.dtype.kind in "mM" else held.item()

    def values(self, column: Array) -> list[Any]:
        """Return a column of a result as values to write, rounded as declared; absence becomes null."""
        return list(column.tolist())

    def rows(self, held: Any) -> list[Any]:
        """Return what a result of many rows holds of this member, row by row, as values to write."""
        return self.values(np.asarray(held))


class Number(_Own, ma.fields.Float):
    """A JSON number with a unit and bounds, written as its unit declares; a unit of one's own brings `decimals`."""

    def __init__(self, unit: str, minimum: float, maximum: float, *, decimals: int | None = None, **kwargs: Any) -> None:
        super().__init__(unit=unit, validate=Between(minimum, maximum, unit), **kwargs)
        if decimals is None and unit not in {**DECIMALS, **FIGURES}:
            raise ValueError(f"no decimals are declared for the unit {unit!r}: give decimals=")
        #: None where the unit is written with significant figures.
        self.decimals = DECIMALS.get(unit) if decimals is None else decimals

    @property
    def wanted(self) -> str:
        """A number within bounds."""
        return f"a number {_bounds(self)}"

    def not_of_type(self, value: Any, **allowed: Any) -> ValidationError:
        """Return the fault of what is no number; where it is one that came as text, how it is written."""
        hint = number_hint(value, str(self.unit)) if isinstance(value, str) else ""
        return _wrong("wrong_type", f"must be {self.wanted}, not {came(value)}{hint}", **allowed)

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.not_of_type(value)
        return float(value) + 0.0

    def column(self, values: Sequence[float | None]) -> Array:
        """Return a column of numbers; NaN = absent."""
        return np.array(values, dtype=np.float64)

    def plain(self, value: float | None) -> float:
        """Return a number; NaN = absent."""
        return math.nan if value is None else float(value)

    def values(self, column: Array) -> list[float | None]:
        """Return numbers rounded as declared; NaN becomes null where the field may be null, and is an error elsewhere."""
        numbers = np.asarray(column, dtype=np.float64)
        return self.told(rounded(numbers, str(self.unit)) if self.decimals is None else to_decimals(numbers, self.decimals))

    def told(self, written: Floats) -> list[float | None]:
        """Return rounded numbers as values to write."""
        finite = np.isfinite(written)
        if finite.all():
            return list(written.tolist())
        if not self.nullable or np.isinf(written).any():
            raise self._not_finite()
        return [value if ok else None for value, ok in zip(written.tolist(), finite.tolist(), strict=True)]

    def value(self, value: Any) -> float | None:
        """Return one number as it is written."""
        if value is None or (value != value and self.nullable):  # noqa: PLR0124  NaN
            return None
        if type(value) is float and self.decimals is not None and math.isfinite(value):
            return one_to_decimals(value, self.decimals)
        number = float(_single(value))
        written = one_rounded(number, str(self.unit)) if self.decimals is None else one_to_decimals(number, self.decimals)
        if math.isfinite(written):
            return written
        if not self.nullable or math.isinf(written):
            raise self._not_finite()
        return None

    def _not_finite(self) -> FloatingPointError:
        return FloatingPointError(f"{self.name} has no finite value")


class Integer(_Own, ma.fields.Integer):
    """A JSON number without a fraction; 4.0 is one. Without a unit it is a count."""

    def __init__(self, minimum: int, maximum: int, *, unit: str = "1", **kwargs: Any) -> None:
        super().__init__(unit=unit, validate=Between(minimum, maximum, unit), **kwargs)

    @property
    def wanted(self) -> str:
        """A whole number within bounds."""
        return f"a whole number {_bounds(self)}"

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not float(value).is_integer():
            raise self.not_of_type(value)
        return int(value)

    def column(self, values: Sequence[int | None]) -> Array:
        """Return a column of whole numbers; an elementwise calculation's have a default each."""
        return np.array(values, dtype=np.int64)

    def plain(self, value: int | None) -> int:
        """Return a whole number."""
        return int(value)  # type: ignore[arg-type]

    def value(self, value: Any) -> Any:
        """Return one whole number as it is written."""
        return value if type(value) is int else super().value(value)


class Flag(_Own, ma.fields.Boolean):
    """A JSON true or false; in a column 1, 0, or NaN where absent."""

    wanted = "true or false"

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> bool:
        if not isinstance(value, bool):
            raise self.not_of_type(value)
        return value

    def value(self, value: Any) -> Any:
        """Return true, false or null."""
        if type(value) is float:
            return None if value != value else bool(value)  # noqa: PLR0124  NaN
        return value if type(value) is bool else super().value(value)

    def values(self, column: Array) -> list[bool | None]:
        """Return true, false or null."""
        return [None if value != value else bool(value) for value in column.tolist()]  # noqa: PLR0124  NaN


class Text(_Own, ma.fields.String):
    """A JSON string of a bounded length."""

    def __init__(self, minimum: int, maximum: int, *, pattern: str | None = None, says: str = "", **kwargs: Any) -> None:
        validators: list[Any] = [Length(minimum, maximum)]
        if pattern is not None:
            validators.append(Pattern(pattern, says))
        super().__init__(validate=validators, **kwargs)

    @property
    def wanted(self) -> str:
        """Text of a length."""
        return f"text in quotation marks, {_bounds(self)}"

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> str:
        if not isinstance(value, str):
            raise self.not_of_type(value)
        return value

    def value(self, value: Any) -> Any:
        """Return one string as it is: an array of text would drop null characters from its end."""
        return self._text(value) if type(value) is str else super().value(value)

    def values(self, column: Array) -> list[str | None]:
        """Return strings; an empty one is null where the field may be null."""
        return [self._text(value) for value in column.tolist()]

    def _text(self, value: Any) -> str | None:
        return None if self.nullable and value == "" else value


class Choice(_Own, ma.fields.String):
    """One of some names; in a column of an elementwise calculation its place in the list, -1 = absent."""

    def __init__(self, names: Sequence[str] | type[IntEnum], **kwargs: Any) -> None:
        if isinstance(names, type):
            names = [member.name.lower() for member in names]
        self.names = tuple(names)
        super().__init__(validate=OneOf(self.names), **kwargs)

    @property
    def wanted(self) -> str:
        """One of the names."""
        return f"one of {', '.join(self.names)}"

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> str:
        if not isinstance(value, str):
            raise self.not_of_type(value, allowed=list(self.names))
        return value

    def column(self, values: Sequence[str | None]) -> Array:
        """Return the names' places in the list."""
        return np.array([self.plain(value) for value in values], dtype=np.int64)

    def plain(self, value: str | None) -> int:
        """Return a name's place in the list."""
        return -1 if value is None else self.names.index(value)

    def values(self, column: Array) -> list[str | None]:
        """Return names, from places in the list or from names."""
        if column.dtype.kind == "i":
            return [None if place == -1 else self.names[place] for place in column.tolist()]
        return [self._named(value) for value in column.tolist()]

    def value(self, value: Any) -> str | None:
        """Return one name."""
        return self._named(value if type(value) is int else _single(value))

    def _named(self, value: Any) -> str | None:
        if value in (None, "", -1):
            return None
        return self.names[value] if isinstance(value, int) else str(value)


class Day(_Own, ma.fields.Date):
    """A day of the calendar, written YYYY-MM-DD; in a column datetime64[D], NaT = absent."""

    wanted = "a day of the calendar, written YYYY-MM-DD"

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> date:
        wrong = _wrong("bad_format", f"must be {self.wanted}, not {came(value)}")
        if not isinstance(value, str) or not _DAY.fullmatch(value):
            raise wrong
        try:
            return date.fromisoformat(value)
        except ValueError:
            raise wrong from None

    def column(self, values: Sequence[date | None]) -> Array:
        """Return a column of days."""
        return np.array(values, dtype="datetime64[D]")

    def plain(self, value: date | None) -> date | None:
        """Return a day; None = absent."""
        return value

    def value(self, value: Any) -> Any:
        """Return one day as text, NaT as null."""
        if type(value) is date:
            return value.isoformat()
        if not isinstance(value, np.datetime64):
            return super().value(value)
        text = str(value.astype("datetime64[D]"))
        return None if text == "NaT" else text

    def values(self, column: Array) -> list[str | None]:
        """Return days as text, NaT as null."""
        return [None if value == "NaT" else value for value in np.datetime_as_string(column.astype("datetime64[D]"))]


class Object(_Own, ma.fields.Nested):
    """A member object; a result of many rows holds it as a dataclass of columns."""

    wanted = "an object, its members in braces"

    def __init__(self, schema: type[ma.Schema], **kwargs: Any) -> None:
        super().__init__(schema, **kwargs)

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> Any:
        return self.schema.load(value)

    def _serialize(self, value: Any, *_: Any, **__: Any) -> Any:  # type: ignore[override]
        return None if value is None else self.schema.dump(value)

    def rows(self, held: Any) -> list[dict[str, Any]]:
        """Return the objects, from the columns that are named as the members are."""
        fields: dict[str, Any] = self.schema.fields
        columns = {name: getattr(held, name) for name in fields}
        numbers = _numbers_told(fields, columns)
        told = [numbers[name] if name in numbers else field.rows(columns[name]) for name, field in fields.items()]
        return _objects_of(tuple(fields))(told)


def _numbers_told(fields: Mapping[str, Any], columns: Mapping[str, Any]) -> dict[str, list[float | None]]:
    """Return columns of numbers as values to write; those of as many decimals together, for numpy's cost is that of a call."""
    alike: dict[int, list[str]] = {}
    for name, column in columns.items():
        if type(fields[name]) is Number and fields[name].decimals is not None and isinstance(column, np.ndarray):
            alike.setdefault(fields[name].decimals, []).append(name)
    told: dict[str, list[float | None]] = {}
    for decimals, names in alike.items():
        written = to_decimals(np.array([columns[name] for name in names], dtype=np.float64), decimals)
        finite = np.isfinite(written).all()
        values = written.tolist() if finite else [fields[name].told(row) for name, row in zip(names, written, strict=True)]
        told |= zip(names, values, strict=True)
    return told


class List(_Own, ma.fields.List[Any]):
    """An array of a bounded length, of any field.

    Where it is a member of an elementwise result it has one length, and the result holds as many items, each with its columns:
    an item is a column, or a dataclass of columns where it is an object.
    """

    def __init__(self, inner: ma.fields.Field[Any], minimum: int, maximum: int, **kwargs: Any) -> None:
        super().__init__(inner, validate=Length(minimum, maximum, "items"), **kwargs)
        self.inner.allow_none = False

    @property
    def wanted(self) -> str:
        """An array of a length."""
        return f"an array in brackets, {_bounds(self)}"

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> list[Any]:
        if not isinstance(value, list):
            raise self.not_of_type(value)
        # A longer one is refused unread: the cost of a request is bounded by the schema.
        self._validate(value)
        return self._items(value)

    def _items(self, items: list[Any]) -> list[Any]:
        loaded: list[Any] = []
        faults: dict[int, Any] = {}
        for index, item in enumerate(items):
            try:
                loaded.append(self._item(item))
            except ValidationError as error:
                faults[index] = error.messages
        if faults:
            raise ValidationError(faults)
        return loaded

    def _item(self, item: Any) -> Any:
        if item is None:
            raise _wrong("null", "must not be null: leave the item out")
        return self.inner.deserialize(item)

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> Any:
        return None if value is None else [self.inner._serialize(item, attr, obj, **kwargs) for item in value]  # noqa: SLF001  as marshmallow's own List does

    def rows(self, held: Any) -> list[list[Any]]:
        """Return the arrays, from the columns of each item."""
        inner: Any = self.inner
        return [list(items) for items in zip(*(inner.rows(item) for item in held), strict=True)]


class Rows(List):
    """An array of objects of one schema; a result may hold it as a dataclass of columns.

    Of a request, `typed_as` names the member that may hold the rows in its place, as a table that was typed.
    """

    def __init__(
        self, schema: type[ma.Schema], minimum: int, maximum: int, *, typed_as: str | None = None, **kwargs: Any
    ) -> None:
        super().__init__(Object(schema, description=kwargs["description"]), minimum, maximum, **kwargs)
        self.typed_as = typed_as

    def _items(self, items: list[Any]) -> list[Any]:
        row: Object = self.inner  # type: ignore[assignment]
        return list(row.schema.load(items, many=True))

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> Any:
        if hasattr(value, "__dataclass_fields__"):
            names = list(self.inner.schema.fields)  # type: ignore[attr-defined]
            rows = zip(*(getattr(value, name) for name in names), strict=True)
            value = [dict(zip(names, row, strict=True)) for row in rows]
        return super()._serialize(value, attr, obj, **kwargs)


class RuleSets(List):
    """Ids of rule sets that the service knows; `run` gets the rule sets themselves.

    Where `unless` names another member that is sent, the default is none.
    """

    def __init__(self, *, default_ids: Sequence[str], unless: str, **kwargs: Any) -> None:
        self.default_ids = tuple(default_ids)
        self.unless = unless
        super().__init__(Text(1, 80, description="id of a rule set"), 0, 20, **kwargs)

    def ids(self, request: Mapping[str, Any]) -> list[str]:
        """Return the ids to apply to a loaded request."""
        chosen = request.get(str(self.name))
        if chosen is not None:
            return list(dict.fromkeys(chosen))
        return [] if request.get(self.unless) else list(self.default_ids)

    def _item(self, item: Any) -> Any:
        name = super()._item(item)
        known = _known_rule_sets()
        if name not in known:
            detail = f"must be one of {', '.join(known)}, the rule sets of this service, not {came(name)}"
            raise _wrong("not_one_of", detail, misspelt=name, allowed=list(known))
        return name


class KnownRuleSets(Context[tuple[str, ...]]):
    """The ids of the rule sets that the service loaded, while a request is read."""


def _known_rule_sets() -> tuple[str, ...]:
    return KnownRuleSets.get(())


def _bounds(field: ma.fields.Field[Any]) -> str:
    """Return the bounds of a field's value or of its length, in words."""
    return next(str(one) for one in field.validators if isinstance(one, (Between, Length)))


class Between(validate.Range):
    """Of a number in a unit; both bounds count."""

    def __init__(self, minimum: float, maximum: float, unit: str) -> None:
        super().__init__(minimum, maximum)
        self.unit = unit

    def __str__(self) -> str:
        return within(self.min, self.max, self.unit)

    def __call__(self, value: Any) -> Any:
        """Refuse what is out of range."""
        if not self.min <= value <= self.max:
            detail = f"must be {self}, not {came(value)}"
            raise _wrong("out_of_range", detail, minimum=self.min, maximum=self.max)
        return value


class Length(validate.Length):
    """Of a text in characters, of an array in items."""

    def __init__(self, minimum: int, maximum: int, things: str = "characters") -> None:
        super().__init__(min=minimum, max=maximum)
        self.things = things

    def __str__(self) -> str:
        return f"from {self.min} to {self.max} {self.things}"

    def __call__(self, value: Any) -> Any:
        """Refuse what is too short or too long."""
        if not self.min <= len(value) <= self.max:  # type: ignore[operator]
            code = "too_short" if len(value) < self.min else "too_long"  # type: ignore[operator]
            detail = f"must have {self}, not {len(value)}"
            raise _wrong(code, detail, minimum=self.min, maximum=self.max)
        return value


class Pattern(validate.Regexp):
    """A form that JSON Schema and Python read alike."""

    def __init__(self, pattern: str, says: str) -> None:
        super().__init__(pattern)
        # Python's $ also matches before a last line feed; JSON Schema's does not.
        self.exact = re.compile(re.sub(r"\$$", r"\\Z", pattern))
        self.says = says

    def __call__(self, value: Any) -> Any:
        """Refuse what is not of the form."""
        if not self.exact.search(value):
            # What came is not repeated: a key may stand where its hash should.
            raise _wrong("bad_format", self.says)
        return value


class OneOf(validate.OneOf):
    """One of some names."""

    def __call__(self, value: Any) -> Any:
        """Refuse what is none of the names."""
        if value not in self.choices:
            known = list(self.choices)
            detail = f"must be one of {', '.join(known)}, not {came(value)}"
            raise _wrong("not_one_of", detail, misspelt=value, allowed=known)
        return value


class Request(Member):
    """The base of every request: it may carry a label, which is echoed and is no argument of the calculation."""

    id = Text(1, 100, description="A label of the caller's own; it is echoed.")
