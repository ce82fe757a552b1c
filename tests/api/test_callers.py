"""Keys, rates and origins: who may call is asked at one door, and everybody else is told what to do."""

import hashlib
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import tomllib
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from platemargin_api.app import create_app
from platemargin_api.keys import Key, Keys, added_to, new_key, stanza
from platemargin_api.registry import load_registry
from platemargin_api.settings import Settings, SettingsError
from platemargin_api.toml_files import FileError

REGISTRY = load_registry()
PLATE = {"original_mm": 10, "plate_mm": 8.8, "years_in_service": 16}
MARGIN = "/v1/calculations/plate-margin"


def key_file(folder, *stanzas):
    file = folder / "keys.toml"
    file.write_text("\n".join(stanzas))
    return file


def told_of(name, key, *, expires=None, calculations=(), per_minute=None):
    return stanza(name, key, expires=expires, calculations=calculations, per_minute=per_minute)


def service(**settings):
    return create_app(REGISTRY, Settings(**settings)).test_client()


def bearer(key):
    return {"Authorization": f"Bearer {key}"}


@pytest.fixture
def key():
    return new_key()


@pytest.fixture
def client(tmp_path, key):
    return service(key_file=key_file(tmp_path, told_of("underwriting", key)))


def test_without_keys_everybody_may_call_as_often_as_they_like():
    client = service()
    answered = [client.post(MARGIN, json=PLATE) for _ in range(50)]
    assert {response.status_code for response in answered} == {200}
    assert "RateLimit-Limit" not in answered[-1].headers


def test_a_key_is_asked_for_and_answered(client, key):
    refused = client.post(MARGIN, json=PLATE)
    assert (refused.status_code, refused.json["type"]) == (401, "/problems/unauthorised")
    assert refused.headers["WWW-Authenticate"] == 'Bearer realm="platemargin"'
    assert refused.content_type == "application/problem+json"
    assert client.post(MARGIN, json=PLATE, headers=bearer(key)).status_code == 200


@pytest.mark.parametrize(
    "authorization",
    ["Bearer ", "Bearer plate_", "Bearer \u00e9", "Bearer " + "x" * 5000, "Bearer a, Bearer b"],
)
def test_another_key_is_refused(client, authorization):
    refused = client.post(MARGIN, json=PLATE, headers={"Authorization": authorization})
    assert refused.status_code == 401
    assert refused.headers["WWW-Authenticate"] == 'Bearer realm="platemargin", error="invalid_token"'


@pytest.mark.parametrize("authorization", ["", "Bearer", "Basic dXNlcjpwYXNz", "plate_key"])
def test_one_who_sends_no_key_is_told_of_none(client, authorization):
    """RFC 6750, 3.1: without a bearer token, a challenge has no error code."""
    refused = client.post(MARGIN, json=PLATE, headers={"Authorization": authorization})
    assert (refused.status_code, refused.headers["WWW-Authenticate"]) == (401, 'Bearer realm="platemargin"')


def test_the_scheme_is_read_in_any_case(client, key):
    assert client.post(MARGIN, json=PLATE, headers={"Authorization": f"bearer  {key}"}).status_code == 200


@pytest.mark.parametrize("path", ["/v1/calculations", MARGIN, "/v1/rule-sets", "/v1/nothing", "/metrics"])
def test_every_path_of_the_service_is_behind_the_door(client, path):
    assert client.get(path).status_code == 401


@pytest.mark.parametrize("path", ["//v1/calculations", "///v1/rule-sets", "//metrics"])
def test_empty_parts_of_a_path_are_no_way_round(client, path):
    """What is routed and what is guarded is read alike, whatever stands before it."""
    assert client.get("/", environ_overrides={"PATH_INFO": path}).status_code == 401


@pytest.mark.parametrize("path", ["/health/live", "/health/ready", "/openapi.json", "/problems/unauthorised", "/"])
def test_what_tells_of_the_service_is_not(client, path):
    assert client.get(path).status_code == 200


