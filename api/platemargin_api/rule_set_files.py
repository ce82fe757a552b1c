"""An operator's own rule sets: TOML files in a folder, read at the start, or it is told which file is wrong, where and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from platemargin.errors import RuleSetError
from platemargin.reference import Reference
from platemargin.rules import QUANTITIES, MinimumContent, Rule, RuleSet
from platemargin.zones import EXPOSURES
from platemargin_api.fields import Choice, Flag, Integer, List, Member, Number, Object, Rows, Text
from platemargin_api.toml_files import FileError, loaded

__all__ = ["read_rule_sets"]


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
    FileError
        For a folder that is none or holds no such file, and a file that is not TOML, does not say what a rule set says, or has
        another name than its id.
    """
    files = sorted(folder.glob("*.toml")) if folder.is_dir() else []
    if not files:
        raise FileError(f"{folder}: it is no folder that holds a file called ID.toml")
    for file in files:
        yield file.name, _rule_set(file)


def _rule_set(file: Path) -> RuleSet:
    try:
        made = _made(loaded(file, _FILE))
    except RuleSetError as error:
        raise FileError(f"{file.name}: {error}") from error
    if made.id != file.stem:
        raise FileError(f"{file.name}: id: it is {made.id!r}: call the file {made.id}.toml, or give it the file's name")
    return made


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
