"""An underwriter's script: a folder of surveys, one JSON file each, becomes a table of decisions with their reasons.

    python underwriting.py SURVEYS_FOLDER [http://127.0.0.1:8000] > decisions.csv

Needs nothing but Python. A survey that is refused has a row, too: no file is passed over. Exits with 1 where one was refused.
"""

import csv
import json
import sys
import time
from pathlib import Path
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

COLUMNS = ("survey", "decision", "verdict", "thinnest_mm", "next_survey_within_years", "reasons")
#: What the verdict means here; silence is never an acceptance, and a surveyor has signed what is sent.
DECISIONS = {
    "no_limit_broken": "accept",
    "not_judged": "ask for what is missing",
    "watch": "refer to an underwriter",
    "act": "decline until repaired",
}


def judged(address, survey):
    """Return the answer to a survey, or the problem that it was refused with; busy services are asked again."""
    headers = {"Content-Type": "application/json", "Prefer": "return=minimal"}
    for wait in (0.5, 1, 2, 4, None):
        try:
            with urlopen(Request(f"{address}/v1/calculations/hull-survey", survey, headers), timeout=60) as response:
                return json.load(response)
        except HTTPError as error:
            with error:
                problem = json.load(error)
            if error.code not in (408, 429, 503) or wait is None:
                return problem
            time.sleep(float(error.headers.get("Retry-After", wait)))
    return None


def row(name, told):
    """Return a survey's row: what was decided, and the words of the findings behind it."""
    if "result" not in told:
        reasons = [f"{fault['pointer']}: {fault['detail']}" for fault in told.get("errors", ())] or [told["detail"]]
        return (name, "send again", "refused", "", "", " | ".join(reasons))
    result = told["result"]
    thinnest = min(zone["thinnest_residual_mm"] for zone in result["zones"])
    reasons = [finding["statement"] for finding in told["findings"] if finding["severity"] != "note"]
    within = result["next_survey_within_years"]
    shown = "" if within is None else within
    return (name, DECISIONS[result["verdict"]], result["verdict"], thinnest, shown, " | ".join(dict.fromkeys(reasons)))


def main(folder, address="http://127.0.0.1:8000"):
    """Print the table; return the exit code."""
    surveys = sorted(Path(folder).glob("*.json"))
    if not surveys:
        sys.exit(f"{folder} holds no file called *.json")
    table = csv.writer(sys.stdout)
    table.writerow(COLUMNS)
    refused = False
    for file in surveys:
        try:
            told = judged(address, file.read_bytes())
        except URLError as error:
            sys.exit(f"{address} does not answer: {error.reason}")
        refused |= "result" not in told
        table.writerow(row(file.name, told))
    return int(refused)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
