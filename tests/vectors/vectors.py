"""Writes a file of requests and their answers for each calculation, by which a port in another language can be proved.

    vectors.py FOLDER

Requests are the calculation's example; the example with one member at a time left out, at a bound, beyond it, or with
another name of its list; the spread of tests/api/test_answer.py, which reaches every declared finding; the table of
tests/contract/test_bad_requests.py, which reaches every declared fault; and the surveys of the demo and of the recipes. Nothing
is drawn by chance: a run is like the last. Where an answer changed and its version did not tell so, nothing is written.
"""

import copy
import importlib.util
import json
import re
import sys
from functools import partial
from itertools import accumulate
from pathlib import Path

import orjson

from platemargin.quantities import FIGURES
from platemargin_api.answer import answer
from platemargin_api.body import dump
from platemargin_api.declarations import limits
from platemargin_api.fields import Choice, Integer, List, Number, Object
from platemargin_api.problems import ProblemError
from platemargin_api.registry import load_registry

TESTS = Path(__file__).parents[1]
#: Files stay small enough to be kept with a port's tests: the shortest lines up to so much in all, then those that show the
#: most codes that no other shows; none longer than the second.
FILE_BYTES, LINE_BYTES = 280_000, 50_000
#: Whole surveys of invented boats, which are kept however long they are.
SURVEYS = (TESTS.parent / "api/platemargin_api/demo/survey.json", *sorted((TESTS / "recipes/surveys").glob("*.json")))
SURVEY = "whole survey: "


