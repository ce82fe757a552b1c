"""An insurer's check of an old decision: the release that made it makes it again, from the bytes that were kept.

    python decision_again.py REQUEST ANSWER [http://127.0.0.1:8000]

REQUEST holds the bytes that were posted, ANSWER the answer as it came. The service at the address has to be the release that
the answer's provenance names. Needs nothing but Python. Exits with 0 where result and findings are the same to the byte, with
1 where they are not, and with 2 where it could not be tried: other bytes, another release, other rule sets, no service.
"""

import base64
import hashlib
import json
import sys
from pathlib import Path
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

#: What has to be the same before answers can be compared; every rule set is in it with its version and digest.
NAMED = ("request_digest", "arguments_digest", "service_version", "distribution", "rule_sets")


def answered(address, calculation, body):
    """Return how a service answers the bytes."""
    request = Request(f"{address}/v1/calculations/{calculation}", body, {"Content-Type": "application/json"})
    with urlopen(request, timeout=60) as response:
        return json.load(response)


def digest(body):
    """Return a digest as provenance writes it."""
    return f"sha-256=:{base64.b64encode(hashlib.sha256(body).digest()).decode()}:"


def not_comparable(kept, again):
    """Yield what the two answers were made of, where that differs."""
    if kept["calculation"] != again["calculation"]:
        yield f"calculation: {kept['calculation']} was asked, {again['calculation']} answers"
    for name in NAMED:
        was, is_now = kept["provenance"][name], again["provenance"][name]
        if was != is_now:
            yield f"{name}: {was} decided, {is_now} answers"


def main(request, answer, address="http://127.0.0.1:8000"):
    """Tell whether the decision comes out again; return the exit code."""
    body, kept = Path(request).read_bytes(), json.loads(Path(answer).read_bytes())
    if digest(body) != kept["provenance"]["request_digest"]:
        print(f"{request} is not what was answered: its digest is another than the request_digest of {answer}")
        return 2
    release = f"platemargin {kept['provenance']['service_version']}"
    try:
        again = answered(address, kept["calculation"]["id"], body)
    except HTTPError as error:
        with error:
            print(f"{address} refuses it: {json.load(error)['title']}. {release} answered it: run that release")
        return 2
    except URLError as error:
        print(f"{address} does not answer: {error.reason}")
        return 2
    others = list(not_comparable(kept, again))
    if others:
        print(f"{address} is not what decided; run {release}, with the same rule sets", *others, sep="\n")
        return 2
    # Written again by one writer, texts are the same where every digit is.
    differ = [name for name in ("result", "findings") if json.dumps(kept[name]) != json.dumps(again[name])]
    for name in differ:
        print(f"{name} came out otherwise")
    if not differ:
        print(f"{release} decides the same: {kept['calculation']['id']} {kept['calculation']['version']}, byte for byte")
    return int(bool(differ))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
