"""A bot of nothing but the client library: it joins where it is invited and says every `m.text` again.

What a channel's round trip is measured against. It runs in a process of its own, as a bot does:
`python echo.py URL USER_ID FOLDER` with the password on stdin; it prints "ready" once it listens, and ends with
the process that started it.
"""

import asyncio
import ctypes
import signal
import sys
from pathlib import Path
from types import TracebackType
from typing import Self

import nio

READY_WITHIN = 30.0  # seconds


class Echo:
    """The process. `user_id` is whom to invite."""

    def __init__(self, url: str, user_id: str, password: str, folder: Path) -> None:
        self.user_id = user_id
        self._command = [sys.executable, __file__, url, user_id, str(folder)]
        self._password = password
        self._process: asyncio.subprocess.Process | None = None

    async def __aenter__(self) -> Self:
        pipe = asyncio.subprocess.PIPE
        self._process = await asyncio.create_subprocess_exec(*self._command, stdin=pipe, stdout=pipe)
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(f"{self._password}\n".encode())
        self._process.stdin.close()
        said = await asyncio.wait_for(self._process.stdout.readline(), READY_WITHIN)
        if said.strip() != b"ready":
            await self.__aexit__(None, None, None)
            raise RuntimeError(f"the echo bot did not get ready: {said!r}")
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        assert self._process is not None
        if self._process.returncode is None:
            self._process.kill()
        await self._process.wait()


async def listen(url: str, user_id: str, folder: str, password: str) -> None:
    Path(folder).mkdir(parents=True, exist_ok=True)
    client = nio.AsyncClient(url, user_id, store_path=folder, config=nio.AsyncClientConfig())

    async def invited(room: nio.MatrixInvitedRoom, event: nio.InviteMemberEvent) -> None:
        if event.state_key == client.user_id and event.membership == "invite":
            await client.join(room.room_id)

    async def said(room: nio.MatrixRoom, event: nio.RoomMessageText) -> None:
        if event.sender != client.user_id:
            content = {"msgtype": "m.text", "body": event.body}
            await client.room_send(room.room_id, "m.room.message", content, ignore_unverified_devices=True)

    async def ready(_: nio.SyncResponse) -> None:
        if not client.should_upload_keys:
            print("ready", flush=True)
            client.response_callbacks.clear()

    await client.login(password)
    client.add_event_callback(invited, nio.InviteMemberEvent)
    client.add_event_callback(said, nio.RoomMessageText)
    client.add_response_callback(ready, nio.KeysUploadResponse)
    await client.sync_forever(30_000)


if __name__ == "__main__":
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG
    asyncio.run(listen(*sys.argv[1:4], sys.stdin.readline().strip()))
