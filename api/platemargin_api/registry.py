"""Entry points become an immutable mapping, or the service does not start and says whose plug-in is wrong, and why."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from importlib import metadata
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from types import MappingProxyType
from typing import Any, Generic, TypeVar

import marshmallow as ma

from platemargin.declared import filling
from platemargin.rules import RuleSet
from platemargin_api.calculation import GROUP, Calculation
from platemargin_api.fields import LABEL, List, Object, Rows, RuleSets
from platemargin_api.one_row.derived import OneRow, one_row
from platemargin_api.reader import Reader, derived
from platemargin_api.rule_set_files import read_rule_sets
from platemargin_api.settings import Settings
from platemargin_api.toml_files import FileError
from platemargin_api.unchanging import Defaults, Unchanging, defaults_of, unchanging
from platemargin_api.working import Working
from platemargin_api.writer import Writer, compiled

__all__ = [
    "RULE_SET_GROUP",
    "Distribution",
    "Plugin",
    "Registry",
    "RegistryError",
    "Served",
    "load_registry",
    "malformed",
    "operators_registry",
    "refusal",
    "schemas_in",
]

#: The entry-point group of rule sets.
RULE_SET_GROUP = "platemargin.rule_sets"

_ID = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_VERSION = re.compile(r"[0-9]+\.[0-9]+\.[0-9]+")

T = TypeVar("T", Calculation, RuleSet)


class RegistryError(RuntimeError):
    """A plug-in that the service refuses to start with; the message names its distribution and the reason."""


@dataclass(frozen=True)
class Distribution:
    """The package that a plug-in came in."""

    name: str
    version: str


@dataclass(frozen=True)
class Plugin(Generic[T]):
    """What was offered, and by whom."""

    offered: T
    distribution: Distribution


class Served(Plugin[Calculation]):
    """A calculation with what is made of it once."""

    @cached_property
    def named(self) -> str:
        """What a failure of it is told with: the calculation, and whose it is."""
        by = self.distribution
        return f"The calculation {self.offered.id} {self.offered.version} of the package {by.name} {by.version}"

    def run(self, arguments: Mapping[str, Any]) -> Any:
        """Make the calculation; what it would change of its columns, or end the service with, is an error of its own.

        Raises
        ------
        NotApplicableError
            For relations between arguments that do not hold; anything else is the calculation's fault.
        """
        if self.offered.elementwise:
            for column in arguments.values():
                column.flags.writeable = False
        try:
            return self.offered.run(**arguments)
        except SystemExit as error:
            raise RuntimeError("it tried to end the process") from error

    @cached_property
    def request(self) -> ma.Schema:
        """The request schema's instance."""
        return self.offered.request()

    @cached_property
    def response(self) -> ma.Schema:
        """The response schema's instance."""
        return self.offered.response()

    @cached_property
    def read(self) -> Reader | None:
        """The request's quick way in; None where its schema does more than its fields declare."""
        return derived(self.request)

    @cached_property
    def write(self) -> Writer:
        """The response's writer."""
        return compiled(self.response)

    def in_columns(self) -> Served:
        """Return the same without a way of its own for one row."""
        alone = Served(self.offered, self.distribution)
        alone.__dict__["one_row"] = None
        return alone

    @cached_property
    def one_row(self) -> OneRow | None:
        """An elementwise calculation of one row, without columns; None where it cannot be derived."""
        return one_row(self.offered, self.request, self.arguments) if self.offered.elementwise else None

    @cached_property
    def arguments(self) -> Mapping[str, Any]:
        """The request's members that are arguments of the calculation: all but the label."""
        return {name: field for name, field in self.request.fields.items() if name != LABEL}

    @cached_property
    def rule_set_fields(self) -> tuple[RuleSets, ...]:
        """The request's members that name rule sets."""
        return tuple(field for field in self.request.fields.values() if isinstance(field, RuleSets))

    @cached_property
    def typed(self) -> Mapping[str, Rows]:
        """The request's members that hold rows, by the name under which these may come as a table that was typed."""
        rows = (field for field in self.request.fields.values() if isinstance(field, Rows))
        return {field.typed_as: field for field in rows if field.typed_as is not None}

    @cached_property
    def defaults(self) -> Defaults:
        """What is told of each default that a request used."""
        return defaults_of(self.request)

    @cached_property
    def unchanging(self) -> Unchanging:
        """What never changes in an answer."""
        return unchanging(self.offered, self.distribution)

    @cached_property
    def encoded(self) -> Unchanging:
        """The same, encoded."""
        return self.unchanging.encoded()

    @cached_property
    def working(self) -> Working:
        """The lines of working of its answers."""
        return Working(self.offered.working)

    @cached_property
    def write_rows(self) -> Callable[[Any], list[dict[str, Any]]]:
        """The writer of an elementwise calculation's result of many rows."""
        return Object(self.offered.response, description="A row's result.").rows


@dataclass(frozen=True)
class Registry:
    """What the service serves; it does not change after the start."""

    calculations: Mapping[str, Served]
    rule_sets: Mapping[str, Plugin[RuleSet]]


def load_registry(
    calculations: Iterable[EntryPoint] | None = None,
    rule_sets: Iterable[EntryPoint] | None = None,
    rule_set_folder: Path | None = None,
) -> Registry:
    """Load every plug-in that is installed, or those given, and the rule sets in a folder's files.

    Raises
    ------
    RegistryError
        For a plug-in that cannot be imported, is of a wrong type, has an id that is not its entry point's name, an id or a
        schema name that another one has, an id or version of a wrong form, or a template that cannot be filled; for a file that
        tells no rule set.
    """
    found = _load(calculations, GROUP, Calculation, Served)
    _refuse_shared_schema_names(found)
    for served in found.values():
        try:
            _ = [filling(template) for template in _templates(served.offered)]
        except ValueError as error:
            raise refusal(served, str(error)) from error
        # Made now, before a worker is forked.
        _ = served.read, served.write, served.defaults, served.encoded, served.working, served.one_row
    sets = _load(rule_sets, RULE_SET_GROUP, RuleSet, Plugin)
    if rule_set_folder is not None:
        sets |= _in_files(rule_set_folder, sets)
    return Registry(calculations=MappingProxyType(found), rule_sets=MappingProxyType(sets))


