"""The platform as one thing: its world, clock, weather and limits, and the lock under which all of them change.

Requests of bots and acts of people both come here; both are recorded in `log`.
"""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from tests.doubles.telegram import rules
from tests.doubles.telegram.clock import Clock
from tests.doubles.telegram.flood import Flood, Limits
from tests.doubles.telegram.rules import Refusal
from tests.doubles.telegram.updates import Lane, Update, Waiting
from tests.doubles.telegram.weather import Road, Sky, Weather
from tests.doubles.telegram.world import Bot, Chat, Json, Message, Press, User, World

#: Numbers of the first updates; far from the numbers of messages, so that nobody takes one for the other.
FIRST_UPDATE = 700_000_001


@dataclass(frozen=True, slots=True)
class Entry:
    """One request of a bot: what it was about and what became of it. `fault` is the weather it met, "" if none."""

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
    sky: Sky = field(default_factory=lambda: Sky(Weather()))
    flood: Flood = field(default_factory=Flood)
    log: list[Entry] = field(default_factory=list)
    waiting: dict[str, Waiting] = field(default_factory=dict)
    press_answered_within: float = rules.PRESS_ANSWERED_WITHIN
    #: Waits between deliveries to a webhook are multiplied by this, so that tests need not wait a minute.
    webhook_pace: float = 1.0

    def __post_init__(self) -> None:
        self.lock = threading.RLock()
        self.road = Road(self.sky)
        #: Called when something is under way that is due later, so that somebody releases it then.
        self.later: Callable[[], None] = lambda: None
        #: Told of every bot that is added, so that somebody carries its updates to its webhook.
        self.on_bot: Callable[[Bot], None] = lambda bot: None

    def add_bot(self, token: str, username: str, *, reads_all: bool = False) -> Bot:
        with self.lock:
            bot = self.world.add_bot(token, username, reads_all=reads_all)
            self.waiting[token] = Waiting(FIRST_UPDATE)
        self.on_bot(bot)
        return bot

    def set_weather(self, weather: Weather) -> None:
        self.sky.weather = weather

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
        """Sends an update to a bot, through the present weather."""
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
        self.road.send(lane, other, now, deliver, again)
        if self.road.lanes:
            self.later()

    def _resent(self, bot: Bot, body: Json) -> Json:
        """The same press as the phone sends it again: half of the time with a query id of its own."""
        if self.sky.draws("resent", bot.user.id).random() < 0.5:
            return body
        before = bot.presses[body["id"]]
        return self.press(bot, before.person, before.message, before.data).json()

    def press(self, bot: Bot, person: User, message: Message, data: str) -> Press:
        """Keeps a press, so that it can be answered; nobody is told of it yet."""
        press = Press(self.world.number_press(), person, message, data, self.clock.now())
        bot.presses[press.id] = press
        message.chat.presses.append(press)
        return press

    # What bots are answered

    def count(self, bot: Bot, chat: Chat, *, is_edit: bool = False) -> None:
        """Refuses if the bot says more than the limits allow."""
        is_group = chat.kind != "private"
        seconds = self.flood.count(bot.user.id, chat.id, self.clock.now(), is_group=is_group, is_edit=is_edit)
        if seconds:
            raise Refusal("too-many", seconds=seconds, parameters={"retry_after": seconds})

    def record(self, bot: Bot, method: str, params: Json, answer: Any, error: str, fault: str) -> None:
        chat, message = params.get("chat_id", ""), params.get("message_id", 0)
        if isinstance(answer, dict) and "message_id" in answer:
            message = answer["message_id"]
        number = int(message) if str(message).isdigit() else 0
        entry = Entry(len(self.log) + 1, self.clock.now(), bot.user.id, method, str(chat), number, error, fault)
        self.log.append(entry)
