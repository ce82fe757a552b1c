"""A listing site's check: is the survey of an offered boat believable, and what may be shown of it?

    python listing_check.py SURVEY.json [http://127.0.0.1:8000] > listing.html

Prints a fragment of HTML: what to ask the seller, and the plate map, which is safe within a page (no script, nothing
fetched). The site's own moderator decides; a query is a question and no accusation.
"""

import html
import json
import sys
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import Request, urlopen


def post(address, calculation, survey, accept):
    """Return the body of an answer."""
    headers = {"Content-Type": "application/json", "Accept": accept}
    with urlopen(Request(f"{address}/v1/calculations/{calculation}", survey, headers), timeout=60) as response:
        return response.read().decode()


def main(file, address="http://127.0.0.1:8000"):
    """Print the fragment; return the exit code, 1 where there is something to ask."""
    survey = Path(file).read_bytes()
    try:
        asked = json.loads(post(address, "survey-consistency", survey, "application/json"))
        drawn = post(address, "hull-survey", survey, "image/svg+xml")
    except HTTPError as error:
        with error:
            sys.exit(json.load(error)["detail"])
    queries = [finding["statement"] for finding in asked["findings"] if finding["severity"] != "note"]
    lines = "\n".join(f"  <li>{html.escape(query)}</li>" for query in queries)
    print("<section>", f"<p>{html.escape(asked['summary'][0])}</p>", f"<ul>\n{lines}\n</ul>" if queries else "", sep="\n")
    print(drawn, "</section>", sep="\n")
    return int(bool(queries))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