def loaded(path):
    """Return a module of the tests, which are files and no packages."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def requests_of(registry):
    """Return by calculation the requests by name, each once."""
    spread, bad = loaded(TESTS / "api/test_answer.py"), loaded(TESTS / "contract/test_bad_requests.py")
    named = {name: {} for name in registry.calculations}
    for name, served in registry.calculations.items():
        example = dict(served.offered.example)
        named[name] |= {"example": example, **dict(neighbours(served.request, example, ()))}
    for each in spread.REQUESTS:
        calculation, request = each.values
        named[calculation].setdefault(f"spread: {each.id.removeprefix(f'{calculation}-')}", request)
    for row in bad.TABLE:
        calculation = row.path.rsplit("/", 1)[1]
        if row.status == 422 and isinstance(row.body, dict):
            named[calculation].setdefault(row.name.removeprefix(f"{calculation}: "), row.body)
    named["hull-survey"] |= {f"{SURVEY}{path.stem}": json.loads(path.read_bytes()) for path in SURVEYS}
    return {calculation: _each_once(requests) for calculation, requests in named.items()}


def _each_once(requests):
    names = {}
    for name, request in requests.items():
        text = json.dumps(request)
        # Not every reader of JSON takes whole numbers of more than 64 bits.
        if not re.search("[0-9]{20}", text):
            names.setdefault(text, name)
    return {name: requests[name] for name in names.values()}


def neighbours(schema, request, path):
    """Yield a request with one member changed, by what was changed: of the whole, and of the first of each list within it.

    `schema` is that of the object that `path` leads to.
    """
    held = _at(request, path)
    for name, field in schema.fields.items():
        words = "/".join(map(str, (*path, name)))
        if name in held:
            yield f"without {words}", _changed(request, path, name)
        for value in _values(field, between=not path):
            yield f"{words} = {json.dumps(value)}", _changed(request, path, name, value)
        inner, at = (field.inner, (*path, name, 0)) if isinstance(field, List) else (field, (*path, name))
        if isinstance(inner, Object) and held.get(name):
            yield from neighbours(inner.schema, request, at)


def _values(field, *, between):
    if isinstance(field, Choice):
        return field.names
    if isinstance(field, List) and isinstance(field.inner, Choice):
        return [[name] for name in field.inner.names]
    if isinstance(field, (Number, Integer)):
        low, high = limits(field)
        part = low + (high - low) // 7 if isinstance(field, Integer) else low + (high - low) / 7
        return low - 1, low, *([part] if between else []), high, high + 1
    return ()


def _at(request, path):
    for part in path:
        request = request[part]
    return request


def _changed(request, path, name, *value):
    """Return a copy of a request in which a member has a value; without one it is left out."""
    changed = copy.deepcopy(request)
    held = _at(changed, path)
    if value:
        held[name] = value[0]
    else:
        del held[name]
    return changed


def line(served, registry, name, request):
    """Return a line: the request with its result, or with what it is refused for."""
    try:
        told = answer(served, registry, dump(request), minimal=True)
    except ProblemError as error:
        if error.kind.status != 422:  # unprocessable: what a port has to refuse as well
            raise
        errors = [{key: fault[key] for key in ("code", "pointer")} for fault in error.errors]
        return {"name": name, "request": request, "status": 422, "problem": error.kind.name, "errors": errors}
    findings = [{key: found[key] for key in ("code", "severity", "pointer") if key in found} for found in told["findings"]]
    return {
        "name": name,
        "request": request,
        "status": 200,
        "result": told["result"],
        "findings": findings,
        "tolerances": tolerances(served.response, told["result"]),
    }


def answered(registry, calculation, name, request):
    """Return a line of a calculation by its id."""
    return line(registry.calculations[calculation], registry, name, request)


def tolerances(schema, result):
    """Return what each number of a result may differ by, by its path without the places in lists.

    One unit in the last place that is written: two right ways of reckoning may fall on either side of a half, and be rounded
    apart. Where significant figures are written, that is at most so much of the number itself.
    """
    told = {"absolute": {}, "relative": {}}
    for path, field in _numbers(schema, result, ""):
        if isinstance(field, Integer):
            told["absolute"][path] = 0
        elif field.decimals is None:
            told["relative"][path] = 10.0 ** (1 - FIGURES[field.unit])
        else:
            told["absolute"][path] = 10.0**-field.decimals
    return {kind: of for kind, of in told.items() if of}


def _numbers(schema, held, path):
    """Yield the fields of the numbers that a result holds, with their paths."""
    for name, field in schema.fields.items():
        values = held[name] if isinstance(field, List) else [held[name]]
        inner = field.inner if isinstance(field, List) else field
        for value in values or ():
            if value is None:
                continue
            if isinstance(inner, Object):
                yield from _numbers(inner.schema, value, f"{path}{name}/")
            elif isinstance(inner, (Number, Integer)):
                yield f"{path}{name}", inner


def written(registry):
    """Yield the name of each file and its bytes."""
    for calculation, requests in requests_of(registry).items():
        served = registry.calculations[calculation]
        lines = [line(served, registry, name, request) for name, request in requests.items()]
        yield f"{calculation}.ndjson", b"".join(_kept(lines))


def _kept(lines):
    texts = [orjson.dumps(each, option=orjson.OPT_APPEND_NEWLINE) for each in lines]
    codes = [{told["code"] for told in each.get("findings", each.get("errors"))} for each in lines]
    by_length = sorted(range(len(lines)), key=lambda place: len(texts[place]))
    sizes = accumulate(len(texts[place]) for place in by_length)
    kept = {0, *(place for place, size in zip(by_length, sizes, strict=True) if size <= FILE_BYTES)}  # 0: the example
    kept |= {place for place, each in enumerate(lines) if each["name"].startswith(SURVEY)}
    long = [place for place in by_length if place not in kept and len(texts[place]) <= LINE_BYTES]
    seen = set().union(*(codes[place] for place in kept))
    while long and codes[best := max(long, key=lambda place: len(codes[place] - seen) / len(texts[place]))] - seen:
        kept.add(best)
        seen |= codes[best]
    return [text for place, text in enumerate(texts) if place in kept]


def main(folder):
    """Write the files anew, or tell which versions have to be raised first; one of a calculation that is there no more goes."""
    registry, versions = load_registry(), loaded(Path(__file__).with_name("versions.py"))
    refused = list(versions.refusals(folder, registry, partial(answered, registry)))
    if refused:
        sys.exit("\n".join(["openapi/vectors stays as it was.", *refused]))
    folder.mkdir(exist_ok=True)
    files = dict(written(registry))
    for old in folder.glob("*.ndjson"):
        if old.name not in files:
            old.unlink()
    record = json.dumps(versions.current(registry), indent=2).encode() + b"\n"
    for name, content in {**files, versions.FILE: record}.items():
        # By way of a second file: who reads meanwhile reads a whole one.
        new = folder / f"{name}.new"
        new.write_bytes(content)
        new.replace(folder / name)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