def test_a_key_may_be_for_some_calculations(tmp_path, key):
    client = service(key_file=key_file(tmp_path, told_of("app", key, calculations=["plate-margin"])))
    assert client.post(MARGIN, json=PLATE, headers=bearer(key)).status_code == 200
    refused = client.post("/v1/calculations/hull-survey", json={}, headers=bearer(key))
    assert (refused.status_code, refused.json["type"]) == (403, "/problems/forbidden")
    assert refused.json["detail"] == "The key app may call plate-margin, and not hull-survey."
    assert refused.headers["WWW-Authenticate"] == 'Bearer realm="platemargin", error="insufficient_scope"'
    assert client.get("/v1/calculations/hull-survey", headers=bearer(key)).status_code == 200


def test_a_key_ends_with_its_day():
    key = Key(name="a", sha256=b"", expires=date(2027, 1, 31))
    assert (key.has_expired(date(2027, 1, 30)), key.has_expired(date(2027, 1, 31))) == (False, True)


def test_an_expired_key_is_told_so(tmp_path, key):
    yesterday = datetime.now(UTC).date() - timedelta(days=1)
    client = service(key_file=key_file(tmp_path, told_of("old", key, expires=yesterday)))
    refused = client.post(MARGIN, json=PLATE, headers=bearer(key))
    assert refused.status_code == 401
    assert f"The key old has expired on {yesterday}" in refused.json["detail"]


def test_a_change_of_the_file_counts_at_once(tmp_path, key):
    other = new_key()
    file = key_file(tmp_path, told_of("one", key))
    client = service(key_file=file)
    assert client.post(MARGIN, json=PLATE, headers=bearer(other)).status_code == 401
    added_to(file, told_of("two", other))
    assert client.post(MARGIN, json=PLATE, headers=bearer(other)).status_code == 200
    key_file(tmp_path, told_of("two", other))
    assert client.post(MARGIN, json=PLATE, headers=bearer(key)).status_code == 401


def test_a_file_of_another_content_with_the_time_of_the_old_counts_too(tmp_path, key):
    """As `cp --preserve` leaves it: the same size and time of content, and one key for another."""
    other = new_key()
    file = key_file(tmp_path, told_of("one", key))
    client, before = service(key_file=file), file.stat()
    key_file(tmp_path, told_of("one", other))
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))
    after = file.stat()
    assert (after.st_mtime_ns, after.st_size, after.st_ino) == (before.st_mtime_ns, before.st_size, before.st_ino)
    statuses = [client.post(MARGIN, json=PLATE, headers=bearer(one)).status_code for one in (key, other)]
    assert statuses == [401, 200]


@pytest.mark.parametrize("content", ["keys = [", "", None])
def test_a_file_that_goes_wrong_leaves_the_keys_as_they_were(tmp_path, key, caplog, content):
    """Neither open to everybody nor closed to all: an operator's slip is logged."""
    file = key_file(tmp_path, told_of("one", key))
    client = service(key_file=file)
    if content is None:
        file.unlink()
    else:
        file.write_text(content)
    assert client.post(MARGIN, json=PLATE, headers=bearer(key)).status_code == 200
    assert client.post(MARGIN, json=PLATE).status_code == 401
    assert "the keys stay as they were: keys.toml: " in caplog.text


HASH = hashlib.sha256(b"x").hexdigest()
WRONG = {
    "no keys": ("", "keys: is required"),
    "a key in place of its hash": (f'[[keys]]\nname = "a"\nsha256 = "{new_key()}"', "keys[0].sha256: "),
    "a misspelt member": (f'[[keys]]\nname = "a"\nsha256 = "{HASH}"\nexpire = 2027-01-01', "the nearest is expires"),
    "a time for a day": (f'[[keys]]\nname = "a"\nsha256 = "{HASH}"\nexpires = 2027-01-01T00:00:00', "keys[0].expires: "),
    "a name with a blank": (f'[[keys]]\nname = "a b"\nsha256 = "{HASH}"', "keys[0].name: must be letters"),
    "a name twice": (2 * f'[[keys]]\nname = "a"\nsha256 = "{HASH}"\n', "name: 'a' is given twice"),
    "a hash twice": (f'[[keys]]\nname = "a"\nsha256 = "{HASH}"\n[[keys]]\nname = "b"\nsha256 = "{HASH}"', "sha256: "),
}


@pytest.mark.parametrize(("content", "says"), WRONG.values(), ids=WRONG)
def test_the_service_does_not_start_with_a_wrong_file(tmp_path, content, says):
    with pytest.raises(FileError) as refused:
        service(key_file=key_file(tmp_path, content))
    assert str(refused.value).startswith("PLATEMARGIN_KEYS: keys.toml: ")
    assert says in str(refused.value)


