"""Everything that is wrong is a row that says what to do, and nothing that is wrong hides the rest."""

import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread

import pytest

from tests.commands import run
from tests.keeping.place import ME, NOW, Place
from triagebot.keeping.doctor import clock_rows, examine
from triagebot.keeping.rows import Row
from triagebot.store import DATABASE
from triagebot.store.forgotten_file import forgotten_file
from triagebot.store.post import Post
from triagebot.store.staff import Tickets


def looked(place: Place, now: datetime = NOW) -> dict[str, str]:
    """What is to be mended, by what was looked at."""
    found: dict[str, str] = {}
    for row in examine(place.data, place.key, now):
        if not row.well:
            found[row.what] = f"{found.get(row.what, '')}{row.said}\n"
    return found


@pytest.fixture
def well(place: Place) -> Place:
    """With nothing to mend."""
    for path in (place.data / "matrix").iterdir():
        path.chmod(0o600)
    with place.open() as store, store.begin() as tx:
        Post(tx).sent(2, tx.lookup_hash(ME), tx.cipher.encrypt_json({"id": 2}))
    return place


def test_all_is_well(well: Place) -> None:
    before = {path: path.read_bytes() for path in well.data.rglob("*") if path.is_file()}
    done = run("doctor", "--offline", data=well.data, TRIAGEBOT_KEY_FILE=str(well.key))
    assert (done.returncode, done.stdout.splitlines()[-1]) == (0, "All is well.")
    assert {path: path.read_bytes() for path in well.data.rglob("*") if path.is_file()} == before


def test_before_the_first_start_all_is_well_and_nothing_is_made(tmp_path: Path) -> None:
    rows = examine(tmp_path / "a" / "data", tmp_path / "key", NOW)
    assert all(row.well for row in rows)
    assert list(tmp_path.iterdir()) == []


def test_what_others_can_get_at(well: Place) -> None:
    well.data.chmod(0o777)
    (well.data / DATABASE).chmod(0o644)
    well.key.chmod(0o640)
    found = looked(well)
    assert f"{well.data} has the mode 777" in found["permissions"]
    assert f"chmod 700 {well.data}\n" in found["permissions"]
    assert f"chmod 600 {well.data / DATABASE}\n" in found["permissions"]
    assert f"chmod 600 {well.key}" in found["key"]
    assert set(found) == {"permissions", "key"}


@pytest.mark.parametrize("page", [0, 1, 2, 5, 8])
def test_a_damaged_database_is_a_row_and_the_others_are_there(well: Place, page: int) -> None:
    with (well.data / DATABASE).open("r+b") as file:
        file.seek(4096 * page + (100 if page == 0 else 0))
        file.write(b"\xff" * 8)
    found = looked(well)
    assert "the database is damaged" in found["database"]
    assert {row.what for row in examine(well.data, well.key, NOW)} >= {"clock", "disk", "key", "messages", "notes"}


def test_another_key_and_none(well: Place) -> None:
    kept = well.key.read_bytes()
    well.key.write_bytes(b"m" * 43 + b"=\n")
    assert "another key" in looked(well)["key"]
    well.key.unlink()
    assert "key file is missing" in looked(well)["key"]
    well.key.write_bytes(kept)
    well.key.chmod(0o600)
    assert looked(well) == {}


@pytest.mark.parametrize("there", [False, True], ids=["no file yet", "a file"])
def test_a_key_folder_that_cannot_be_written(well: Place, monkeypatch: pytest.MonkeyPatch, *, there: bool) -> None:
    file = forgotten_file(well.key)
    if there:
        file.touch(0o600)
    allowed = os.access
    closed = file if there else file.parent
    monkeypatch.setattr(os, "access", lambda path, mode: path != closed and allowed(path, mode))
    found = looked(well)
    assert set(found) == {"key folder"}
    assert str(file) in found["key folder"]


def test_a_newer_database_is_to_mend_and_an_older_one_is_not(well: Place) -> None:
    for held, wrong in (("9999", True), ("0008", False)):
        with sqlite3.connect(well.data / DATABASE) as other:
            other.execute("UPDATE alembic_version SET version_num = ?", (held,))
        other.close()
        assert ("version" in looked(well)) is wrong


