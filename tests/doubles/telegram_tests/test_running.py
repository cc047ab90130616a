"""How the server is started and how it ends: by itself, with its parent, after a rest."""

import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from telegram.error import NetworkError

from tests.doubles.telegram import Faults, NotPossible, serve, serve_apart
from tests.doubles.telegram_tests.stage import client, fresh_token

ROOT = Path(__file__).parents[3]
MODULE = "tests.doubles.telegram"


def is_listening(port: int, host: str = "127.0.0.1") -> bool:
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex((host, port)) == 0


def ends(port: int, within: float) -> bool:
    until = time.monotonic() + within
    while is_listening(port):
        if time.monotonic() > until:
            return False
        time.sleep(0.05)
    return True


@pytest.mark.asyncio
async def test_a_server_apart_does_all_that_one_in_a_thread_does() -> None:
    with serve_apart() as telegram:
        token = fresh_token()
        assert telegram.add_bot(token, "some_bot") == int(token[:9])
        ada = telegram.add_person("Ada")
        ada.start()
        ada.send("photo", data=b"\xff\xd8\xff\xc0\x00\x0b\x08\x00\x10\x00\x10\x01\x01\x11\x00\xff\xd9", caption="here")
        async with client(telegram, token) as bot:
            updates = await bot.get_updates()
            assert [update.message.caption for update in updates if update.message] == [None, "here"]
            telegram.set_faults(Faults(seed=3, drop=1, methods=("getme",)))
            ada.write("lost")
            telegram.inject("sendMessage", "cut")
            with pytest.raises(NetworkError):
                await bot.send_message(ada.id, "applied")
            assert ada.screen().last.text == "applied"
            assert await bot.get_updates(offset=updates[-1].update_id + 1) == ()
        with pytest.raises(NotPossible, match="no button 'Yes' is shown"):
            ada.press("Yes")
        assert [(entry.method, entry.fault) for entry in telegram.log()] == [("getme", ""), ("sendmessage", "cut")]
        port = telegram.port
    assert ends(port, within=5)


def test_it_listens_on_the_loopback_only() -> None:
    with serve() as telegram:
        assert is_listening(telegram.port)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect(("192.0.2.1", 9))  # sends nothing; shows which address would be used
                outside = probe.getsockname()[0]
            except OSError:
                pytest.skip("this machine has no address but the loopback")
        assert not is_listening(telegram.port, outside)
    assert not is_listening(telegram.port)


def test_a_named_port_is_taken_and_a_taken_one_is_an_error() -> None:
    with serve() as telegram, pytest.raises(OSError, match="in use"), serve(port=telegram.port):
        pass


def test_it_ends_when_nobody_asks_for_anything() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", MODULE, "--idle", "0.5"], stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as process:
        assert process.stdout is not None
        port = int(process.stdout.readline())
        assert is_listening(port)
        assert process.wait(10) == 0


def test_it_ends_with_the_person_who_started_it() -> None:
    script = (
        f"import subprocess, sys, time\n"
        f"child = subprocess.Popen([sys.executable, '-m', '{MODULE}'], stdout=subprocess.PIPE, text=True)\n"
        f"print(child.stdout.readline().strip(), flush=True)\n"
        f"time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True, cwd=ROOT) as parent:
        assert parent.stdout is not None
        port = int(parent.stdout.readline())
        assert is_listening(port)
        parent.kill()
    assert ends(port, within=10)
