"""Many rows in one call: over HTTP beside the same work in process, and what single calls wait for meanwhile."""

import io
import itertools
import random
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import client
import marshmallow as ma
import numpy as np
import orjson
import pyarrow as pa
import work

from platemargin_api.arrow.batches import ROWS_TOGETHER
from platemargin_api.lines import lines
from platemargin_api.media import ARROW, NDJSON
from platemargin_api.ndjson import LineReader, LineWriter
from platemargin_api.rows import Rows
from platemargin_api.tally import Tally

LINES, COLUMNS, BATCH = 40_000, 500_000, 65_536
PATH = "/v1/calculations/"
LEAST_OF_NDJSON, LEAST_OF_KERNEL = 0.8, 0.5
#: Of single precision the goal is either of the two.
LEAST_ROWS, LEAST_SHARE = 25e6, 0.07


def plates(rows):
    """Return rows as a gauge reads them, the same every time."""
    chance = random.Random(1)
    drawn = ((chance.uniform(5.0, 8.2), chance.uniform(0.0, 3.0), chance.uniform(5, 40)) for _ in range(rows))
    for plate, pit, years in drawn:
        yield {
            "original_mm": 8.0,
            "plate_mm": round(plate, 1),
            "pit_depth_mm": round(pit, 1),
            "years_in_service": round(years, 1),
        }


def line_body(rows=LINES):
    return b"".join(orjson.dumps(row) + b"\n" for row in plates(rows))


def columns(calculation, rows=COLUMNS):
    some = list(plates(10_000))
    names = [name for name in some[0] if name != "years_in_service" or calculation != "residual-thickness"]
    return {name: np.resize([row[name] for row in some], rows) for name in names}


def column_body(calculation, precision):
    held = {name: values.astype(precision) for name, values in columns(calculation).items()}
    table, sink = pa.table(held), io.BytesIO()
    with pa.ipc.new_stream(sink, table.schema) as writer:
        writer.write_table(table, max_chunksize=BATCH)
    return sink.getvalue()


@dataclass(frozen=True)
class Rates:
    """Rows a second over HTTP and in process, and how much the first is of the second: medians of rounds by turns."""

    over: float
    within: float
    ratio: float


def rates(over, within, rows, rounds=7):
    """Measure two ways with the same rows by turns."""
    took = [(_seconds(over), _seconds(within)) for _ in range(rounds)]
    alone = [rows / statistics.median(one) for one in zip(*took, strict=True)]
    return Rates(*alone, statistics.median(second / first for first, second in took))


def _seconds(call):
    begun = time.perf_counter()
    call()
    return time.perf_counter() - begun


def posted(server, calculation, body, medium, *, streamed=False):
    headers, read = (("Prefer: stream",), client.answered_meanwhile) if streamed else ((), client.answered)
    sent = client.message(PATH + calculation, body, headers, content_type=medium)

    def call():
        status, length = read(server.port, sent)
        # What is streamed may end in a refusal; a whole answer has more columns than its request.
        assert status == 200, status
        assert length > len(body), length

    return call


def in_process(body):
    registry = work.registry()
    served = registry.calculations["plate-margin"]

    def call():
        rows, writer = Rows(served, registry, Tally()), LineWriter()
        sent = iter(LineReader(lines([body], 1 << 20), 1 << 20))
        while batch := list(itertools.islice(sent, 1024)):
            writer.rows(rows.records(batch))

    return call


def kernel(calculation):
    """Return what calls the calculation for the same rows, as many together as the service, without any way in or out."""
    served = work.registry().calculations[calculation]
    held = columns(calculation)
    others = {name: field for name, field in served.request.fields.items() if name not in {*held, "id"}}
    taken = {
        name: field.column([None if field.load_default is ma.missing else field.load_default]) for name, field in others.items()
    }
    filled = {name: np.resize(value, ROWS_TOGETHER) for name, value in taken.items()}

    def call():
        for start in range(0, COLUMNS, ROWS_TOGETHER):
            sent = {name: column[start : start + ROWS_TOGETHER] for name, column in held.items()}
            count = min(ROWS_TOGETHER, COLUMNS - start)
            served.offered.run(**sent, **{name: column[:count] for name, column in filled.items()})

    return call


def outcomes(server):
    """Yield what the goals on many rows say: words, value, goal, whether it is kept."""
    body = line_body()
    found = rates(posted(server, "plate-margin", body, NDJSON), in_process(body), LINES)
    words = f"JSON lines, plate-margin over HTTP ({found.over:,.0f} rows/s) / decoded, computed and encoded in process"
    yield words, f"{found.ratio:.2f}", f"at least {LEAST_OF_NDJSON:g}", found.ratio >= LEAST_OF_NDJSON
    name = "residual-thickness"
    found = rates(posted(server, name, column_body(name, np.float32), ARROW), kernel(name), COLUMNS)
    kept = found.over >= LEAST_ROWS or found.ratio >= LEAST_SHARE
    words = f"Arrow float32, {name} over HTTP / its kernel in process ({found.within / 1e6:.1f} M rows/s)"
    yield words, f"{found.over / 1e6:.1f} M rows/s, {found.ratio:.2f}", "25 M rows/s or 0.07", kept
    name, body = "plate-margin", column_body("plate-margin", np.float64)
    for how in ("held", "streamed"):
        found = rates(posted(server, name, body, ARROW, streamed=how == "streamed"), kernel(name), COLUMNS)
        words = f"Arrow float64, {name} over HTTP, {how} ({found.over / 1e6:.2f} M rows/s) / its kernel in process"
        yield words, f"{found.ratio:.2f}", f"at least {LEAST_OF_KERNEL:g}", found.ratio >= LEAST_OF_KERNEL
    yield from _meanwhile(server)


def _meanwhile(server):
    """Tell what one caller waits for while another sends many rows, which a process of its own does."""
    single = client.message(PATH + "plate-margin", orjson.dumps(work.plate()), ("Prefer: return=minimal",))
    program = f"import many, client; many.keep_sending({server.port})"
    with subprocess.Popen([sys.executable, "-c", program], cwd=Path(__file__).parent) as sender:
        try:
            time.sleep(2)
            told = client.measure(server.port, single, connections=1, seconds=5)
        finally:
            sender.kill()
    late, middle = 1e3 * told.percentile(0.99), 1e3 * told.percentile(0.5)
    yield "99th percentile of single calls while many rows are answered", f"{late:.1f} ms (median {middle:.1f})", "told", None


def keep_sending(port):
    """Send many rows, over and over."""

    class Server:
        pass

    Server.port = port
    call = posted(Server, "plate-margin", line_body(), NDJSON)
    while True:
        call()
