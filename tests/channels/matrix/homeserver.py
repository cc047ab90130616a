"""A real homeserver on the loopback: Synapse on SQLite in a folder of its own, configured when it is started.

Decisions that live here: what a homeserver of the tests allows (`GENEROUS`, `STINGY`), how long it may take to be
ready, and that nothing outlives the tests: it is started with exec, so that its pid is the server's, and the kernel
ends it if the process that started it is gone.

`start` must be called in the main thread: the kernel's promise is bound to the thread that forks.
"""

import asyncio
import base64
import hashlib
import hmac
import json
import os
import secrets
import signal
import socket
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import Any

import aiohttp

SERVER_NAME = "wheels.test"
READY_WITHIN = 60.0  # seconds; three on an idle machine
GONE_WITHIN = 10.0  # seconds after SIGTERM, then SIGKILL

# Dies with its parent (prctl 1 is PR_SET_PDEATHSIG, which survives exec), then becomes the server itself.
_LAUNCH = """
import os, signal, sys
if sys.platform == "linux":
    import ctypes
    ctypes.CDLL(None).prctl(1, signal.SIGKILL)
os.execv(sys.executable, [sys.executable, "-m", "synapse.app.homeserver", "--config-path", sys.argv[1]])
"""


@dataclass(frozen=True)
class Allowance:
    """How much one user may do: `per_second` on average, `burst` at once. `messages` tightens only sending."""

    per_second: float
    burst: int

    def row(self) -> dict[str, float]:
        return {"per_second": self.per_second, "burst_count": self.burst}


GENEROUS = Allowance(10_000, 100_000)
#: Four messages at once, then none for as long as any test takes; what a new room starts with counts too.
STINGY = Allowance(0.001, 4)


class NoHomeserver(Exception):  # noqa: N818 - what is the case, not what kind of thing it is
    """Synapse is not installed, or did not get ready: says which, with the end of its log."""


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as door:
        port: int = door.getsockname()[1]
        return port


def _settings(folder: Path, port: int, secret: dict[str, str], messages: Allowance) -> dict[str, Any]:
    """The settings of a server that talks to nobody but its own users. JSON is YAML, so it needs no writer."""
    free = GENEROUS.row()
    return {
        "server_name": SERVER_NAME,
        "pid_file": str(folder / "homeserver.pid"),
        "public_baseurl": f"http://127.0.0.1:{port}/",
        "listeners": [
            {
                "port": port,
                "type": "http",
                "bind_addresses": ["127.0.0.1"],
                "resources": [{"names": ["client"], "compress": False}],
            }
        ],
        "database": {"name": "sqlite3", "args": {"database": str(folder / "homeserver.db")}},
        "log_config": str(folder / "log.json"),
        "media_store_path": str(folder / "media"),
        "thumbnail_sizes": [],
        "signing_key_path": str(folder / "signing.key"),
        **secret,
        "report_stats": False,
        "suppress_key_server_warning": True,
        "trusted_key_servers": [],
        "federation_domain_whitelist": [],
        "presence": {"enabled": False},
        "bcrypt_rounds": 4,
        "user_directory": {"enabled": False},
        "push": {"enabled": False},
        "stats": {"enabled": False},
        "rc_message": messages.row(),
        "rc_login": {"address": free, "account": free, "failed_attempts": free},
        "rc_joins": {"local": free, "remote": free},
        "rc_joins_per_room": free,
        "rc_invites": {"per_room": free, "per_user": free, "per_issuer": free},
        "rc_room_creation": free,
        "rc_media_create": free,
        "rc_key_requests": free,
        "rc_registration": free,
        "rc_profile": free,
        "rc_admin_redaction": free,
    }


_LOG = {
    "version": 1,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "handlers": {"file": {"class": "logging.FileHandler", "formatter": "plain", "filename": ""}},
    "root": {"level": "WARNING", "handlers": ["file"]},
    "disable_existing_loggers": False,
}


