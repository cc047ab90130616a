"""The platform as one thing: its world, its faults, the updates that wait for each bot, and their lock.

Requests of bots and acts of people both come here; `log` records both. An update is forgotten only when the bot asks
for a later one or when its life is over; updates are kept in lanes (a chat's messages, a person's presses), which a
webhook gets side by side.
"""

import math
import threading
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import islice, takewhile
from typing import Any

from tests.doubles.telegram import rules
from tests.doubles.telegram.faults import FaultInjector, Faults, Lane, Transit
from tests.doubles.telegram.rules import NUMBERS_LIVE, USUAL_UPDATES, Refusal
from tests.doubles.telegram.world import Bot, Chat, Clock, Flood, Json, Limits, Message, Press, User, World


@dataclass(slots=True)
class Update:
    number: int
    kind: str
    lane: Lane
    expires: float
    body: dict[str, Any]
    #: How often a webhook refused it, and from when on it may be tried again.
    refused: int = 0
    not_before: float = 0.0

    def json(self) -> dict[str, Any]:
        return {"update_id": self.number, self.kind: self.body}


@dataclass(slots=True)
class Webhook:
    url: str
    secret: str
    connections: int
    last_error: str = ""
    last_error_at: float = 0.0


#: How a held poll ends when its connection is cut.
CUT = "cut"


@dataclass(eq=False)
class Poll:
    """One getUpdates that is held; `ended` names the refusal that it is answered with, or is `CUT`."""

    wake: Callable[[], None]
    ended: str = ""


@dataclass
class Waiting:
    """The updates of one bot, in the order of their numbers, and once more by lane."""

    number: int
    updates: dict[int, Update] = field(default_factory=dict)
    lanes: dict[Lane, dict[int, Update]] = field(default_factory=dict)
    again: deque[Update] = field(default_factory=deque)
    allowed: tuple[str, ...] = USUAL_UPDATES
    webhook: Webhook | None = None
    poll: Poll | None = None
    #: Wakes the person who delivers to the webhook.
    wake_webhook: Callable[[], None] = lambda: None
    _soonest: float = math.inf
    _latest: float = math.inf

    def add(self, kind: str, lane: Lane, now: float, expires: float, body: dict[str, Any]) -> Update | None:
        """The update with its number; None if the bot asked not to get this kind."""
        if kind not in self.allowed:
            return None
        if now - self._latest >= NUMBERS_LIVE:
            self.forget_old(now)
            self.number //= 2
        self._latest = now
        update = Update(self.number, kind, lane, expires, body)
        self.number += 1
        self.updates[update.number] = update
        self.lanes.setdefault(lane, {})[update.number] = update
        self._soonest = min(self._soonest, expires)
        self.wake()
        return update

    def repeat(self, update: Update) -> None:
        """Gives it out once more under the same number, however far the bot has confirmed."""
        self.again.append(update)
        self.wake()

    def forget(self, number: int) -> None:
        update = self.updates.pop(number, None)
        if update is not None:
            del self.lanes[update.lane][number]
            if not self.lanes[update.lane]:
                del self.lanes[update.lane]

    def forget_all(self) -> None:
        self.updates.clear()
        self.lanes.clear()
        self.again.clear()

    def forget_old(self, now: float) -> None:
        if now >= self._soonest:
            for number in [number for number, update in self.updates.items() if update.expires <= now]:
                self.forget(number)
            self._soonest = min((update.expires for update in self.updates.values()), default=math.inf)

    def wake(self) -> None:
        if self.poll is not None:
            self.poll.wake()
        self.wake_webhook()

    def fetch(self, offset: int, limit: int, now: float) -> list[Update]:
        """As getUpdates answers. A positive offset confirms all before it; a negative one counts from the end."""
        self.forget_old(now)
        if offset < 0:
            offset = next(iter(list(self.updates)[offset:]), 0)
        if offset > 0:
            for number in list(takewhile(lambda number: number < offset, self.updates)):
                self.forget(number)
        repeated = [self.again.popleft() for _ in range(min(limit, len(self.again)))]
        return repeated + list(islice(self.updates.values(), limit - len(repeated)))

    def heads(self, now: float) -> Iterator[Update]:
        """The first update of every lane, for a webhook: the next of a lane follows when this one was taken."""
        self.forget_old(now)
        return (next(iter(lane.values())) for lane in list(self.lanes.values()))

    def end_poll(self, refusal: str) -> None:
        if self.poll is not None:
            self.poll.ended = refusal
            self.poll.wake()
            self.poll = None


#: Numbers of the first updates; far from the numbers of messages, so that nobody takes one for the other.
FIRST_UPDATE = 700_000_001


