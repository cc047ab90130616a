"""What a `Seen` says to the bot, as `Incoming` messages for the delivery. Nothing is looked up or sent here.

Decided here and nowhere else:
- In a direct room everything is for the bot, and a conversation is one person's, whichever room they use. In any other
  room only a message counts that mentions the bot, answers it, or is in a thread where it talks with that person
  already; and a conversation is one person's in one thread of one room.
- A direct room into which more people come: the person it was alone with keeps their conversation, and each
  newcomer is asked whose wheel it is about (`turns.newcomers`): the first as soon as they are in.
- What replies to a message that was put to somebody else, or says a mere number in a thread where the bot talks with
  somebody else, is brought as such.
- A room that was upgraded keeps its first id in the names of its conversations.
- People behind a bridge share an account; the name before what they say tells them apart. Without a name it is nobody.
- In the staff's room a message in a case's thread is an answer, whether it replies to the bot or to nothing, and so is
  a correction of one. What replies to somebody else stays there; what names somebody else is brought as no answer.
  Nobody behind a bridge is heard there.
- A reply in a direct room says which message it answers.
- What a command begins with, and what counts as a number under a message.
- That a message cannot be decrypted is told once, until one of the same person's in the same room can be.

A correction and a reaction do not name their thread. So each goes to all conversations that its sender has in that
room, under one key; the delivery knows the one that it concerns.
"""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from triagebot.channels.matrix.layout import meant_by
from triagebot.channels.matrix.seen import Room, Seen
from triagebot.messages import Arrived, Beside, Chose, Commanded, Edited, Incoming, InRoom, Joined, Reacted, Said, Sent
from triagebot.messages.codes import read_code
from triagebot.messages.message import Content

NAME = "matrix"

#: The commands by what people write for them; whatever else begins like one counts as words.
COMMANDS: Mapping[str, str] = {
    **{name: name for name in ("help", "back", "case", "privacy", "export", "forget", "language", "person", "stop")},
    "cancel": "stop",
}
_COMMAND = re.compile(r"[!/]([^\W\d_]{1,32})(?:\s+(.*))?", re.DOTALL)
#: What makes a keycap of a digit, and an emoji of a character.
_KEYCAP = str.maketrans("", "", "\ufe0e\ufe0f\u20e3")
_NUMBER = re.compile(r"\d{1,3}[.!]?")
_TEN = "\N{KEYCAP TEN}"
#: How many threads of one person in one room are remembered, the last ones, and of how many people.
MOST_THREADS, MOST_PEOPLE = 20, 500
#: How many answers of the staff are remembered with their threads, the last ones.
MOST_ANSWERS = 200


@dataclass(frozen=True, slots=True)
class _Who:
    """Somebody: `id` tells them from all others; `called` is the name of somebody behind a bridge."""

    id: str
    called: str = ""


