"""A survey app's live call: one reading, while the surveyor still stands beside the plate.

    python survey_app.py ORIGINAL_MM PLATE_MM PIT_MM YEARS [http://127.0.0.1:8000]

PIT_MM is - where none was measured. Keeps one connection open, as an app would, and shows the sentences and what to look
at again.
"""

import http.client
import json
import sys
from urllib.parse import urlsplit


class Margins:
    """The service, over one connection; one that was closed meanwhile is opened again."""

    def __init__(self, address):
        self._connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=10)

    def of(self, **reading):
        """Return status and answer of a reading."""
        headers = {"Content-Type": "application/json", "Prefer": "return=minimal"}
        for last in (False, True):
            try:
                self._connection.request("POST", "/v1/calculations/plate-margin", json.dumps(reading), headers)
                response = self._connection.getresponse()
                return response.status, json.load(response)
            except (http.client.RemoteDisconnected, ConnectionResetError):
                self._connection.close()
                if last:
                    raise
        raise AssertionError


def main(original, plate, pit, years, address="http://127.0.0.1:8000"):
    """Print the margin; return the exit code."""
    reading = {"original_mm": float(original), "plate_mm": float(plate), "years_in_service": float(years)}
    measured = {} if pit == "-" else {"pit_depth_mm": float(pit)}
    status, told = Margins(address).of(**reading, **measured)
    if status != 200:
        print(*(f"{fault['pointer']}: {fault['detail']}" for fault in told.get("errors", [{"pointer": "", **told}])), sep="\n")
        return 1
    print(*told["summary"], sep="\n")
    print(*(f"! {finding['statement']}" for finding in told["findings"]), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
