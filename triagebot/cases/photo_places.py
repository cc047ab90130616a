"""What is kept beside where a photo lies on its channel: who sent it, and what it goes with.

It says who sent it: the conversation of a customer (`SENDER`), or the name of a member (`by`), with the message in the
staff's room that they answered (`under`) or their own conversation (`member`). `words` came under it, `takes` says that
they took the case from the bot, and `album` which photos belong together.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from triagebot.conversation import Case
from triagebot.conversation.events import Remarked
from triagebot.conversation.scene import FOR_THEM
from triagebot.messages.message import Sent

#: By what the place of a photo says which conversation it was sent in.
SENDER = "sender"


def words_along(case: Case | None, content: object) -> str:
    """The words that go with the photo under which a customer wrote them, since a person has their case."""
    if case is None or not case.handed or not (isinstance(content, Sent) and content.what == "photo" and content.files):
        return ""
    last = case.events[-1]
    return content.note.strip() if isinstance(last, Remarked) and last.what == FOR_THEM else ""


def of_a_message(sent: Sent) -> tuple[Mapping[str, Any], ...]:
    """The places of the photos of a message."""
    album = {"album": sent.album} if sent.album else {}
    return tuple({**file, **album} for file in sent.files)


def sent_by(
    places: Sequence[Mapping[str, Any]], who: Mapping[str, Any], words: str = "", *, takes: bool = False
) -> tuple[Mapping[str, Any], ...]:
    """The places of photos with what else is kept there; the words are under the first."""
    first = {**({"words": words} if words else {}), **({"takes": True} if takes else {})}
    return tuple({**place, **who, **(first if number == 0 else {})} for number, place in enumerate(places))


def sent_by_a_customer(case: Case | None, sent: Sent, conversation: str) -> tuple[Mapping[str, Any], ...]:
    """The places of the photos of a customer's message in this conversation."""
    return sent_by(of_a_message(sent), {SENDER: conversation}, words_along(case, sent))
