"""Prints, by calculation, a digest of the answers to every vector: whole answers, byte for byte.

    answered.py VECTORS [backwards]

Backwards, the last request of the last calculation is answered first: what was asked before must not matter.
"""

import hashlib
import json
import sys
from pathlib import Path

from platemargin_api.answer import encoded
from platemargin_api.body import dump
from platemargin_api.problems import ProblemError
from platemargin_api.registry import load_registry


def content(served, registry, request):
    """Return the bytes of an answer, or of what a request is refused for."""
    try:
        return encoded(served, registry, dump(request), minimal=True)
    except ProblemError as error:
        return dump([error.kind.name, error.errors])


def main(folder, *, backwards):
    """Print the digests as JSON, in the order of the vectors."""
    order = reversed if backwards else list
    registry = load_registry()
    digests = {}
    for name in order(list(registry.calculations)):
        lines = (folder / f"{name}.ndjson").read_bytes().splitlines()
        answers = [content(registry.calculations[name], registry, json.loads(line)["request"]) for line in order(lines)]
        digests[name] = [hashlib.sha256(answer).hexdigest() for answer in order(answers)]
    sys.stdout.write(json.dumps({name: list(told) for name, told in digests.items()}, sort_keys=True))


if __name__ == "__main__":
    main(Path(sys.argv[1]), backwards="backwards" in sys.argv[2:])
