"""What ends a process that serves: SIGTERM and SIGINT end it, SIGHUP starts it again if that would go well, but
ends it where it runs on a terminal, which is gone then."""

import asyncio
import logging
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import NoReturn

log = logging.getLogger(__name__)

#: So many lines are logged of why it would not go well.
MOST_SAID = 10


@dataclass
class End:
    """When this process stops serving, and whether it starts again then. `trying` is set while that is found out."""

    stopped: asyncio.Event = field(default_factory=asyncio.Event)
    again: bool = False
    trying: "asyncio.Task[None] | None" = None

    def hang_up(self) -> None:
        """SIGHUP: starts again with settings, topic and shop as they are now, if it could; else goes on as it is."""
        if self.trying is None or self.trying.done():
            self.trying = asyncio.create_task(self._try())

    async def _try(self) -> None:
        command = [sys.executable, *sys.orig_argv[1:], "--check", "--offline"]
        done = await asyncio.to_thread(
            subprocess.run, command, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
        )
        if done.returncode:
            log.error("SIGHUP: not started again, since that would fail; served as before")
            for line in (done.stdout + done.stderr).splitlines()[:MOST_SAID]:
                log.error("SIGHUP: %s", line)
        elif not self.stopped.is_set():
            log.info("SIGHUP: starting again")
            self.again = True
            self.stopped.set()


def start_again() -> NoReturn:
    """This process becomes a new one with the same command, number and streams."""
    sys.stdout.flush()
    sys.stderr.flush()
    os.execv(sys.executable, [sys.executable, *sys.orig_argv[1:]])


@contextmanager
def signals(end: End) -> Iterator[None]:
    loop = asyncio.get_running_loop()
    # On a terminal it says that the terminal is gone, and means the end.
    loop.add_signal_handler(signal.SIGHUP, end.stopped.set if sys.stdin.isatty() else end.hang_up)
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, end.stopped.set)
    try:
        yield
    finally:
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.remove_signal_handler(number)
        loop.remove_signal_handler(signal.SIGHUP)
        signal.signal(signal.SIGHUP, signal.SIG_IGN)  # what is under way ends, and a new process begins without it
