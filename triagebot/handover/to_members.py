"""Where the staff have no room: a case that needs a person, and what its person writes, told to members in private.

Rules of this file:
- who is told: the member who has the case, or else everybody on duty, each where they write to the bot;
- each message begins with the case's code, so that an answer to it finds its case;
- nothing is lost where nobody can be told: the words are in the case, and stand in the queue.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.cases.change_channel import ToOthers
from triagebot.cases.photo_places import words_along
from triagebot.cases.thread import thread_of
from triagebot.cases.tickets import who_hears
from triagebot.conversation import Case, Event, Guide, Message
from triagebot.conversation.events import Handed, Remarked
from triagebot.conversation.reply import told
from triagebot.conversation.scene import FOR_THEM
from triagebot.counter.case_summary import reason_words
from triagebot.messages.message import Content, Edited, Said, Sent
from triagebot.store.staff import Tickets

if TYPE_CHECKING:
    from triagebot.store import Transaction


@dataclass(frozen=True, eq=False)
class ToMembers:
    """`clock` gives aware times. Called from the writer's thread."""

    guide: Guide
    clock: Callable[[], datetime]

    def after(
        self, tx: "Transaction", number: int, by: str, before: bool, case: Case, events: Sequence[Event],
        content: Content | Message,
    ) -> tuple[ToOthers, ...]:  # fmt: skip
        """What members are told because of a turn. `by` is the part of the one who wrote; `before`: whether a person
        had the case before it."""
        texts = self.guide.language(self.guide.shop.language).texts
        if any(isinstance(event, Handed) for event in events):
            ticket = Tickets(tx).of(number)
            reason = reason_words(self.guide, texts, case, ticket.reason if ticket is not None else "asked")
            text = _text_of(content)
            return tuple(self._tell(tx, number, "staff-new", code=case.code, reason=reason, text=text or "none"))
        if case.handed:
            kept = any(isinstance(event, Remarked) and event.what == FOR_THEM for event in events)
            text = "" if words_along(case, content) else _text_of(content)
            return tuple(self._words(tx, number, case.code, by, text)) if text and (kept or _is_photo(content)) else ()
        return tuple(self._tell(tx, number, "staff-went-on", code=case.code)) if before else ()

    def photos(
        self, tx: "Transaction", number: int, code: str, count: int, who: str, words: str
    ) -> tuple[ToOthers, ...]:
        """What is said of so many photos of theirs that are there now, or only the words under them."""
        if words:
            return tuple(self._tell(tx, number, "staff-words", code=code, who=who, text=words))
        return tuple(self._tell(tx, number, "staff-photo-came", code=code, count=count))

    def photo_lost(self, tx: "Transaction", number: int, code: str) -> tuple[ToOthers, ...]:
        return tuple(self._tell(tx, number, "handover-room-photo-lost", code=code))

    def acknowledged(self, tx: "Transaction", number: int, before: Case) -> str:
        """What whose case it is hears once for all that they write until somebody answers; "" after that."""
        begun = max((event.at for event in before.events if isinstance(event, Handed)), default=before.opened)
        said = [words for words in thread_of(tx, number, before) if words.name or words.at > begun]
        texts = self.guide.language(before.language).texts
        return "" if said and not said[-1].name else texts("handover-passed-on", shop=self.guide.shop.name)

    def _words(self, tx: "Transaction", number: int, code: str, by: str, text: str) -> Iterator[ToOthers]:
        who = "mentor" if by == "mentor" else "person"
        return self._tell(tx, number, "staff-words", code=code, who=who, text=text)

    def _tell(self, tx: "Transaction", number: int, text: str, /, **variables: object) -> Iterator[ToOthers]:
        language = self.guide.shop.language
        words = told(self.guide.language(language).texts(text, **variables), about=text)
        about = {"about": variables["code"]}
        for member in who_hears(tx, number, self.clock()):
            yield ToOthers(member.person, None, words, aside=True, language=language, beside=about)


def _text_of(content: Content | Message) -> str:
    match content:
        case Said(text) | Message(text=text, choice=None) | Edited(text):
            return text.strip()
        case Sent(note=note):
            return note.strip()
        case _:
            return ""


def _is_photo(content: Content | Message) -> bool:
    return isinstance(content, Sent) and content.what == "photo"
