"""An operator's own rule sets: TOML files in a folder, read at the start, or it is told which file is wrong, where and why."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import marshmallow as ma

from platemargin.errors import RuleSetError
from platemargin.reference import Reference
from platemargin.rules import QUANTITIES, MinimumContent, Rule, RuleSet
from platemargin.zones import EXPOSURES
from platemargin_api.fields import Choice, Flag, Integer, List, Member, Number, Object, Rows, Text
from platemargin_api.problems import invalid_request

__all__ = ["RuleSetFileError", "read_rule_sets"]

#: More than this [byte] is no rule set; it is not read.
_MOST_BYTES = 1024 * 1024
#: So many faults of a file are told at once.
_MOST_TOLD = 5


class RuleSetFileError(RuntimeError):
    """A file that the service refuses to start with; the message names it, the key and the reason."""


def _name(description: str, **kwargs: Any) -> Text:
    return Text(1, 80, pattern=r"\S", says="must not be blank", description=description, **kwargs)


def _zones(description: str) -> List:
    return List(Text(1, 40, pattern=r"\S", says="must not be blank", description="A zone."), 1, 50, description=description)


class RuleInFile(Member):
    """One limit: exactly one of at_least and at_most, in the quantity's unit."""

    id = _name("The rule's name.", required=True)
    quantity = Choice(tuple(QUANTITIES), description="What it limits.", required=True)
    at_least = Number("as quantity", 0, 200, description="The least that it accepts.")
    at_most = Number("as quantity", 0, 200, description="The most that it accepts.")
    severity = Choice(("watch", "act"), description="What breaking it calls for.", required=True)
    statement = Text(1, 500, description="What it means, in a sentence.", required=True)
    reference = _name("The id of one of the references.", required=True)
    exposures = List(
        Choice(EXPOSURES, description="Where plate stands towards the water."), 1, 5, description="Where it applies."
    )
    zones = _zones("Zones that it applies to; absent = all.")
    original_at_least_mm = Number("mm", 0.5, 40, description="Only plate that was so thick at least.")
    original_at_most_mm = Number("mm", 0.5, 40, description="Only plate that was so thick at most.")


class ReferenceInFile(Member):
    """Where limits come from."""

    id = _name("What rules cite it by.", required=True)
    title = Text(1, 500, description="What it is.", required=True)
    year = Integer(1800, 2199, description="Its year; absent = it has none.")
    clause = Text(1, 500, description="Where in it.", required=True)
    basis = Choice(("published", "from_memory", "common_practice"), description="How the figures are known.", required=True)


class MinimumContentInFile(Member):
    """What a survey has to contain before the set lets it pass."""

    zones = _zones("Zones that have to be read.")
    both_sides = Flag(description="Whether both sides have to be read.")
    readings_per_zone = Integer(1, 20_000, description="Readings that each zone has to have.")
    inside_seen = Flag(description="Whether the plate has to be seen from inside.")


class RuleSetInFile(Member):
    """A named, versioned list of rules, with the sources that they cite."""

    id = _name("Its id, in kebab-case: the file's own name.", required=True)
    version = _name("Its version, such as 1.0.0.", required=True)
    title = Text(1, 500, description="What it is.", required=True)
    rules = Rows(RuleInFile, 1, 500, description="Its rules.", required=True)
    references = Rows(ReferenceInFile, 1, 500, description="The sources that they cite.", required=True)
    materials = List(_name("A material of the shell."), 1, 10, description="Hulls that it is of; absent = steel.")
    minimum_content = Object(MinimumContentInFile, description="What a survey has to contain before it passes.")
    may_clear = Flag(description="Whether keeping its limits passes plate; absent = it does.")


_FILE = RuleSetInFile()


def read_rule_sets(folder: Path) -> Iterator[tuple[str, RuleSet]]:
    """Yield the rule set of each ``*.toml`` in a folder, with the file's name, in the order of the names.

    Raises
    ------
    RuleSetFileError
        For a folder that is none or holds no such file, and a file that is not TOML, does not say what a rule set says, or has
        another name than its id.
    """
    files = sorted(folder.glob("*.toml")) if folder.is_dir() else []
    if not files:
        raise RuleSetFileError(f"{folder}: it is no folder that holds a file called ID.toml")
    for file in files:
        yield file.name, _rule_set(file)


def _rule_set(file: Path) -> RuleSet:
    try:
        members = _FILE.load(_content(file))
        made = _made(members)
    except ma.ValidationError as error:
        problem = invalid_request(error.messages, _FILE)
        raise RuleSetFileError(f"{file.name}: {_worded(problem.errors)}") from error
    except RuleSetError as error:
        raise RuleSetFileError(f"{file.name}: {error}") from error
    if made.id != file.stem:
        raise RuleSetFileError(f"{file.name}: id: it is {made.id!r}: call the file {made.id}.toml, or give it the file's name")
    return made


def _content(file: Path) -> dict[str, Any]:
    """Return what a file says."""
    try:
        if file.stat().st_size > _MOST_BYTES:
            raise RuleSetFileError(f"{file.name}: it is larger than {_MOST_BYTES} bytes: that is no rule set")
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RuleSetFileError(f"{file.name}: it is not TOML 1.0 in UTF-8: {error}") from error
    except OSError as error:
        raise RuleSetFileError(f"{file.name}: it cannot be read: {error.strerror}") from error


def _made(members: Mapping[str, Any]) -> RuleSet:
    """Return the rule set of what a file says; arrays are tuples, and what it does not say is as the record has it."""
    said = _said(members)
    rules = tuple(Rule(**_said(rule)) for rule in said.pop("rules"))
    references = tuple(Reference(**{"year": None, **_said(reference)}) for reference in said.pop("references"))
    content = said.pop("minimum_content", None)
    return RuleSet(
        rules=rules,
        references=references,
        minimum_content=None if content is None else MinimumContent(**_said(content)),
        **said,
    )


def _said(members: Mapping[str, Any]) -> dict[str, Any]:
    return {name: tuple(value) if isinstance(value, list) else value for name, value in members.items() if value is not None}


def _worded(faults: Sequence[Mapping[str, Any]]) -> str:
    """Return the first faults, each with its key as TOML writes it."""
    told = "; ".join(map(_one_worded, faults[:_MOST_TOLD]))
    return told if len(faults) <= _MOST_TOLD else f"{told} ({len(faults)} faults in all)"


def _one_worded(fault: Mapping[str, Any]) -> str:
    key = re.sub(r"/([0-9]+)", r"[\1]", fault["pointer"]).replace("/", ".").lstrip(".")
    near = f" (is {fault['nearest']!r} meant?)" if "nearest" in fault else ""
    return f"{key or 'the file'}: {fault['detail']}{near}"