def test_a_file_that_is_not_there_is_told(tmp_path):
    with pytest.raises(FileError, match="cannot be read"):
        service(key_file=tmp_path / "none.toml")


def test_every_hash_is_compared(tmp_path, monkeypatch):
    """Whichever key it is, and whether it is one, takes as many comparisons, each in constant time."""
    compared = []
    monkeypatch.setattr("platemargin_api.keys.hmac.compare_digest", lambda a, b: compared.append(1) or a == b)
    kept = [new_key() for _ in range(5)]
    keys = Keys(key_file(tmp_path, *(told_of(f"k{at}", key) for at, key in enumerate(kept))))
    for presented in (kept[0], kept[4], "another"):
        compared.clear()
        keys.find(presented)
        assert len(compared) == 5


def test_keys_are_of_chance_and_kept_as_hashes():
    made = {new_key() for _ in range(100)}
    assert len(made) == 100
    assert {len(key) for key in made} == {len("plate_") + 43}  # 32 bytes in base64
    assert all(key not in told_of("a", key) for key in made)


# Rates


def test_a_key_is_held_to_its_rate(tmp_path, key):
    other = new_key()
    stanzas = told_of("slow", key, per_minute=3), told_of("usual", other)
    client = service(key_file=key_file(tmp_path, *stanzas), requests_per_minute=50)
    answered = [client.get("/v1/rule-sets", headers=bearer(key)) for _ in range(2)]
    answered.append(client.post(MARGIN, json=PLATE, headers=bearer(key)))
    assert [response.status_code for response in answered] == [200] * 3
    assert [response.headers["RateLimit-Remaining"] for response in answered] == ["2", "1", "0"]
    refused = client.post(MARGIN, json=PLATE, headers=bearer(key))
    assert (refused.status_code, refused.json["type"]) == (429, "/problems/rate-limited")
    assert 0 <= int(refused.headers["RateLimit-Reset"]) <= 60
    assert int(refused.headers["Retry-After"]) == int(refused.headers["RateLimit-Reset"]) + 1
    assert "Retry-After" not in answered[0].headers
    assert "3 per 1 minute" in refused.json["detail"]
    assert client.post(MARGIN, json=PLATE, headers=bearer(other)).headers["RateLimit-Limit"] == "50"


def test_the_health_of_the_service_has_no_rate(tmp_path, key):
    client = service(key_file=key_file(tmp_path, told_of("slow", key, per_minute=1)))
    assert {client.get("/health/ready").status_code for _ in range(20)} == {200}


def test_where_the_store_is_down_each_worker_counts_for_itself(tmp_path, key):
    """Nothing listens at the port: calls are answered and counted all the same."""
    file = key_file(tmp_path, told_of("slow", key, per_minute=2))
    client = service(key_file=file, rate_store="redis://127.0.0.1:9/0")
    codes = [client.get("/v1/rule-sets", headers=bearer(key)).status_code for _ in range(3)]
    assert codes == [200, 200, 429]


@pytest.fixture
def store(tmp_path):
    """Return the address of a real store, and the process."""
    if shutil.which("redis-server") is None:
        pytest.skip("the Debian package redis-server is not installed")
    address = tmp_path / "store.sock"
    with subprocess.Popen(
        ["redis-server", "--port", "0", "--unixsocket", str(address), "--save", ""], stdout=subprocess.DEVNULL
    ) as process:
        wait_for(address.exists)
        yield f"redis+unix://{address}", process
        process.kill()


def wait_for(holds, seconds=10):
    for _ in range(seconds * 20):
        if holds():
            return
        time.sleep(0.05)
    pytest.fail("it did not come about in time")


def test_workers_that_share_a_store_count_together_until_it_is_gone(tmp_path, key, store):
    """Two applications, as two machines have; with the store killed each goes on by itself."""
    address, process = store
    file = key_file(tmp_path, told_of("slow", key, per_minute=3))
    one, other = (service(key_file=file, rate_store=address) for _ in range(2))
    codes = [client.get("/v1/rule-sets", headers=bearer(key)).status_code for client in (one, other, one, other)]
    assert codes == [200, 200, 200, 429]
    process.kill()
    process.wait()
    assert [client.get("/v1/rule-sets", headers=bearer(key)).status_code for client in (one, other)] == [200, 200]