class Homeserver:
    """One server. Data and port stay the same over `stop`, `kill` and `start`.

    `url` is where clients find it; `log` holds its warnings.
    """

    def __init__(self, folder: Path, messages: Allowance = GENEROUS) -> None:
        self.folder = folder
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.log = folder / "homeserver.log"
        names = ("registration_shared_secret", "macaroon_secret_key", "form_secret")
        self._secret = {name: secrets.token_hex() for name in names}
        self._process: subprocess.Popen[bytes] | None = None
        self._paused = False
        self._configure(messages)

    def _configure(self, messages: Allowance) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        log = _LOG | {"handlers": {"file": _LOG["handlers"]["file"] | {"filename": str(self.log)}}}  # type: ignore[index]
        (self.folder / "log.json").write_text(json.dumps(log), encoding="utf-8")
        key = self.folder / "signing.key"
        if not key.exists():
            seed = base64.b64encode(secrets.token_bytes(32)).decode().rstrip("=")
            key.write_text(f"ed25519 a_{secrets.token_hex(2)} {seed}\n", encoding="utf-8")
        settings = _settings(self.folder, self.port, self._secret, messages)
        (self.folder / "homeserver.json").write_text(json.dumps(settings), encoding="utf-8")

    # --- coming and going

    @property
    def pid(self) -> int:
        """The server's own process. Raises `NoHomeserver` if it does not run."""
        if self._process is None or self._process.poll() is not None:
            raise NoHomeserver("it does not run")
        return self._process.pid

    @property
    def running(self) -> bool:
        return self._process is not None and self._process.poll() is None

    async def start(self) -> None:
        """Starts it on its old data and port, and comes back when it answers. Does nothing if it runs already."""
        self.resume()
        if self.running:
            return
        with (self.folder / "homeserver.out").open("ab") as out:
            self._process = subprocess.Popen(
                [sys.executable, "-c", _LAUNCH, str(self.folder / "homeserver.json")],
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=out,
                env={name: value for name, value in os.environ.items() if not name.startswith("PYTHON")},
                start_new_session=True,  # Ctrl-C ends the tests, and they end the server
            )
        until = monotonic() + READY_WITHIN
        async with aiohttp.ClientSession() as session:
            while not await self._answers(session):
                if not self.running or monotonic() > until:
                    code = self._process.poll()
                    self.kill()
                    why = "was not ready in time" if code is None else f"ended with {code}"
                    raise NoHomeserver(f"Synapse {why}: {self.last_words()}")
                await asyncio.sleep(0.05)

    async def _answers(self, session: aiohttp.ClientSession) -> bool:
        try:
            async with session.get(f"{self.url}/_matrix/client/versions") as answer:
                return answer.status == 200
        except aiohttp.ClientError:
            return False

    async def stop(self) -> None:
        """Ends it as an operator does (SIGTERM), by force if it does not go."""
        if self.running:
            self.resume()
            os.kill(self.pid, signal.SIGTERM)
            until = monotonic() + GONE_WITHIN
            while self.running and monotonic() < until:
                await asyncio.sleep(0.02)
        self.kill()

    def kill(self) -> None:
        """Ends it as a power cut does (SIGKILL)."""
        if self._process is not None:
            if self._process.poll() is None:
                self._process.kill()
            self._process.wait()
        self._paused = False

    def pause(self) -> None:
        """Freezes it: connections are accepted and never answered, until `resume`."""
        os.kill(self.pid, signal.SIGSTOP)
        self._paused = True

    def resume(self) -> None:
        if self._paused and self.running:
            os.kill(self.pid, signal.SIGCONT)
        self._paused = False

    def allow(self, messages: Allowance) -> None:
        """Other limits on sending, in force from the next start."""
        self._configure(messages)

    def last_words(self) -> str:
        """The end of what it wrote, for the person who must find out why it does not run."""
        texts = [
            path.read_text(encoding="utf-8", errors="replace")[-2000:]
            for path in (self.log, self.folder / "homeserver.out")
            if path.exists()
        ]
        return "\n".join(texts).strip()

    # --- people

    async def register(self, name: str, password: str, admin: bool = False) -> str:
        """A new account; its user id."""
        register = f"{self.url}/_synapse/admin/v1/register"
        async with aiohttp.ClientSession() as session:
            async with session.get(register) as answer:
                nonce = (await answer.json())["nonce"]
            parts = [nonce, name, password, "admin" if admin else "notadmin"]
            secret = self._secret["registration_shared_secret"]
            mac = hmac.new(secret.encode(), "\0".join(parts).encode(), hashlib.sha1).hexdigest()
            wanted = {"nonce": nonce, "username": name, "password": password, "admin": admin, "mac": mac}
            async with session.post(register, json=wanted) as answer:
                given = await answer.json()
                if answer.status != 200:
                    raise NoHomeserver(f"{name} could not be registered: {given}")
                return str(given["user_id"])