@dataclass(slots=True)
class Reader:
    """`user` and `name` are the bot's own. `bridges`: for a bridge's account, the pattern of what it puts before what
    people say, with a group `name`. `threads`: where the bot talks with somebody, by room and person. `told`: who was
    told, and where, that a message cannot be decrypted. `alone`: with whom the bot was alone in a room, what they are
    called, and whether others have come in since. `staff`: the staff's room ("" for none); `answers`: the threads
    of answers there."""

    user: str
    name: str
    language: str
    languages: tuple[str, ...]
    bridges: Mapping[str, re.Pattern[str]] = field(default_factory=dict)
    threads: dict[str, list[str]] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)
    alone: dict[str, tuple[str, str, bool]] = field(default_factory=dict)
    staff: str = ""
    answers: dict[str, str] = field(default_factory=dict)

    def read(self, seen: Seen) -> tuple[Incoming, ...]:
        """The delivery takes one of these at most, since all have the same key."""
        who, text = self._who(seen)
        if who is None:
            return ()
        if self.staff and self.staff in (seen.room.id, seen.room.first):
            return tuple(self._in_the_room(seen, who))
        seen = replace(seen, room=self._as_before(seen.room))
        if seen.kind == "joined":
            return tuple(self._joined(seen, who))
        if seen.kind == "reaction":
            return tuple(self._reacted(seen, who))
        if seen.kind == "correction":
            return tuple(self._corrected(seen, who, text))
        if seen.kind == "redaction":
            return tuple(self._taken_back(seen, who))
        if not self._addressed(seen, who):
            return ()
        beside = self._beside(seen, who)
        if beside is None or beside.conversation or not seen.thread:
            self._remember(seen, who)
        if seen.kind == "undecryptable":
            return tuple(self._undecryptable(seen, who))
        self._readable(seen, who)
        return (replace(self._incoming(seen, who, seen.thread, self._content(seen, text)), beside=beside),)

    # --- what has to be remembered ----------------------------------------------------------------------------------

    def kept(self) -> dict[str, Any]:
        """What a reader must know after a restart, as a JSON object."""
        return {"threads": self.threads, "told": self.told, "answers": self.answers, "alone": self.alone}

    def restore(self, kept: Mapping[str, Any]) -> None:
        self.threads = {str(where): [str(thread) for thread in each] for where, each in kept.get("threads", {}).items()}
        self.told = [str(where) for where in kept.get("told", ())]
        self.answers = {str(event): str(thread) for event, thread in kept.get("answers", {}).items()}
        self.alone = {
            str(room): (str(who), str(name), bool(more)) for room, (who, name, more) in kept.get("alone", {}).items()
        }

    def _in_the_room(self, seen: Seen, who: _Who) -> Iterator[Incoming]:
        """An answer in the staff's room, or what is written in a thread there to somebody else; whether its sender is
        staff is looked up when it is taken in."""
        answers = seen.answers_us or seen.mentions_us or not seen.mentions_others
        if seen.kind == "correction":
            thread, answers = self.answers.get(seen.about, ""), True
            content: Content = Edited(seen.text, seen.about)
        elif seen.kind in ("words", "picture", "thing") and (seen.answers_us or not seen.answers):
            thread, content = seen.thread, _plainly(replace(seen, text=self._without_name(seen.text, direct=True)))
        else:
            return
        if not thread or who.called:
            return
        if answers and seen.kind != "correction":
            self.answers[seen.id] = thread
            self.answers = dict(list(self.answers.items())[-MOST_ANSWERS:])
        address = {"room": seen.room.id, "thread": thread, "reply": seen.id}
        incoming = self._incoming(seen, who, thread, content)
        yield replace(incoming, address=address, private=False, room=InRoom(who.id, thread, answers=answers))

    def forget(self, conversation: str) -> None:
        """Keeps nothing of this conversation, whose person wants to be forgotten."""
        person = conversation
        if conversation.startswith("!"):
            first, thread, person = conversation.split(" ", 2)
            where = f"{first} {person}"
            left = [each for each in self.threads.get(where, ()) if each != ("" if thread == "-" else thread)]
            self.threads = {each: left if each == where else known for each, known in self.threads.items()}
        else:
            self.threads = {each: known for each, known in self.threads.items() if not each.endswith(f" {person}")}
            self.alone = {room: known for room, known in self.alone.items() if known[0] != person}
        self.threads = {each: known for each, known in self.threads.items() if known}
        self.told = [each for each in self.told if not each.endswith(f" {person}")]

    def met(self, room: Room, who: str, name: str = "") -> None:
        """The bot is alone with somebody in a room."""
        self.alone.pop(room.first, None)
        self.alone[room.first] = (who, name, False)
        while len(self.alone) > MOST_PEOPLE:
            del self.alone[next(iter(self.alone))]

    def _remember(self, seen: Seen, who: _Who) -> None:
        if seen.room.direct and not who.called:
            self.met(seen.room, who.id, seen.name)
        where = f"{seen.room.first} {who.id}"
        known = self.threads.pop(where, [])
        if seen.room.direct:
            left = [seen.thread] if seen.thread else []
        else:
            left = [*(each for each in known if each != seen.thread), seen.thread][-MOST_THREADS:]
        if left:
            self.threads[where] = left
        while len(self.threads) > MOST_PEOPLE:
            del self.threads[next(iter(self.threads))]

    def _known(self, room: Room, who: _Who) -> list[str]:
        """The threads ("" is none) of somebody's conversations in a room; in a direct room, the one where they wrote
        last."""
        known = self.threads.get(f"{room.first} {who.id}", [])
        if room.direct:
            return (known or [""])[-1:]
        return known or ([""] if self._keeps(room, who) else [])

    # --- who and where ----------------------------------------------------------------------------------------------

    def _who(self, seen: Seen) -> tuple[_Who | None, str]:
        """Who says it, and what, without the name that a bridge puts before it. None is nobody."""
        bridge = self.bridges.get(seen.sender)
        if bridge is None:
            return _Who(seen.sender), seen.text
        match = bridge.match(seen.text)
        name = " ".join(match["name"].split()) if match is not None else ""
        if match is None or not name:
            return None, ""
        return _Who(f"{seen.sender} {name}", name), seen.text[match.end() :]

    def _as_before(self, room: Room) -> Room:
        """A room as it is to whom the bot was alone with there: somebody who is only invited changes nothing."""
        known = self.alone.get(room.first)
        return replace(room, direct=True) if known is not None and room.alone == known[0] else room

    def _keeps(self, room: Room, who: _Who) -> bool:
        """Whether it is the one with whom the bot was alone there before others came in."""
        return room.first in self.alone and self.alone[room.first][0] == who.id

    def _addressed(self, seen: Seen, who: _Who) -> bool:
        if seen.room.direct or seen.mentions_us or seen.answers_us:
            return True
        return bool(seen.thread) and (seen.thread in self._known(seen.room, who) or bool(self._thread_of(seen, who)))

    def _thread_of(self, seen: Seen, who: _Who) -> str:
        """With whom the bot talks in the thread where somebody else says a mere number; "" for anything else."""
        if seen.kind != "words" or seen.answers or not _NUMBER.fullmatch(seen.text.strip()):
            return ""
        here, own = f"{seen.room.first} ", f"{seen.room.first} {who.id}"
        others = (where for where, threads in self.threads.items() if seen.thread in threads and where != own)
        return next((where.removeprefix(here) for where in others if where.startswith(here)), "")

    def _beside(self, seen: Seen, who: _Who) -> Beside | None:
        """Somebody else whom a message may be about."""
        if seen.room.direct or who.called:
            return None
        if seen.room.first in self.alone and not self._keeps(seen.room, who):
            other, name, _ = self.alone[seen.room.first]
            return Beside(name or _called(other), other)
        if seen.answers_us and seen.put_to not in ("", who.id):
            return Beside(seen.put_to_name or _called(seen.put_to))
        if seen.thread and seen.thread not in self._known(seen.room, who) and (other := self._thread_of(seen, who)):
            return Beside(_called(other))
        return None

    def _conversation(self, room: Room, thread: str, who: _Who) -> str:
        return who.id if room.direct or self._keeps(room, who) else f"{room.first} {thread or '-'} {who.id}"

    def _address(self, seen: Seen, who: _Who, thread: str) -> dict[str, Any]:
        address: dict[str, Any] = {"room": seen.room.id}
        if thread:
            address["thread"] = thread
        if thread or not seen.room.direct:
            address["reply"] = seen.about or seen.id
        if not seen.room.direct:
            address["person"] = seen.sender
        if who.called:
            address["called"] = who.called
        return address

    def _incoming(self, seen: Seen, who: _Who, thread: str, content: Content, key: str = "") -> Incoming:
        return Incoming(
            channel=NAME,
            key=key or seen.id,
            conversation=self._conversation(seen.room, thread, who),
            address=self._address(seen, who, thread),
            content=content,
            at=seen.at,
            language=self.language,
            private=seen.room.direct and not who.called,
            answers=seen.answers if seen.room.direct else "",
        )

    # --- what is said -----------------------------------------------------------------------------------------------

    def _content(self, seen: Seen, text: str) -> Content:
        said = self._without_name(text, direct=seen.room.direct)
        if seen.kind == "picture":
            return Sent("photo", (seen.file,) if seen.file else (), said)
        if seen.kind == "thing":
            return Sent(seen.what or "thing", note=said)
        command = _COMMAND.fullmatch(said)
        if command is not None:
            return self._commanded(command[1].lower(), (command[2] or "").strip(), said)
        return Said(said) if said or seen.room.direct else Arrived()

    def _commanded(self, command: str, rest: str, text: str) -> Content:
        if command == "start":
            code = read_code(rest) or ""
            return Arrived(rest.lower() == "new", code, "" if code or rest.lower() == "new" else rest)
        if command == "language" and rest in self.languages:
            return Chose(rest)
        return Commanded(COMMANDS[command]) if command in COMMANDS else Said(text)

    def _without_name(self, text: str, *, direct: bool) -> str:
        """The text without the bot's name, which in a direct room may be a word like any other."""
        account = re.escape(self.user.split(":", 1)[0])
        text = re.sub(rf"(?<!\S){re.escape(self.user)}(?!\w)[,:]?|(?<!\S){account}(?![\w:.-])[,:]?", "", text)
        if self.name:
            name = re.escape(self.name)
            text = re.sub(rf"(?<!\w)@{name}(?!\w)[,:]?|\A\s*{name}\s*[,:]", "", text, flags=re.IGNORECASE)
            if not direct:
                text = re.sub(rf"\A\s*{name}(?!\w)|[\s,]+{name}\s*\Z", "", text, flags=re.IGNORECASE)
        return re.sub(r"[ \t]{2,}", " ", text).strip()

    def _corrected(self, seen: Seen, who: _Who, text: str) -> Iterator[Incoming]:
        said = self._without_name(text, direct=seen.room.direct)
        if not said or _COMMAND.fullmatch(said):
            return
        if seen.room.direct:
            yield self._incoming(seen, who, seen.thread, Edited(said, seen.about))
            return
        for thread in self._known(seen.room, who):
            yield self._incoming(seen, who, thread, Edited(said, seen.about, if_taken=True))
        if seen.mentions_us:
            self._remember(seen, who)
            yield self._incoming(seen, who, seen.thread, Edited(said, seen.about))

    def _taken_back(self, seen: Seen, who: _Who) -> Iterator[Incoming]:
        """A message that its sender takes away takes its answer with it. A reaction that is taken away does not."""
        for thread in self._known(seen.room, who):
            yield self._incoming(seen, who, thread, Edited("", seen.about, if_taken=True))

    def _joined(self, seen: Seen, who: _Who) -> Iterator[Incoming]:
        """The first who comes in is spoken to; a bridge may bring in dozens."""
        beside = self._beside(seen, who)
        if beside is not None and beside.conversation and not self.alone[seen.room.first][2]:
            self.alone[seen.room.first] = (*self.alone[seen.room.first][:2], True)
            self._remember(seen, who)
            yield replace(self._incoming(seen, who, "", Joined()), beside=beside)

    def _reacted(self, seen: Seen, who: _Who) -> Iterator[Incoming]:
        number, choice = number_of(seen.text), meant_by(seen.text)
        if (number is not None or choice) and not who.called:
            reacted = Reacted(number or 0, seen.about, choice)
            for thread in self._known(seen.room, who):
                pressed = self._incoming(seen, who, thread, reacted, f"{seen.id}:reaction")
                yield replace(pressed, beside=self._beside(seen, who))

    def _undecryptable(self, seen: Seen, who: _Who) -> Iterator[Incoming]:
        where = f"{seen.room.id} {who.id}"
        if where not in self.told:
            self.told = [*self.told, where][-MOST_PEOPLE:]
            yield self._incoming(seen, who, seen.thread, Sent("undecryptable"), f"{seen.id}:locked")

    def _readable(self, seen: Seen, who: _Who) -> None:
        where = f"{seen.room.id} {who.id}"
        if where in self.told:
            self.told = [each for each in self.told if each != where]


def _plainly(seen: Seen) -> Content:
    """What was said, no matter who it was said to."""
    if seen.kind == "words":
        return Said(seen.text)
    files = (seen.file,) if seen.kind == "picture" and seen.file else ()
    return Sent("photo" if files else seen.what or "thing", files, seen.text)


def _called(user: str) -> str:
    """What somebody is called who has no name."""
    return user.removeprefix("@").partition(":")[0]


def number_of(key: str) -> int | None:
    """The number that a reaction shows, in whichever way it is drawn; None for anything else."""
    bare = key.translate(_KEYCAP).strip()
    if bare == _TEN:
        return 10
    digits = [unicodedata.digit(each, -1) for each in bare]
    if not 1 <= len(digits) <= 2 or -1 in digits:
        return None
    return int("".join(map(str, digits)))
