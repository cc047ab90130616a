"""A PostgreSQL server of the tests' own: the system's programs, run by a user without rights, on a socket in a folder.
Every data folder has a database there of its own.

Other processes find it by the variable `CLUSTER`, and use it from `on_cluster` on.
"""

import hashlib
import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path

from triagebot.store import data_folder
from triagebot.store.engines import Database, database_of

#: The variable with the folder of the server's socket.
CLUSTER = "TESTS_POSTGRESQL"
#: Seconds for the server to start or to end, however busy the machine is.
PATIENCE = 120.0
#: The database that others are copied from (`fresh`).
KEPT = "kept"
_ROLE = "tests"
_NOBODY = 65534
#: Databases that are there, by socket and name: nobody need ask the server for each opening.
_known: set[tuple[str, str]] = set()
#: What a power cut would cost is not tried here, so nothing waits for the disk.
_QUICK = {
    "fsync": "off",
    "full_page_writes": "off",
    "shared_buffers": "32MB",
    "max_connections": "60",
    "autovacuum": "off",
    "listen_addresses": "",
    "max_wal_size": "256MB",
}


@cache
def programs() -> Path | None:
    """The folder with the programs of a PostgreSQL from version 15 on; None where there is none."""
    named = shutil.which("postgres")
    folders = [Path(named).resolve().parent] if named else []
    folders += sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: -int(path.parent.name))
    return next((path for path in folders if (path / "initdb").exists() and _version(path) >= 15), None)


def _version(folder: Path) -> int:
    told = subprocess.run([folder / "postgres", "--version"], capture_output=True, text=True, check=False).stdout
    return int((told.split()[2:3] or ["0"])[0].split(".")[0])


@contextmanager
def running() -> Iterator[str]:
    """A server; gives the folder of its socket."""
    found = programs()
    assert found is not None
    memory = Path("/dev/shm")
    place = Path(tempfile.mkdtemp(prefix="pg-", dir=memory if os.access(memory, os.W_OK) else "/tmp"))
    # it ends with the tests, however those end
    begun_by = ["setpriv", "--pdeathsig", "INT"] if shutil.which("setpriv") else []
    if os.geteuid() == 0:
        begun_by += [f"--reuid={_NOBODY}", f"--regid={_NOBODY}", "--clear-groups"]
        os.chown(place, _NOBODY, _NOBODY)
    try:
        data = place / "data"
        made = [*begun_by, found / "initdb", "-D", data, "-U", _ROLE, "-A", "trust", "-E", "UTF8", "--locale=C", "-N"]
        subprocess.run(made, check=True, capture_output=True, cwd=place, env={**os.environ, "TZ": "UTC"})
        options = [part for name, value in _QUICK.items() for part in ("-c", f"{name}={value}")]
        with (place / "log").open("wb") as log:
            server = subprocess.Popen(
                [*begun_by, found / "postgres", "-D", data, "-k", place, *options], stdout=log, stderr=log, cwd=place
            )
        try:
            _wait(server, place)
            yield str(place)
        finally:
            server.send_signal(signal.SIGINT)  # cuts all connections, and ends
            server.wait(PATIENCE)
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _wait(server: "subprocess.Popen[bytes]", place: Path) -> None:
    import psycopg

    end = time.monotonic() + PATIENCE
    while True:
        try:
            psycopg.connect(url(str(place), "postgres")).close()
            return
        except psycopg.OperationalError:
            assert server.poll() is None, (place / "log").read_text()
            assert time.monotonic() < end, (place / "log").read_text()
            time.sleep(0.05)


def url(socket: str, database: str) -> str:
    return f"postgresql://{_ROLE}@/{database}?host={socket}"


def url_for(socket: str, folder: Path, template: str = "template0") -> str:
    """The database of a data folder; a copy of `template` if it is new."""
    name = f"t{hashlib.sha1(str(folder.absolute()).encode()).hexdigest()[:16]}"
    if (socket, name) not in _known:
        _create(socket, name, template)
        _known.add((socket, name))
    return url(socket, name)


def make_kept(socket: str) -> str:
    """The database that others are copied from, still empty."""
    _create(socket, KEPT, "template0")
    return url(socket, KEPT)


def _create(socket: str, name: str, template: str) -> None:
    import psycopg

    there = suppress(psycopg.errors.DuplicateDatabase, psycopg.errors.UniqueViolation)
    with psycopg.connect(url(socket, "postgres"), autocommit=True) as connection, there:
        connection.execute(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")


def drop_all(socket: str) -> None:
    """Drops what the data folders had. What somebody is still leaving after five seconds, which is as long as the
    server waits, goes with the next."""
    import psycopg

    with psycopg.connect(url(socket, "postgres"), autocommit=True) as connection:
        for (name,) in connection.execute(
            "SELECT datname FROM pg_database WHERE datname ~ '^t[0-9a-f]{16}$'"
        ).fetchall():
            with suppress(psycopg.errors.ObjectInUse):
                connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
    _known.clear()


def on_cluster(folder: Path, told: str | None, patience: float) -> Database:
    """In place of `database_of`: a folder without a database of its own gets one on the server."""
    return database_of(folder, told or url_for(os.environ[CLUSTER], folder), patience)


def use_cluster() -> None:
    """What is opened in this process from now on is on the server that the variable names, if it is set."""
    if CLUSTER in os.environ:
        data_folder.database_of = on_cluster