def _templates(offered: Calculation) -> Iterable[str]:
    yield from (step.substituted for step in offered.working)
    yield from (finding.statement for finding in offered.findings)
    yield from (fault.message for fault in offered.faults)


def operators_registry(settings: Settings) -> Registry:
    """Return every plug-in that is installed, and the rule sets that the operator has in files; see `load_registry`.

    They are loaded once for the process: the start asks for them more than once.
    """
    return _loaded_once(settings.rule_set_folder)


@cache
def _loaded_once(rule_set_folder: Path | None) -> Registry:
    return load_registry(rule_set_folder=rule_set_folder)


def _load(points: Iterable[EntryPoint] | None, group: str, kind: type[T], made: Callable[[Any, Any], Any]) -> dict[str, Any]:
    loaded: dict[str, Any] = {}
    # Built-ins first, then by name: the catalogue's order does not depend on the order of installation.
    for point in sorted(entry_points(group=group) if points is None else points, key=_order):
        distribution = _distribution(point)
        offered = _offered(point, distribution, group, kind)
        if offered.id in loaded:
            other = loaded[offered.id].distribution.name
            raise _error(distribution, group, point, f"the id {offered.id!r} is already taken by {other}")
        loaded[offered.id] = made(offered, distribution)
    return loaded


def _in_files(folder: Path, taken: Mapping[str, Plugin[RuleSet]]) -> dict[str, Plugin[RuleSet]]:
    """Return the rule sets of a folder; a file's distribution is the file itself, in the version of its content."""
    try:
        found = dict(read_rule_sets(folder))
    except FileError as error:
        raise RegistryError(f"PLATEMARGIN_RULE_SETS: {error}") from error
    for name, offered in found.items():
        wrong = malformed(offered)
        if offered.id in taken:
            wrong = f"the id {offered.id!r} is already taken by {taken[offered.id].distribution.name}"
        if wrong:
            raise RegistryError(f"PLATEMARGIN_RULE_SETS: {name}: {wrong}")
    return {offered.id: Plugin(offered, Distribution(name, offered.version)) for name, offered in found.items()}


def _order(point: EntryPoint) -> tuple[bool, str, str]:
    name = _distribution(point).name
    return name != "platemargin", point.name, name


def _distribution(point: EntryPoint) -> Distribution:
    return Distribution("(no distribution)", "0") if point.dist is None else _named(point.dist)


# What a distribution says of itself is read from its file whenever it is asked.
@cache
def _named(distribution: metadata.Distribution) -> Distribution:
    return Distribution(distribution.name, distribution.version)


def _offered(point: EntryPoint, distribution: Distribution, group: str, kind: type[T]) -> T:
    try:
        offered = point.load()
    except Exception as error:
        raise _error(distribution, group, point, f"it cannot be imported: {type(error).__name__}: {error}") from error
    if not isinstance(offered, kind):
        reason = f"{point.value} is a {type(offered).__name__}, not a {kind.__name__}"
        raise _error(distribution, group, point, reason)
    if offered.id != point.name:
        raise _error(distribution, group, point, f"its id is {offered.id!r}, its entry point's name is not")
    if wrong := malformed(offered):
        raise _error(distribution, group, point, wrong)
    return offered


def malformed(offered: Calculation | RuleSet) -> str | None:
    """Return what is wrong with the form of an id, a version or a schema; None where nothing is."""
    if not _ID.fullmatch(str(offered.id)):
        return f"the id {offered.id!r} is not in kebab-case"
    if not _VERSION.fullmatch(str(offered.version)):
        return f"the version {offered.version!r} is not of the form 1.2.3"
    for which in ("request", "response") if isinstance(offered, Calculation) else ():
        schema = getattr(offered, which)
        if not (isinstance(schema, type) and issubclass(schema, ma.Schema)):
            return f"its {which} is not a class of marshmallow schema"
    return None


def _error(distribution: Distribution, group: str, point: EntryPoint, reason: str) -> RegistryError:
    return RegistryError(f"{distribution.name} {distribution.version}: {group} {point.name!r}: {reason}")


def _refuse_shared_schema_names(found: Mapping[str, Served]) -> None:
    owners: dict[str, tuple[type[ma.Schema], Served]] = {}
    for served in found.values():
        for schema in (*schemas_in(served.request), *schemas_in(served.response)):
            known, owner = owners.setdefault(schema.__name__, (schema, served))
            if known is not schema:
                raise refusal(
                    served,
                    f"its schema {schema.__name__} has the name of another one, of {owner.offered.id!r} from "
                    f"{owner.distribution.name}",
                )


def refusal(served: Served, reason: str) -> RegistryError:
    """Return the error that names a calculation, who offers it, and why the service does not start with it."""
    by = served.distribution
    return RegistryError(f"{by.name} {by.version}: {GROUP} {served.offered.id!r}: {reason}")


def schemas_in(schema: ma.Schema) -> Iterable[type[ma.Schema]]:
    """Return the class of a schema and of each schema within it."""
    yield type(schema)
    for field in schema.fields.values():
        inner: Any = field
        while isinstance(inner, List):
            inner = inner.inner
        if isinstance(inner, Object):
            yield from schemas_in(inner.schema)
