"""Acts as JSON, the same for a test in this process and for one that talks to a server of its own.

`{"act": "write", "person": 1001, "text": "hello"}` calls `Acts.write`. Bytes travel as base64.
"""

import base64
from typing import Any

from tests.doubles.telegram.acts import NotPossible, Phones
from tests.doubles.telegram.faults import Faults
from tests.doubles.telegram.methods import menu
from tests.doubles.telegram.platform import CUT
from tests.doubles.telegram.world import Json, Limits, Message, Topic

#: What phones and the control channel use among themselves, which is no act.
_INNER = ("do", "bot", "person", "chat", "say", "platform", "world")


class Acts(Phones):
    """What people do on their phones, and what a test changes and looks at."""

    def do(self, given: Json) -> Any:
        """One act by its name; raises what the act raises."""
        named = dict(given)
        name = str(named.pop("act", ""))
        act = getattr(self, name, None) if name[:1].isalpha() and name not in _INNER else None
        if not callable(act):
            raise NotPossible(f"there is no act {name!r}")
        if "data" in named:
            named["data"] = base64.b64decode(named["data"])
        with self.platform.lock:
            return act(**named)

    # Setting the scene

    def add_bot(self, token: str, username: str) -> int:
        return self.platform.add_bot(token, username).user.id

    def add_person(self, name: str, username: str = "", language: str = "", number: int = 0) -> int:
        return self.platform.world.add_person(name, username=username, language=language, number=number).id

    def set_faults(self, **faults: Any) -> None:
        self.platform.set_faults(Faults.of(faults))

    def set_limits(self, **limits: Any) -> None:
        self.platform.set_limits(Limits(**limits))

    def inject(self, method: str, fault: Any, times: int = 1) -> None:
        self.platform.injector.inject(method, fault, times)

    def outage(self, seconds: float) -> None:
        """Nothing goes in or out for this long on the platform's clock; 0 ends it."""
        self.platform.injector.outage_until = self.platform.clock.now() + seconds
        if seconds:
            for waiting in self.platform.waiting.values():
                waiting.end_poll(CUT)

    def skip(self, seconds: float) -> None:
        self.platform.clock.skip(seconds)
        self.platform.transit.release(self.platform.clock.now())

    def tune(
        self, press_answered_within: float | None = None, webhook_pace: float | None = None, away: float | None = None
    ) -> None:
        if press_answered_within is not None:
            self.platform.press_answered_within = press_answered_within
        if webhook_pace is not None:
            self.platform.webhook_pace = webhook_pace
        if away is not None:
            self.platform.away = away

    # Ends of chats

    def delete_account(self, person: int) -> None:
        self.person(person).gone = True

    def close_topic(self, group: int, thread: int, closed: bool = True) -> None:
        self.platform.world.groups[group].topics[thread].closed = closed

    def make_forum(self, group: int, topic: str) -> None:
        """Its owner switches topics on."""
        where = self.platform.world.groups[group]
        where.numbered += 1
        where.topics[where.numbered] = Topic(topic)

    def let_make_topics(self, group: int, bot: str = "") -> None:
        self.platform.world.groups[group].topic_makers.add(self.bot(bot).user.id)

    def delete_topic(self, group: int, thread: int) -> None:
        where = self.platform.world.groups[group]
        del where.topics[thread]
        for message in where.messages.values():
            message.deleted = message.deleted or message.thread == thread

    # Looking

    def screen(self, person: int = 0, chat: int = 0, bot: str = "") -> Json:
        where = self.chat(person, chat, bot)
        notices = [
            {"message": press.message.id, "person": press.person.id, "text": press.notice, "alert": press.alert}
            for press in where.presses
            if press.notice
        ]
        title = where.title or self.bot(bot).user.first_name
        shown = [_shown(message) for _, message in sorted(where.messages.items()) if not message.deleted]
        unanswered = sum(not press.answered for press in where.presses)
        return {"title": title, "messages": shown, "notices": notices, "unanswered": unanswered}

    def menu(self, person: int, chat: int = 0, bot: str = "") -> list[Json]:
        where, who = self.chat(person, chat, bot), self.person(person)
        return menu(self.bot(bot), where, who.language)

    def description(self, language: str = "", bot: str = "") -> Json:
        owner = self.bot(bot)
        kinds = {"description": owner.descriptions, "short_description": owner.short_descriptions}
        return {name: texts.get(language, texts.get("", "")) for name, texts in kinds.items()}

    def log(self, after: int = 0) -> list[list[Any]]:
        return [
            [entry.number, entry.at, entry.bot, entry.method, entry.chat, entry.message, entry.error, entry.fault]
            for entry in self.platform.log[after:]
        ]

    def holding(self, bot: str = "") -> bool:
        """Whether a request of the bot's for updates is open."""
        return self.platform.waiting[self.bot(bot).token].poll is not None

    def pending(self, bot: str = "") -> int:
        """Updates that the bot has not confirmed, and those under way to it."""
        waiting = self.platform.waiting[self.bot(bot).token]
        waiting.forget_old(self.platform.clock.now())
        return len(waiting.updates) + len(waiting.again) + sum(map(len, self.platform.transit.lanes.values()))


def _shown(message: Message) -> Json:
    content = message.content
    kinds = ("text", "photo", "voice", "sticker", "document", "location", "contact")
    kind = next((name for name in kinds if name in content), "service")
    picture = content["photo"][-1]["file_id"] if kind == "photo" else ""
    return {
        "id": message.id,
        "by": message.sender.name,
        "person": 0 if message.sender.is_bot else message.sender.id,
        "kind": kind,
        "text": content.get("text", content.get("caption", "")),
        "entities": content.get("entities", content.get("caption_entities", [])),
        "rows": message.keyboard,
        "picture": picture,
        "album": content.get("media_group_id", ""),
        "edited": bool(message.edited),
        "thread": message.thread,
        "reply_to": message.reply_to.id if message.reply_to else 0,
    }
