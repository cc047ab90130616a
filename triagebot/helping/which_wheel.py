"""Which wheel a mentor means who helps with several.

Rules of this file:
- what is said with a name and a colon before it is for that wheel; all else is for the one that they are at, unless
  it may be for another one;
- it may be for another one if that one's rider has written since the mentor last did, or if it is named in passing; and
  only if it would say something about a wheel there or here;
- then they are asked, and nothing is noted before they say; a yes or the name sends it there, a no sends it here, and
  anything else is a message of its own.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.conversation import Case, Choice, Guide, Message, turn
from triagebot.conversation.mentoring import is_news
from triagebot.conversation.reply import told
from triagebot.helping.seats import Here, Spoken, called
from triagebot.helping.words import MentorWords, cleaned
from triagebot.shop import fold

if TYPE_CHECKING:
    from triagebot.cases.loaded import LoadedCase
    from triagebot.store.parties import Party

#: The buttons under the question which wheel is meant.
THERE, HERE = "mentor-for-there", "mentor-for-here"
#: So much of what somebody said is kept until they say which wheel they mean, and so much is said back.
MOST_KEPT, MOST_SAID = 1000, 40


def may_be_for(here: Here, party: "Party", text: str, words: MentorWords) -> "Party | None":
    """The other wheel that a text may be for; None where only the one they are at can be meant. `party` is their part
    in that."""
    others = [each for each in here.parties.helped(party.person) if each.case != party.case and each.name]
    named = [each for each in others if _named_in(text, each, (party, *others), words)]
    if len(named) == 1 and not _named_in(text, party, others, words):
        return named[0]
    heard = [each for each in others if each.heard is not None]
    return max(heard, key=lambda each: each.heard or datetime.min) if heard else None


def says_something(guide: Guide, text: str, now: datetime, *cases: Case) -> bool:
    """Whether a text would say something about the wheel of one of these cases."""
    return any(is_news(turn(guide, case, Message(text), now).events) for case in cases)


def ask(here: Here, held: "LoadedCase", party: "Party", other: "Party", text: str) -> Spoken:
    """Asks whether the other wheel is meant, and keeps what was said until then."""
    texts = here.texts(held.case.language)
    here.parties.change(replace(party, pending=text[:MOST_KEPT], pending_for=other.case))
    said = " ".join(text.split())
    said = said if len(said) <= MOST_SAID else f"{said[: MOST_SAID - 1].rstrip()}…"
    offers = (
        Choice(THERE, texts("mentor-for-there", name=called(texts, other), said=said)),
        Choice(HERE, texts("mentor-for-here", name=called(texts, party))),
    )
    return Spoken(held.case, told(texts("mentor-for", name=called(texts, other)), offers=offers), held.number)


def meant(choice: str, text: str, party: "Party", other: "Party", words: MentorWords) -> "Party | None":
    """Which of the two they say they mean; None for what does not answer that."""
    said = fold(text)
    first = said.split(" ")[0] if said else ""
    bare = {fold(cleaned(each.name)): each for each in (party, other)}
    if said in bare:
        return bare[said]
    if choice == THERE or said in words.yes or (first in words.yes and _named_in(text, other, (party,), words)):
        return other
    if choice == HERE or said in words.no or (first in words.no and _named_in(text, party, (other,), words)):
        return party
    return None


def quiet_now(here: Here, person: str) -> None:
    """What riders wrote before is no news any more."""
    for each in here.parties.helped(person):
        if each.heard is not None:
            here.parties.change(replace(each, heard=None))


def _named_in(text: str, party: "Party", others: "Sequence[Party]", words: MentorWords) -> bool:
    """Whether a word of a text is one by which this wheel is called and no other."""
    own = set(fold(party.name).split()) - words.articles
    shared = {word for each in others if each.case != party.case for word in fold(each.name).split()}
    return bool((own - shared) & set(fold(text).split()))
