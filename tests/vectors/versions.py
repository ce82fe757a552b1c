"""What a changed answer asks of its calculation's version (README.md, "Calling it for years"), and whether that was raised.

`openapi/vectors/versions.json` tells at which version of its calculation each file was written, and which version and digest
each rule set that ships had then. Answers are compared as they are served: rounded, so that no processor's last bit is in them.
"""

import json
from enum import IntEnum

from platemargin_api.body import dump

FILE = "versions.json"


class Change(IntEnum):
    """What became of an answer to the same request, and the part of the version that tells so."""

    NONE = 0
    PATCH = 1  # words alone
    MINOR = 2  # more members, a note more, an answer where there was a refusal
    MAJOR = 3  # a number, a verdict, a name, a null, a finding that calls for something


WHAT = {
    Change.PATCH: "words changed",
    Change.MINOR: "something was added",
    Change.MAJOR: "a number, a verdict or a finding changed",
}


def of_line(before, after):
    """Return what changed from one vector to another of the same request."""
    if before["status"] != after["status"]:
        return Change.MINOR if after["status"] == 200 else Change.MAJOR
    if before["status"] != 200:
        same_problem = before["problem"] == after["problem"]
        return of_list(before["errors"], after["errors"], may_come=lambda _: True) if same_problem else Change.MAJOR
    findings = of_list(before["findings"], after["findings"], may_come=lambda found: found["severity"] == "note")
    return max(of_value(before["result"], after["result"]), findings)


def of_list(before, after, *, may_come):
    """Return what changed in a list that may grow by what `may_come` says; order tells."""
    rest, come = iter(after), []
    for each in before:
        for place in rest:
            if place == each:
                break
            come.append(place)
        else:
            return Change.MAJOR
    come += rest
    if not come:
        return Change.NONE
    return Change.MINOR if all(map(may_come, come)) else Change.MAJOR


def of_value(before, after):
    """Return what changed in a result, or in a part of one."""
    if dump(before) == dump(after):
        return Change.NONE
    if isinstance(before, dict) and isinstance(after, dict) and before.keys() <= after.keys():
        grown = Change.MINOR if after.keys() - before.keys() else Change.NONE
        return max([grown, *(of_value(value, after[name]) for name, value in before.items())])
    if isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        return max(map(of_value, before, after))
    # Sentences have spaces; what is read by machine has none.
    words = all(isinstance(value, str) and " " in value for value in (before, after))
    return Change.PATCH if words else Change.MAJOR


def raised(before, after):
    """Return which part of a version was raised, or None where it was lowered."""
    old, new = (tuple(map(int, version.split("."))) for version in (before, after))
    if new < old:
        return None
    return next((Change(3 - place) for place in range(3) if old[place] != new[place]), Change.NONE)


def next_version(version, change):
    """Return a version with the part raised that tells of a change."""
    parts = [int(part) for part in version.split(".")]
    place = Change.MAJOR - change
    return ".".join(map(str, [*parts[:place], parts[place] + 1, *[0] * (2 - place)]))


def missing(name, before, after, changes):
    """Yield what is wrong with a version, given the changes by the name of their vector."""
    needed = max(changes.values(), default=Change.NONE)
    given = raised(before, after)
    if given is None:
        yield f"{name}: its version went from {before} back to {after}"
    elif given < needed:
        which = [vector for vector, change in changes.items() if change == needed]
        yield (
            f"{name} answers {len(which)} of its vectors otherwise than {before} did ({WHAT[needed]}; the first: {which[0]!r})"
            f": raise its version to {next_version(before, needed)}, or mend what changed them"
        )


def read(folder):
    """Return what the vectors in a folder were written at; nothing in a new one."""
    path = folder / FILE
    return json.loads(path.read_bytes()) if path.exists() else {"calculations": {}, "rule_sets": {}}


def current(registry):
    """Return the same of what is served now."""
    rule_sets = {name: plugin.offered for name, plugin in registry.rule_sets.items()}
    return {
        "calculations": {name: served.offered.version for name, served in sorted(registry.calculations.items())},
        "rule_sets": {name: {"version": one.version, "digest": one.digest} for name, one in sorted(rule_sets.items())},
    }


def refusals(folder, registry, answered):
    """Yield why the vectors in a folder may not be written anew: versions that were not raised though answers changed.

    `answered` returns the line of a calculation for a name and a request.
    """
    before, now = read(folder), current(registry)
    for name in sorted(before["calculations"].keys() & now["calculations"].keys()):
        path = folder / f"{name}.ndjson"
        if path.exists():
            changes = changes_of(path.read_bytes(), lambda line, name=name: answered(name, line["name"], line["request"]))
            yield from missing(name, before["calculations"][name], now["calculations"][name], changes)
        else:
            yield f"{name}: {path.name} is gone, by which its answers are held to its version: bring it back"
    for name in sorted(before["rule_sets"].keys() & now["rule_sets"].keys()):
        old, new = before["rule_sets"][name], now["rule_sets"][name]
        if old["digest"] != new["digest"] and old["version"] == new["version"]:
            yield f"the rule set {name} is another than its version {old['version']} was: raise it (README.md, Versions)"


def changes_of(content, answered):
    """Return by the name of each vector in a file how the request in it is answered now."""
    lines = map(json.loads, content.splitlines())
    return {line["name"]: of_line(line, answered(line)) for line in lines}
