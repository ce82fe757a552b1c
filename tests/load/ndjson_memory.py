"""Send millions of rows as JSON lines to a service of one worker; print rows a second and the worker's memory as they grow.

    .venv/bin/python tests/load/ndjson_memory.py 6000000 48000000
    .venv/bin/python tests/load/ndjson_memory.py --held --calculation residual-thickness 300000

The answer is streamed and read while the rows are sent, unless --held: then everything is sent before anything is read, and the
service keeps the answer in a file in TMPDIR (about 1.1 kB a row of plate-margin, 0.3 kB of residual-thickness).
"""

import argparse
import http.client
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

#: Rows that are written once and sent over and over.
BLOCK_ROWS = 2_000


def block() -> bytes:
    """Return rows as a gauge reads them, the same every time; one in some hundred is refused."""
    chance = random.Random(1)
    lines = []
    for number in range(BLOCK_ROWS):
        plate = round(chance.uniform(5.0, 8.2), 1)
        pit = round(chance.uniform(0.0, 3.0), 1) if number % 301 else plate + 1
        row = {"id": f"row {number}", "original_mm": 8.0, "plate_mm": plate, "pit_depth_mm": pit}
        lines.append(json.dumps({**row, "years_in_service": round(chance.uniform(5, 40), 1)}) + "\n")
    return "".join(lines).encode()


@contextmanager
def service() -> Iterator[tuple[Path, int]]:
    """Run the service with one worker on a socket of its own; yield the socket and the worker's process id."""
    with tempfile.TemporaryDirectory() as folder:
        address = Path(folder) / "socket"
        environment = {**os.environ, "PLATEMARGIN_BIND": f"unix:{address}", "WEB_CONCURRENCY": "1"}
        command = [sys.executable, "-m", "gunicorn", "-c", "python:platemargin_api.server"]
        with subprocess.Popen(command, env=environment) as process:
            try:
                while not address.exists():
                    assert process.poll() is None, "the service did not start"
                    time.sleep(0.05)
                children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
                while not children.read_text().split():
                    time.sleep(0.05)
                yield address, int(children.read_text().split()[0])
            finally:
                process.terminate()


class Connection(http.client.HTTPConnection):
    """A connection by a socket in the file system."""

    def __init__(self, address: Path) -> None:
        super().__init__("here")
        self._address = address

    def connect(self) -> None:
        """Connect."""
        import socket  # noqa: PLC0415  http.client has a name socket, too

        self.sock = socket.socket(socket.AF_UNIX)
        self.sock.connect(str(self._address))


def memory(worker: int) -> dict[str, int]:
    """Return what the worker holds now and held at most, in MB (proc_pid_status(5))."""
    lines = dict(line.split(":", 1) for line in Path(f"/proc/{worker}/status").read_text().splitlines())
    return {name: int(lines[name].split()[0]) // 1024 for name in ("VmRSS", "VmHWM")}


def processor_seconds(worker: int) -> float:
    """Return the time that the worker has spent computing (proc_pid_stat(5)): it does not depend on who else does."""
    figures = Path(f"/proc/{worker}/stat").read_text().rpartition(")")[2].split()
    return (int(figures[11]) + int(figures[12])) / os.sysconf("SC_CLK_TCK")


def send(connection: Connection, calculation: str, rows: int, *, held: bool) -> None:
    """Send the rows."""
    content = block()
    preferred = {} if held else {"Prefer": "stream"}
    if calculation == "residual-thickness":
        content = b"".join(line.split(b', "years_in_service"')[0] + b"}\n" for line in content.splitlines())
    parts = (content for _ in range(rows // BLOCK_ROWS))
    headers = {"Content-Type": "application/x-ndjson", **preferred}
    connection.request("POST", f"/v1/calculations/{calculation}", parts, headers, encode_chunked=True)


def measured(address: Path, worker: int, calculation: str, rows: int, *, held: bool) -> str:
    """Send and read; return a line of the table."""
    connection = Connection(address)
    connection.connect()
    started, spent = time.monotonic(), processor_seconds(worker)
    sender = threading.Thread(target=send, args=(connection, calculation, rows), kwargs={"held": held})
    sender.start()
    if held:
        sender.join()
    # The sender of http.client keeps the state of a request; the answer is read from the socket beside it.
    answer = http.client.HTTPResponse(connection.sock, method="POST")
    answer.begin()
    length, last = 0, b""
    while part := answer.read(1 << 20):
        length += len(part)
        last = (last + part)[-20_000:]
    sender.join()
    seconds = time.monotonic() - started
    summary = json.loads(last.splitlines()[-1])["summary"]
    assert summary["answered"] + summary["refused"] == rows == summary["lines"], summary
    spent = processor_seconds(worker) - spent
    megabytes = memory(worker)
    figures = (rows, summary["refused"], length / 1e6, seconds, rows / seconds, rows / spent, *megabytes.values())
    return "| {:,} | {:,} | {:,.0f} | {:,.1f} | {:,.0f} | {:,.0f} | {} | {} |\n".format(*figures)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("rows", type=int, nargs="+", help=f"rows of each call, in steps of {BLOCK_ROWS}")
    parser.add_argument("--calculation", default="plate-margin", choices=["plate-margin", "residual-thickness"])
    parser.add_argument("--held", action="store_true", help="send everything before anything is read")
    chosen = parser.parse_args()
    with service() as (address, worker):
        sys.stdout.write(f"{chosen.calculation}, {'held' if chosen.held else 'streamed'}; before: {memory(worker)}\n\n")
        sys.stdout.write("| rows | refused | answer MB | s | rows/s | rows/s of processor | worker MB | at most |\n")
        sys.stdout.write("|---|---|---|---|---|---|---|---|\n")
        for rows in chosen.rows:
            whole = rows // BLOCK_ROWS * BLOCK_ROWS
            sys.stdout.write(measured(address, worker, chosen.calculation, whole, held=chosen.held))
            sys.stdout.flush()


if __name__ == "__main__":
    main()