def test_a_store_that_says_nothing_holds_no_call_up(tmp_path, key, store):
    """It takes connections and answers none: the call that finds out waits a moment, and the count goes on without it."""
    address, process = store
    client = service(key_file=key_file(tmp_path, told_of("slow", key, per_minute=2)), rate_store=address)
    assert client.get("/v1/rule-sets", headers=bearer(key)).status_code == 200
    process.send_signal(signal.SIGSTOP)
    begun = time.monotonic()
    codes = [client.get("/v1/rule-sets", headers=bearer(key)).status_code for _ in range(3)]
    assert codes == [200, 200, 429]
    assert time.monotonic() - begun < 8


def test_a_store_that_comes_back_counts_again(tmp_path, key, store):
    address, process = store
    file = key_file(tmp_path, told_of("one", key))
    one, other = (service(key_file=file, rate_store=address) for _ in range(2))

    def left(client):
        response = client.get("/v1/rule-sets", headers=bearer(key))
        return response.status_code, int(response.headers["RateLimit-Remaining"])

    process.send_signal(signal.SIGSTOP)
    assert left(one) == left(other) == (200, 599)
    process.send_signal(signal.SIGCONT)
    # The extension asks again after 1, 2, 4 ... seconds: then each sees the other's calls.
    wait_for(lambda: left(one)[1] - left(other)[1] == 1, 60)


# Origins

ORIGIN = "https://boats.example"


def test_pages_of_other_origins_may_not_call():
    client = service()
    assert "Access-Control-Allow-Origin" not in client.get("/v1/rule-sets", headers={"Origin": ORIGIN}).headers
    assert client.options(MARGIN, headers={"Origin": ORIGIN, "Access-Control-Request-Method": "POST"}).status_code in (200, 405)


def test_pages_of_listed_origins_may(tmp_path, key):
    client = service(cors_origins=(ORIGIN,), key_file=key_file(tmp_path, told_of("page", key)))
    asked = {"Origin": ORIGIN, "Access-Control-Request-Method": "POST", "Access-Control-Request-Headers": "authorization"}
    before = client.options(MARGIN, headers=asked)
    assert before.headers["Access-Control-Allow-Origin"] == ORIGIN
    assert before.headers["Access-Control-Allow-Headers"] == "authorization"
    told = client.post(MARGIN, json=PLATE, headers={"Origin": ORIGIN, **bearer(key)})
    assert (told.status_code, told.headers["Access-Control-Allow-Origin"]) == (200, ORIGIN)
    assert "Origin" in told.headers["Vary"]
    other = client.post(MARGIN, json=PLATE, headers={"Origin": "https://boats.example.evil.example", **bearer(key)})
    assert "Access-Control-Allow-Origin" not in other.headers


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("PLATEMARGIN_CORS_ORIGINS", "*"),
        ("PLATEMARGIN_CORS_ORIGINS", "https://a.example/path"),
        ("PLATEMARGIN_CORS_ORIGINS", "boats.example"),
        ("PLATEMARGIN_RATE_STORE", "postgres://x"),
        ("PLATEMARGIN_REQUESTS_PER_MINUTE", "0"),
    ],
)
def test_settings_of_another_form_are_refused(name, value):
    with pytest.raises(SettingsError, match=name):
        Settings.from_environment({name: value})


# The command


def command(*arguments, **environment):
    platemargin = str(Path(sys.executable).with_name("platemargin"))
    return subprocess.run(
        [platemargin, *arguments], env={**os.environ, **environment}, capture_output=True, text=True, check=False, timeout=60
    )


def test_a_key_is_shown_once_and_added(tmp_path):
    file = tmp_path / "keys.toml"
    first = command("key", "new", "underwriting", "--file", str(file))
    second = command("key", "new", "app", "--file", str(file), "--calculation", "plate-margin", "--expires", "2099-01-01")
    assert (first.returncode, second.returncode) == (0, 0), first.stderr + second.stderr
    assert first.stdout.strip() not in file.read_text()
    assert oct(file.stat().st_mode & 0o777) == "0o600"
    client = service(key_file=file)
    for made in (first, second):
        assert client.post(MARGIN, json=PLATE, headers=bearer(made.stdout.strip())).status_code == 200
    assert list(tmp_path.iterdir()) == [file]


