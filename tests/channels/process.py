"""`triagebot serve` as a process of its own, which is started, stopped and killed.

It is forked from one that has imported all, so that a start costs what it does and not what importing does; where what
a process holds in memory is measured, it is started `fresh`.
"""

import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import ClassVar

from tests.commands import Running


class Process:
    """In a folder with its data, its key and its log; however often it is started."""

    #: Seconds in which it has to be gone once it is told to stop.
    stops_within: ClassVar[float] = 20.0
    fresh: ClassVar[bool] = False

    folder: Path
    process: "subprocess.Popen[bytes] | Running | None" = None

    @property
    def log(self) -> Path:
        return self.folder / "log"

    def said(self) -> bytes:
        """All that it ever told in its log."""
        return self.log.read_bytes() if self.log.exists() else b""

    def launch(self, settings: Mapping[str, str]) -> None:
        """With nothing set but these, which are named without TRIAGEBOT_."""
        ours = {
            "DATA_FOLDER": str(self.folder / "data"),
            "KEY_FILE": str(self.folder / "triagebot.key"),
            "SETTINGS": os.devnull,
            **settings,
        }
        kept = {name: value for name, value in os.environ.items() if not name.startswith("TRIAGEBOT_")}
        given = kept | {f"TRIAGEBOT_{name}": value for name, value in ours.items()}
        self.log.touch()
        if not self.fresh:
            self.process = Running(["serve"], given, self.log)
            return
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "triagebot", "serve"],
                env=given,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
            )

    def kill(self) -> None:
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def stop(self) -> int:
        """What it exits with."""
        assert self.process is not None
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(self.stops_within)

    def end(self) -> None:
        """However it stands."""
        if self.process is not None and self.process.poll() is None:
            self.kill()
