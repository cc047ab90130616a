"""The fake platform in a process of its own, with people in it who answer whatever bot is on: one command a line.

    python -m tests.bench.telegram_people SCRIPT TOKEN PEOPLE

prints the port, then reads `{"seats", "warm", "seconds", "bot", "limits", "away", "rest", "away_for"}` and prints what
was measured. So many people at a time talk to the bot; who comes to the end makes room for the next, and after the last
the first comes again. Each acts as soon as the bot's message is there, or `rest` seconds later, from inside the
server: acting costs no request, and times are taken where the platform has them: from the moment at which somebody
acts to that at which the bot's next message is in the chat. `limits`: the platform's are on; `away`: so many seconds
lie between it and the bot, each way; `away_for`: it is away for so long before counting begins.
"""

import asyncio
import json
import os
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from tests.bench.telegram_script import Step, plain, read
from tests.doubles.telegram import Limits
from tests.doubles.telegram.acts import Phones
from tests.doubles.telegram.control import Acts
from tests.doubles.telegram.platform import Platform
from tests.doubles.telegram.running import IDLE, Server, end_with
from tests.doubles.telegram.world import Bot, Json

FIRST_PERSON = 10_001
TALKS = ("sendmessage", "sendphoto")
#: Seconds after which it is settled that no answer comes any more.
PATIENCE = 30.0


@dataclass
class Measured:
    """`took` holds the times of the turns that ended in the window, s; `odd` are messages not in the script,
    `refused` requests that went over the platform's limits, `changed` messages that were changed. `recovered` is how
    long after an outage everybody was answered who waited then, s. `processor` and `platform` are the processor time
    of the bot and of the platform, s."""

    took: list[float] = field(default_factory=list)
    ended: int = 0
    odd: list[str] = field(default_factory=list)
    refused: int = 0
    recovered: float = 0.0
    changed: int = 0
    seconds: float = 0.0
    processor: float = 0.0
    platform: float = 0.0


class Crowd:
    """People who act on every message that a bot sends them."""

    def __init__(self, scripts: list[list[Step]], people: int) -> None:
        self.platform = Watched(self.heard, self.asked)
        self.rest = 0.0
        self.acted: dict[int, float] = {}
        self.going = self.counting = False
        self.measured = Measured()
        self._scripts, self._phones = scripts, Phones(self.platform)
        #: How far in their script those are who talk.
        self._reached: dict[int, int] = {}
        self._outside = deque(range(FIRST_PERSON, FIRST_PERSON + people))
        for number in range(people):
            self.platform.world.add_person(f"Person {number}", language="en", number=FIRST_PERSON + number)

    def heard(self, person: int, text: str) -> None:
        """A message of the bot is in somebody's chat."""
        now = time.perf_counter()
        steps, reached = self._scripts[(person - FIRST_PERSON) % len(self._scripts)], self._reached.get(person, 0)
        shown = [at for at in range(reached, len(steps)) if steps[at].shows(text)]
        at = min(shown, key=lambda at: (steps[at].marker not in text, at), default=None)
        if at is None and any(plain(step.caption or "") == text for step in steps):
            return  # a picture, whose words follow it
        acted = self.acted.pop(person, None)
        if acted is None:
            return
        if self.counting:
            self.measured.took.append(now - acted)
        if not self.going:
            return
        step = None if at is None else steps[at]
        if at is not None and step is not None and (step.press or step.text):
            self._reached[person] = at + 1
            self._soon(partial(self._act, person, step))
            return
        if step is None:
            answers = [f"{step.marker}: {step.press or step.text}" for step in steps]
            self.measured.odd.append(f"to {person}, who had reached {reached} of {answers}: {text}")
        self.measured.ended += 1
        self._outside.append(person)
        self._soon(self.sit_down)

    def asked(self, method: str, error: str) -> None:
        """The bot asked for something."""
        if self.counting:
            self.measured.refused += error.startswith("Too Many")
            self.measured.changed += method.startswith("editmessage") and not error

    def _soon(self, act: Callable[[], None]) -> None:
        if self.rest:
            asyncio.get_running_loop().call_later(self.rest, act)
        else:
            act()

    def _act(self, person: int, step: Step) -> None:
        if not self.going:
            return
        self.acted[person] = time.perf_counter()
        if step.press:
            self._phones.press(person, step.press)
        else:
            self._phones.write(person, step.text)

    def sit_down(self) -> None:
        """Who has been outside for longest comes and says hello."""
        if not self.going:
            return
        person = self._outside.popleft()
        self.acted[person] = time.perf_counter()
        self._reached[person] = 0
        self._phones.write(person, "/start")


class Watched(Platform):
    """A platform that tells of a bot's messages and requests, and logs nothing: a long run would fill the memory."""

    def __init__(self, heard: Callable[[int, str], None], asked: Callable[[str, str], None]) -> None:
        super().__init__()
        self._heard = heard
        self._asked = asked

    def record(self, bot: Bot, method: str, params: Json, answer: Any, error: str, fault: str) -> None:
        self._asked(method, error)
        if method in TALKS and not error and not fault:
            self._heard(answer["chat"]["id"], answer.get("text") or answer.get("caption") or "")


def processor_seconds(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def outage(crowd: Crowd, seconds: float) -> float:
    """The platform is away for so long; how long after that (s) everybody is answered who was waiting then."""
    acts = Acts(crowd.platform)
    acts.do({"act": "outage", "seconds": seconds})
    time.sleep(seconds)
    acts.do({"act": "outage", "seconds": 0})
    back, until = time.perf_counter(), time.monotonic() + PATIENCE
    waiting = dict(crowd.acted)
    while any(crowd.acted.get(person) == at for person, at in waiting.items()) and time.monotonic() < until:
        time.sleep(0.005)
    return time.perf_counter() - back


def measure(crowd: Crowd, seats: int, warm: float, seconds: float, bot: int, rest: float, away_for: float) -> Measured:
    """Has so many people talk at the same time, for so long; the first `warm` seconds are not counted. In them, the
    platform is away for so many seconds."""
    crowd.measured, crowd.rest = Measured(), rest
    with crowd.platform.lock:
        crowd.going = True
        for _ in range(seats):
            crowd.sit_down()
    time.sleep(warm)
    if away_for:
        crowd.measured.recovered = outage(crowd, away_for)
    own, began, processor = os.getpid(), time.perf_counter(), processor_seconds(bot)
    platform = processor_seconds(own)
    crowd.counting = True
    time.sleep(seconds)
    crowd.counting = False
    measured = crowd.measured
    measured.seconds = time.perf_counter() - began
    measured.processor = processor_seconds(bot) - processor
    measured.platform = processor_seconds(own) - platform
    crowd.going = False
    until = time.monotonic() + PATIENCE
    while crowd.acted and time.monotonic() < until:
        time.sleep(0.01)
    return measured


def main() -> None:
    script, token, people = sys.argv[1:]
    crowd = Crowd(read(Path(script)), int(people))
    crowd.platform.add_bot(token, "bench_bot")
    server = Server(crowd.platform, idle=IDLE)
    end_with(os.getppid(), server)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    print(server.port, flush=True)
    for line in sys.stdin:
        given = json.loads(line)
        crowd.platform.set_limits(Limits(on=given.pop("limits")))
        crowd.platform.away = given.pop("away")
        measured = measure(crowd, **given)
        left = len(crowd.acted)
        crowd.acted.clear()
        print(json.dumps(measured.__dict__ | {"left": left}), flush=True)
    server.stop()
    thread.join(5)


if __name__ == "__main__":
    main()