def test_a_second_key_of_one_name_changes_nothing(tmp_path):
    file = tmp_path / "keys.toml"
    command("key", "new", "a", "--file", str(file))
    before = file.read_bytes()
    again = command("key", "new", "a", "--file", str(file))
    assert (again.returncode, again.stdout) == (1, "")
    assert "keys.toml: name: 'a' is given twice" in again.stderr
    assert file.read_bytes() == before
    assert list(tmp_path.iterdir()) == [file]


def test_without_a_file_the_stanza_is_printed():
    printed = command("key", "new", "a", "--per-minute", "30").stdout
    key, entry = printed.split("\n\n")
    assert hashlib.sha256(key.encode()).hexdigest() in entry
    assert re.search(r"requests_per_minute = 30", entry)


@pytest.mark.parametrize("number", ["0", "-1", "1000001"])
def test_a_rate_that_no_key_has_is_refused(number):
    """Not left out: a key without a rate of its own has the usual one."""
    refused = command("key", "new", "a", f"--per-minute={number}")
    assert (refused.returncode, refused.stdout) == (1, "")
    assert "keys[0].requests_per_minute: " in refused.stderr


@pytest.mark.parametrize("name", ["a b", 'a"\nmetrics = true\n#', ""])
def test_a_name_is_a_name(name):
    refused = command("key", "new", name)
    assert (refused.returncode, refused.stdout) == (1, "")
    assert "keys[0].name: " in refused.stderr


def test_a_calculation_is_quoted():
    told = stanza("a", new_key(), expires=None, calculations=['b"]\nmetrics = true\n#'], per_minute=None)
    (entry,) = tomllib.loads(told)["keys"]
    assert set(entry) == {"name", "sha256", "calculations"}


@pytest.mark.parametrize("address", ["0.0.0.0:0", "[::]:0", "192.0.2.1:0", "boats.example:0"])
def test_gunicorn_alone_does_not_serve_others_either(address):
    gunicorn = [sys.executable, "-m", "gunicorn", "-c", "python:platemargin_api.server", "--bind", address]
    refused = subprocess.run(gunicorn, env=without_keys(), capture_output=True, text=True, check=False, timeout=60)
    assert refused.returncode != 0
    assert "platemargin asks nobody for a key" in refused.stderr


#: Becomes the service with a socket that is handed over as descriptor 3, as systemd does it or named.
HANDED_OVER = """
import os, sys
os.dup2(int(sys.argv[1]), 3)
if len(sys.argv) == 2:
    os.environ |= {"LISTEN_FDS": "1", "LISTEN_PID": str(os.getpid())}
os.execv(sys.executable, [sys.executable, "-m", "platemargin_api", "serve", *sys.argv[2:]])
"""


@pytest.mark.parametrize("bind", [[], ["--bind", "fd://3"]])
def test_a_socket_that_is_handed_over_is_looked_at_too(bind):
    with socket.socket() as listening:
        listening.bind(("0.0.0.0", 0))  # noqa: S104  that is the point
        refused = subprocess.run(
            [sys.executable, "-c", HANDED_OVER, str(listening.fileno()), *bind],
            env=without_keys(),
            pass_fds=[listening.fileno()],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )
    assert refused.returncode != 0
    assert "and 0.0.0.0:" in refused.stderr.partition("platemargin asks nobody for a key")[2]


def without_keys():
    return {name: value for name, value in os.environ.items() if not name.startswith("PLATEMARGIN_")}


def test_serving_others_needs_keys(tmp_path):
    refused = command("serve", "--bind", "0.0.0.0:0", PLATEMARGIN_KEYS="")
    assert refused.returncode != 0
    assert "name a file of keys in PLATEMARGIN_KEYS" in refused.stderr
    wrong = command("serve", "--bind", "0.0.0.0:0", PLATEMARGIN_KEYS=str(tmp_path / "none.toml"))
    assert (wrong.returncode, wrong.stderr.count("\n")) == (1, 1)
    assert json.dumps(wrong.stderr).count("cannot be read") == 1
