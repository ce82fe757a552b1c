"""Send any number of rows to a service of one worker; print rows a second and the worker's memory as they grow.

    .venv/bin/python tests/load/growth.py 6000000 48000000
    .venv/bin/python tests/load/growth.py --arrow 6000000 48000000
    .venv/bin/python tests/load/growth.py --held --calculation residual-thickness 300000
    .venv/bin/python tests/load/growth.py 1 10 100 1000 10000 100000 1000000 10000000

The answer is streamed and read while the rows are sent, unless --held: then everything is sent before anything is read, and the
service keeps the answer in a file in TMPDIR (about 1.1 kB a row of plate-margin, 0.3 kB of residual-thickness).
"""

import argparse
import http.client
import json
import os
import random
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pyarrow as pa

from platemargin_api.media import ARROW, NDJSON

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
        environment = {
            **os.environ,
            "PLATEMARGIN_BIND": f"unix:{address}",
            "WEB_CONCURRENCY": "1",
            "PLATEMARGIN_REQUEST_LOG": "off",
        }
        command = [sys.executable, "-m", "gunicorn", "-c", "python:platemargin_api.server"]
        with subprocess.Popen(command, env=environment) as process:
            try:
                while not _listens(address):
                    assert process.poll() is None, "the service did not start"
                    time.sleep(0.05)
                children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
                while not children.read_text().split():
                    time.sleep(0.05)
                yield address, int(children.read_text().split()[0])
            finally:
                process.terminate()


def _listens(address: Path) -> bool:
    """Tell whether a socket takes connections: its file is there from bind(2) on, and refuses until listen(2)."""
    with socket.socket(socket.AF_UNIX) as connection:
        return connection.connect_ex(str(address)) == 0


class Connection(http.client.HTTPConnection):
    """A connection by a socket in the file system."""

    def __init__(self, address: Path) -> None:
        super().__init__("here")
        self._address = address

    def connect(self) -> None:
        """Connect."""
        self.sock = socket.socket(socket.AF_UNIX)
        self.sock.connect(str(self._address))


def memory(worker: int) -> dict[str, int]:
    """Return what the worker holds, what of it is no file's, and what it held at most, in MB (proc_pid_status(5))."""
    lines = dict(line.split(":", 1) for line in Path(f"/proc/{worker}/status").read_text().splitlines())
    return {name: int(lines[name].split()[0]) // 1024 for name in ("VmRSS", "RssAnon", "VmHWM")}


def processor_seconds(worker: int) -> float:
    """Return the time that the worker has spent computing (proc_pid_stat(5)): it does not depend on who else does."""
    figures = Path(f"/proc/{worker}/stat").read_text().rpartition(")")[2].split()
    return (int(figures[11]) + int(figures[12])) / os.sysconf("SC_CLK_TCK")


def line_parts(calculation: str, rows: int) -> Iterator[bytes]:
    """Yield rows as JSON lines."""
    content = block()
    if calculation == "residual-thickness":
        content = b"".join(line.split(b', "years_in_service"')[0] + b"}\n" for line in content.splitlines())
    for _ in range(rows // BLOCK_ROWS):
        yield content
    yield b"".join(content.splitlines(keepends=True)[: rows % BLOCK_ROWS])


def arrow_parts(calculation: str, rows: int) -> Iterator[bytes]:
    """Yield the same rows as an Arrow stream, 32 blocks a batch."""
    sent = [json.loads(line) for line in b"".join(line_parts(calculation, BLOCK_ROWS)).splitlines()]
    names = [name for name in sent[0] if name != "id"]
    columns = {name: pa.array([row[name] for row in sent] * 32, pa.float64()) for name in names}
    batch = pa.RecordBatch.from_pydict(columns)
    yield batch.schema.serialize().to_pybytes()
    whole = batch.serialize().to_pybytes()
    for _ in range(rows // batch.num_rows):
        yield whole
    yield batch.slice(0, rows % batch.num_rows).serialize().to_pybytes()
    yield b"\xff\xff\xff\xff\0\0\0\0"


def send(connection: Connection, calculation: str, rows: int, *, held: bool, arrow: bool) -> None:
    """Send the rows."""
    medium, parts = (ARROW, arrow_parts) if arrow else (NDJSON, line_parts)
    headers = {"Content-Type": medium, **({} if held else {"Prefer": "stream"})}
    connection.request("POST", f"/v1/calculations/{calculation}", parts(calculation, rows), headers, encode_chunked=True)


def counted_lines(answer: http.client.HTTPResponse) -> tuple[int, int, int]:
    """Return the rows that were answered and refused, and the bytes."""
    length, last = 0, b""
    while part := answer.read(1 << 20):
        length += len(part)
        last = (last + part)[-20_000:]
    summary = json.loads(last.splitlines()[-1])["summary"]
    return summary["answered"], summary["refused"], length


def counted_columns(answer: http.client.HTTPResponse) -> tuple[int, int, int]:
    """Return the same of an Arrow stream."""
    answered = refused = length = 0
    with pa.ipc.open_stream(answer) as reader:
        for batch in reader:
            refused += batch.num_rows - batch["error"].null_count
            answered += batch["error"].null_count
            length += batch.nbytes
    return answered, refused, length


def measured(address: Path, worker: int, calculation: str, rows: int, *, held: bool, arrow: bool) -> str:
    """Send and read; return a line of the table."""
    connection = Connection(address)
    connection.connect()
    started, spent = time.monotonic(), processor_seconds(worker)
    sender = threading.Thread(target=send, args=(connection, calculation, rows), kwargs={"held": held, "arrow": arrow})
    sender.start()
    if held:
        sender.join()
    # The sender of http.client keeps the state of a request; the answer is read from the socket beside it.
    answer = http.client.HTTPResponse(connection.sock, method="POST")
    answer.begin()
    answered, refused, length = (counted_columns if arrow else counted_lines)(answer)
    sender.join()
    seconds = time.monotonic() - started
    assert answered + refused == rows, (answered, refused)
    spent = processor_seconds(worker) - spent
    megabytes = memory(worker)
    figures = (rows, refused, length / 1e6, seconds, rows / seconds, rows / max(spent, 0.01), *megabytes.values())
    return "| {:,} | {:,} | {:,.1f} | {:,.3f} | {:,.0f} | {:,.0f} | {} | {} | {} |\n".format(*figures)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("rows", type=int, nargs="+", help="rows of each call")
    parser.add_argument("--calculation", default="plate-margin", choices=["plate-margin", "residual-thickness"])
    parser.add_argument("--held", action="store_true", help="send everything before anything is read")
    parser.add_argument("--arrow", action="store_true", help="in columns instead of lines")
    chosen = parser.parse_args()
    with service() as (address, worker):
        how = f"{'Arrow' if chosen.arrow else 'JSON lines'}, {'held' if chosen.held else 'streamed'}"
        sys.stdout.write(f"{chosen.calculation}, {how}; before: {memory(worker)}\n\n")
        sys.stdout.write(
            "| rows | refused | answer MB | s | rows/s | rows/s of processor | worker MB | of no file | at most |\n"
        )
        sys.stdout.write("|---|---|---|---|---|---|---|---|---|\n")
        for rows in chosen.rows:
            sys.stdout.write(measured(address, worker, chosen.calculation, rows, held=chosen.held, arrow=chosen.arrow))
            sys.stdout.flush()


if __name__ == "__main__":
    main()
