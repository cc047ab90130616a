"""Somebody who comes to where the bot talks with somebody else: whose wheel do they mean?

Rules of this file:
- who comes into a room where the bot was alone with somebody is told who it is, and asked whether it is about that
  wheel; nothing of theirs opens a case before they have said that it is another;
- if it is that wheel, whose case it is is asked whether they may take part; nobody takes part without that yes;
- what answers something that was put to somebody else is not taken, and who says it is told so.
"""

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Literal

from triagebot.cases.change_channel import ToOthers, ask, waiting
from triagebot.cases.loaded import LoadedCase
from triagebot.conversation import Choice, Reply
from triagebot.conversation.blocks import Remark
from triagebot.conversation.reply import told
from triagebot.messages.message import Arrived, Beside, Chose, Commanded, Joined, Pressed, Said, Sent
from triagebot.messages.words import folded, words_beside
from triagebot.shop import fold
from triagebot.turns.in_hand import InHand, Taken, where_others_are
from triagebot.turns.plan import where_it_stands

#: theirs: of whom the bot was alone with before; own: another one; "" where it is not said.
Whose = Literal["theirs", "own", ""]

#: What the choices say, by their ids.
_CHOSEN: Mapping[str, Whose] = {"yes": "theirs", "no": "own"}


@where_others_are
def ask_whose_wheel_it_is(at: InHand) -> InHand | Taken:
    """A message that may be about somebody else's wheel waits until it is known whose; all others go on."""
    beside = at.beside
    if beside is None or isinstance(at.content, Chose | Commanded):
        return at
    whose = _whose(at, beside)
    if beside.conversation:
        return _of_a_newcomer(at, beside, whose)
    if whose == "own":
        return _begun(at) if at.before is None else at
    if isinstance(at.content, Said) and not _commands(at):
        return Taken("applied", None if at.before is None else at.before.case, _put_to(at, beside))
    return at


def _begun(at: InHand) -> InHand:
    """Theirs begins with what they tell of it, or is greeted where that is nothing."""
    alone = isinstance(at.content, Pressed) or _says(at) in _words(at.language)["own", "alone"]
    return replace(at, content=Arrived()) if alone else at


def _of_a_newcomer(at: InHand, beside: Beside, whose: Whose) -> InHand | Taken:
    """Who has a case here goes on with that one."""
    turns, joined = at.turns, isinstance(at.content, Joined)
    theirs = _case_of(at, beside)
    texts = turns.guide.language(at.language).texts
    if at.before is not None or theirs is None:
        if not joined:
            return at
        said = () if at.before is not None else (Remark(texts("newcomer-free", shop=turns.guide.shop.name)),)
        return Taken("applied", None, Reply(said, "question") if said else None)
    if whose == "own":
        return _begun(at)
    name, now = beside.name, turns.clock()
    others: tuple[ToOthers, ...] = ()
    about = "newcomer-waits" if at.lookup_hash in waiting(at.tx, theirs.number, now) else ""
    if whose == "theirs" and not about:
        channel = at.person.partition(":")[0]
        others = ask(at.tx, turns.guide, theirs.case.code, at.lookup_hash, channel, now, joins=True)
        about = "newcomer-asked" if others else "newcomer-waits"
    if about:
        return Taken("applied", None, told(texts(about, name=name), about=about), to_others=others)
    again = "newcomer.again" if _was_asked(at) else "newcomer"
    offers = (Choice("yes", texts("newcomer-theirs", name=name)), Choice("no", texts("newcomer-own")))
    words = texts(again, name=name, shop=turns.guide.shop.name)
    return Taken("applied", None, told(words, about="newcomer", offers=offers))


def _put_to(at: InHand, beside: Beside) -> Reply:
    texts, case = at.turns.guide.language(at.language).texts, at.before
    if case is None:
        return told(texts("put-to-another", name=beside.name), about="put-to-another")
    stands = where_it_stands(at.turns.guide, case.case, at.turns.clock())
    return stands.first(Remark(texts("put-to-another.own", name=beside.name), "put-to-another"))


def _case_of(at: InHand, beside: Beside) -> LoadedCase | None:
    """The case of the one with whom the bot was alone, while there is anything to say about it."""
    channel = at.person.partition(":")[0]
    found = at.turns.memory.current(at.tx, at.tx.lookup_hash(f"{channel}:{beside.conversation}"))
    return None if found is None or found.case.closed is not None else found


def _was_asked(at: InHand) -> bool:
    """Whether one of the last that they were told was this question."""
    from triagebot.store.history import said  # late: it needs the database library

    return any(
        block.get("about") == "newcomer" for row in said(at.tx, at.lookup_hash, most=3) for block in row.body["blocks"]
    )


# --- what they say --------------------------------------------------------------------------------------------------


def _says(at: InHand) -> str:
    match at.content:
        case Said(text) | Sent(note=text):
            return fold(text)
        case _:
            return ""


def _whose(at: InHand, beside: Beside) -> Whose:
    if isinstance(at.content, Pressed):
        return _CHOSEN.get(at.content.choice, "")
    said, words = _says(at), _words(at.language)
    for whose in ("own", "theirs"):
        if said in words[whose, "alone"] or any(f" {each} " in f" {said} " for each in words[whose, "within"]):
            return whose
    name = fold(beside.name)
    return "theirs" if name and f" {name}s " in f" {said} " else ""


def _commands(at: InHand) -> bool:
    """Whether it is a word that always works."""
    return _says(at) in at.turns.guide.language(at.language).words.alone


@lru_cache(maxsize=32)
def _words(language: str) -> Mapping[tuple[str, str], frozenset[str]]:
    """Raises DataError for a file that cannot be read."""
    data = words_beside(__file__, language)
    return {(whose, where): frozenset(folded(data[whose][where])) for whose in data for where in data[whose]}
