"""Rendering in a process kept for it. The renderer holds the interpreter while it works, a tenth of a second and more
for a picture, and an event loop would stand still as long.

This file decides when that process is started (with the first picture) and ended (at exit; it ends by
itself when this process is killed), how long it may take over one picture, and after how many deaths in a row it is
given up. Whatever happens to it, the picture is rendered: then in this process.
"""

import atexit
import sys
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from subprocess import DEVNULL, PIPE, Popen, TimeoutExpired
from threading import Lock, Timer

from triagebot.pictures import raster

PROGRAM = Path(raster.__file__).resolve()
#: Seconds for one picture, and for ending; and so many deaths in a row are enough.
PATIENCE, FAREWELL = 20.0, 2.0
ENOUGH = 3


@dataclass(slots=True)
class _Aside:
    """The process beside this one, if it runs. Used by one thread at a time."""

    process: Popen[bytes] | None = None
    deaths: int = 0
    lock: Lock = field(default_factory=Lock)

    def ask(self, svg: str) -> bytes | None:
        """A picture as PNG; None when the process is given up or died over it."""
        with self.lock:
            if self.deaths >= ENOUGH:
                return None
            try:
                answer = self._answer(svg)
            except OSError:
                answer = None
            if answer is None:
                self.deaths += 1
                self._end(0.0)
            else:
                self.deaths = 0
            return answer

    def _answer(self, svg: str) -> bytes | None:
        process = self.process
        if process is None or process.poll() is not None:
            process = self._start()
        assert process.stdin is not None
        assert process.stdout is not None
        late = Timer(PATIENCE, process.kill)
        late.daemon = True
        late.start()
        try:
            raster.send(process.stdin, svg.encode())
            return raster.received(process.stdout)
        finally:
            late.cancel()

    def _start(self) -> "Popen[bytes]":
        self._end(0.0)
        command = [sys.executable, "-P", str(PROGRAM)]  # -P: the modules beside that file must not hide others
        self.process = Popen(command, stdin=PIPE, stdout=PIPE, stderr=DEVNULL)
        return self.process

    def end(self) -> None:
        """Ends the process, if it runs."""
        with self.lock:
            self._end(FAREWELL)

    def _end(self, patience: float) -> None:
        process, self.process = self.process, None
        if process is None:
            return
        for pipe in (process.stdin, process.stdout):
            assert pipe is not None
            with suppress(OSError):  # what was not written yet cannot be any more
                pipe.close()
        try:
            process.wait(patience)
        except TimeoutExpired:
            process.kill()
            process.wait()


_ASIDE = _Aside()
atexit.register(_ASIDE.end)


def rendered_elsewhere(svg: str) -> bytes:
    """As `raster.rendered`, but in a process kept for it."""
    return _ASIDE.ask(svg) or raster.rendered(svg)
