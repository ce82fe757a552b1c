"""How gunicorn serves it: ``gunicorn -c python:platemargin_api.server``."""

from __future__ import annotations

import ctypes
import gc
import ipaddress
import os
import signal
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import Any

from platemargin_api import drain, logs, metrics
from platemargin_api.settings import Settings, SettingsError

# One BLAS thread: a worker's threads are its parallelism. Set before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

wsgi_app = "platemargin_api.app:create_app()"
bind = os.environ.get("PLATEMARGIN_BIND", "127.0.0.1:8000")
workers = os.environ.get("WEB_CONCURRENCY", str(Settings.workers))
worker_class = "platemargin_api.worker.Worker"
threads = 4
preload_app = True
# Heartbeats in memory: a slow disk must not make a worker look dead.
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108  a directory of the system, not a file
control_socket_disable = True
# Whoever was accepted is answered, if only that it took too long. A setting that is wrong is told at the start.
graceful_timeout = 30
with suppress(SettingsError):
    graceful_timeout = Settings.from_environment().deadline_seconds + 10
keepalive = 5
loglevel = "warning"
# The service writes a line of its own for each request, without what the caller sent or where from.
accesslog = None


#: What glibc's malloc.h calls the number of places that threads take memory from.
_M_ARENA_MAX = -8


def _share_memory() -> None:
    """Have all threads of a worker take memory from one place: what one has given back, another then uses."""
    # glibc gives each its own otherwise: a worker that had answered columns in all of them held 70 MB more.
    with suppress(AttributeError):
        ctypes.CDLL(None).mallopt(_M_ARENA_MAX, 1)


def pre_fork(_server: Any, _worker: Any) -> None:
    """Leave what is loaded out of every later collection, which would write to it: then a worker keeps sharing it."""
    gc.freeze()


def post_fork(server: Any, worker: Any) -> None:
    """Keep hold of where the master's handler puts signals: it is this process's, too, until the worker has its own."""
    worker.platemargin_signals = server.SIG_QUEUE


def post_worker_init(worker: Any) -> None:
    """Tell the worker of a signal to stop that came before it had handlers; begin to send spans, where that is asked for."""
    # Unheard, the master would wait for as long as a call may take, and end the worker then.
    while not worker.platemargin_signals.empty():
        if worker.platemargin_signals.get_nowait() == signal.SIGTERM:
            worker.handle_exit(signal.SIGTERM, None)
    # Loaded here, as below: with it comes numpy, whose threads are set above.
    from platemargin_api import tracing  # noqa: PLC0415

    tracing.start()


def worker_exit(_server: Any, _worker: Any) -> None:
    """Send the last of them."""
    from platemargin_api import tracing  # noqa: PLC0415

    tracing.stop()


def on_starting(server: Any) -> None:
    """Open the log; refuse to serve anybody but this machine unless the operator says so."""
    settings = Settings.from_environment()
    logs.configure(requests=settings.request_log)
    # A descriptor that was handed over says where it listens once it is taken.
    _refuse_strangers(address for address in server.cfg.address if not isinstance(address, int))
    if server.cfg.is_ssl:
        raise SystemExit("platemargin speaks no TLS: give the certificate to the proxy before it (docker/nginx.conf)")
    server.handle_term = drain.before(server.handle_term, settings.drain_seconds)
    # A folder that was given is the operator's to keep.
    if metrics.FOLDER not in os.environ:
        # Not where answers are held: writing to a mapped file of a full disk would end the worker.
        folder = mkdtemp(prefix="platemargin-counts-", dir=worker_tmp_dir)
        os.environ[metrics.FOLDER] = server.platemargin_counts = folder
    metrics.prepare()
    _share_memory()


def child_exit(_server: Any, worker: Any) -> None:
    """Keep a worker's counts when it is gone."""
    metrics.forget(worker.pid)


def on_exit(server: Any) -> None:
    """Remove what workers kept for each other."""
    rmtree(getattr(server, "platemargin_counts", ""), ignore_errors=True)


def _refuse_strangers(addresses: Iterable[Any]) -> None:
    """Refuse an address of other machines where nobody is asked for a key."""
    if os.environ.get("PLATEMARGIN_ANONYMOUS") == "allow" or os.environ.get("PLATEMARGIN_KEYS"):
        return
    for address in addresses:
        if not _is_loopback(address):
            raise SystemExit(
                f"platemargin asks nobody for a key, and {address[0]}:{address[1]} can be reached from other machines: name a "
                "file of keys in PLATEMARGIN_KEYS (platemargin key new), bind a loopback address, or set "
                "PLATEMARGIN_ANONYMOUS=allow where a proxy before it knows its callers"
            )


def when_ready(server: Any) -> None:
    """Look at what is listened at, sockets handed over included; then leave what was made out of every search for garbage."""
    _refuse_strangers(listener.getsockname() for listener in server.LISTENERS)
    gc.collect()
    gc.freeze()


def _is_loopback(address: Any) -> bool:
    """Tell whether a bound address is of this machine alone; a Unix socket is."""
    if isinstance(address, (str, bytes)):
        return True
    host = address[0]
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return bool(host == "localhost")