def test_messages_that_were_set_aside_or_are_stuck_and_notes_that_are_overdue(well: Place) -> None:
    with well.open() as store, store.begin() as tx:
        post, who = Post(tx), tx.lookup_hash(ME)
        for n, state in enumerate(("aside", "waiting")):
            post.receive("paper", str(n), who, NOW, state, {"text": "x"})
        post.failed(1, "refused")
        Post(tx).put_back(2, None, "")
        case = tx.case_by_code("D27MNS")
        assert case is not None
        Tickets(tx).open(case.id, "asked", NOW)
        assert Tickets(tx).snooze(case.id, who, NOW + timedelta(minutes=1))
    found = looked(well, NOW + timedelta(minutes=10))
    assert len(found["messages"].splitlines()) == 2
    assert "paper: 1 that came in were set aside" in found["messages"]
    assert "notes" not in found
    later = looked(well, NOW + timedelta(hours=1))
    assert len(later["messages"].splitlines()) == 4
    assert "paper: 1 wait too long to be sent" in later["messages"]
    assert later["notes"].startswith("1 put off by staff")


def test_a_clock_of_another_century(well: Place) -> None:
    assert "set the clock" in looked(well, datetime(1970, 1, 1, tzinfo=UTC))["clock"]


@contextmanager
def telling(date: str | None) -> Iterator[str]:
    """A server whose clock says so."""

    class Answer(BaseHTTPRequestHandler):
        def do_HEAD(self) -> None:
            self.send_response_only(404)
            if date is not None:
                self.send_header("Date", date)
            self.end_headers()

    server = HTTPServer(("127.0.0.1", 0), Answer)
    Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()


def clock_of(date: str | None) -> list[Row]:
    with telling(date) as server:
        return list(clock_rows(server, NOW))


def test_a_clock_that_is_not_like_the_platforms() -> None:
    assert [row.well for row in clock_of(format_datetime(NOW + timedelta(seconds=100), usegmt=True))] == [True]
    (off,) = clock_of(format_datetime(NOW - timedelta(seconds=180), usegmt=True))
    assert not off.well
    assert "180 seconds off" in off.said
    assert clock_of(None) == clock_of("yesterday") == []
    assert list(clock_rows("http://127.0.0.1:9", NOW)) == []


class _NoPlatform(BaseHTTPRequestHandler):
    """Answers whatever it is asked with a yes, as no Bot API server does."""

    protocol_version = "HTTP/1.1"

    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"] or 0))
        said = b'{"ok": true, "result": true}'
        self.send_response(200)
        self.send_header("Content-Length", str(len(said)))
        self.end_headers()
        self.wfile.write(said)

    def do_HEAD(self) -> None:
        self.send_response(404)
        self.end_headers()

    def log_message(self, *given: object) -> None:
        """Nothing."""


def test_a_server_that_is_no_platform_is_a_row(well: Place) -> None:
    server = HTTPServer(("127.0.0.1", 0), _NoPlatform)
    Thread(target=server.serve_forever, daemon=True).start()
    settings = {
        "TRIAGEBOT_KEY_FILE": str(well.key),
        "TRIAGEBOT_TELEGRAM_TOKEN": f"123456789:{'A' * 35}",
        "TRIAGEBOT_TELEGRAM_SERVER": f"http://127.0.0.1:{server.server_port}",
    }
    try:
        done = run("doctor", data=well.data, **settings)
    finally:
        server.shutdown()
        server.server_close()
    assert done.returncode == 1, done.stderr
    assert "TO MEND  platforms: what a server in the settings answers cannot be read (" in done.stdout
    assert "well     database" in done.stdout


def test_rows_for_machines_and_settings_that_cannot_be_used(well: Place) -> None:
    well.data.chmod(0o755)
    done = run("doctor", "--offline", "--json", data=well.data, TRIAGEBOT_KEY_FILE=str(well.key))
    assert done.returncode == 1
    assert [row["what"] for row in json.loads(done.stdout) if not row["well"]] == ["permissions"]
    done = run("doctor", data=well.data, TRIAGEBOT_KEY_FILE=str(well.key), TRIAGEBOT_WEB_PORT="many")
    assert done.returncode == 1
    assert "TO MEND  settings: TRIAGEBOT_WEB_PORT" in done.stdout