@dataclass(frozen=True, slots=True)
class Entry:
    """One request of a bot: what it was about and what became of it. `fault` is the one it met, "" if none."""

    number: int
    at: float
    bot: int
    method: str
    chat: str
    message: int
    error: str
    fault: str


@dataclass
class Platform:
    """Everything the server knows. Hold `lock` for whatever reads or changes more than one value."""

    world: World = field(default_factory=World)
    clock: Clock = field(default_factory=Clock)
    injector: FaultInjector = field(default_factory=lambda: FaultInjector(Faults()))
    flood: Flood = field(default_factory=Flood)
    log: list[Entry] = field(default_factory=list)
    waiting: dict[str, Waiting] = field(default_factory=dict)
    press_answered_within: float = rules.PRESS_ANSWERED_WITHIN
    #: Waits between deliveries to a webhook are multiplied by this, so that tests need not wait a minute.
    webhook_pace: float = 1.0
    #: Seconds that a request takes until it is here, and its answer until it is there.
    away: float = 0.0

    def __post_init__(self) -> None:
        self.lock = threading.RLock()
        self.transit = Transit(self.injector)
        #: Called when something is under way that is due later, so that somebody releases it then.
        self.later: Callable[[], None] = lambda: None
        #: Told of every bot that is added, so that somebody carries its updates to its webhook.
        self.on_bot: Callable[[Bot], None] = lambda bot: None

    def add_bot(self, token: str, username: str) -> Bot:
        with self.lock:
            bot = self.world.add_bot(token, username)
            self.waiting[token] = Waiting(FIRST_UPDATE)
        self.on_bot(bot)
        return bot

    def set_faults(self, faults: Faults) -> None:
        self.injector.faults = faults

    def set_limits(self, limits: Limits) -> None:
        self.flood = Flood(limits)

    # What is said

    def post(
        self,
        bot: Bot | None,
        chat: Chat,
        sender: User,
        content: Json,
        *,
        thread: int = 0,
        reply_to: Message | None = None,
        keyboard: list[list[Json]] | None = None,
    ) -> Message:
        """Puts a message into the chat, for everybody in it to see."""
        number = self.world.number_message(bot, chat)
        message = Message(number, chat, sender, self.clock.now(), content, thread, keyboard or [], reply_to=reply_to)
        chat.messages[number] = message
        return message

    def tell(self, bot: Bot, kind: str, person: int, body: Json, *, lane: Lane) -> None:
        """Sends an update to a bot, with the present faults."""
        waiting, now = self.waiting[bot.token], self.clock.now()
        is_press = kind == "callback_query"
        expires = now + (rules.PRESS_LIVES if is_press else rules.MESSAGE_LIVES)
        sent: list[Update | None] = []

        def deliver() -> None:
            sent.append(waiting.add(kind, lane, self.clock.now(), expires, body))

        def again() -> None:
            if is_press:
                waiting.add(kind, lane, self.clock.now(), expires, self._resent(bot, body))
            elif sent and sent[0] is not None:
                waiting.repeat(sent[0])

        other: Lane = ("message", body["message"]["chat"]["id"]) if is_press else ("press", person)
        self.transit.send(lane, other, now, deliver, again)
        if self.transit.lanes:
            self.later()

    def _resent(self, bot: Bot, body: Json) -> Json:
        """The same press as the phone sends it again: half of the time with a query id of its own."""
        if self.injector.draws("resent", bot.user.id).random() < 0.5:
            return body
        before = bot.presses[body["id"]]
        return self.press(bot, before.person, before.message, before.data).json()

    def press(self, bot: Bot, person: User, message: Message, data: str) -> Press:
        """Keeps a press, so that it can be answered; nothing is sent yet."""
        press = Press(self.world.number_press(), person, message, data, self.clock.now())
        bot.presses[press.id] = press
        message.chat.presses.append(press)
        return press

    # What bots are answered

    def count(self, bot: Bot, chat: Chat) -> None:
        """Refuses if the bot says more than the limits allow."""
        is_group = chat.kind != "private"
        seconds = self.flood.count(bot.user.id, chat.id, self.clock.now(), is_group=is_group)
        if seconds:
            raise Refusal("too-many", seconds=seconds, parameters={"retry_after": seconds})

    def record(self, bot: Bot, method: str, params: Json, answer: Any, error: str, fault: str) -> None:
        chat, message = params.get("chat_id", ""), params.get("message_id", 0)
        if isinstance(answer, dict) and "message_id" in answer:
            message = answer["message_id"]
        number = int(message) if str(message).isdigit() else 0
        entry = Entry(len(self.log) + 1, self.clock.now(), bot.user.id, method, str(chat), number, error, fault)
        self.log.append(entry)
