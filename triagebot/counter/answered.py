"""What a member's message is before it is a command or a line: an answer to a message about a case. And what is said
where nothing came of one."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from triagebot.counter.answering import in_own_words
from triagebot.counter.bench_line import Seen
from triagebot.counter.case_commands import CASEWORK
from triagebot.counter.closing import outcome_said
from triagebot.counter.lending_commands import where_else
from triagebot.counter.request_commands import waits_for_an_answer
from triagebot.counter.times import until
from triagebot.counter.tool_lookup import tell_served
from triagebot.counter.words import Order
from triagebot.counter.work import Attended, Work, named_case
from triagebot.shop import fold

#: So many words beside a number are a sentence.
_SENTENCE = 2


def answered(work: Work, text: str, photos: Sequence[Mapping[str, Any]] = ()) -> Attended | None:
    """What comes of an answer to a message about a case: it goes to whose case that is, unless it is a command. None
    for what answers no such message."""
    stored = work.tx.case_by_code(work.about) if work.about else None
    order = work.words.order(text)
    if stored is None or not (text.strip() or photos):
        return None
    if order is not None and (_is_meant(work, order) or waits_for_an_answer(work, stored, order)):
        return None
    return in_own_words(work, stored, text.strip(), photos)


def _is_meant(work: Work, order: Order) -> bool:
    """Whether words in answer to a message about a case are a command and not for the customer: they say nothing beside
    it, or what only a command says."""
    if not order.rest:
        return order.command in CASEWORK or order.command in ("queue", "help", "claim-next")
    if order.command == "close":
        said = outcome_said(work.guide, work.texts, work.words, order.rest)
        return said.said and not said.unknown
    if order.command == "snooze":
        return until(work.words, order.rest, work.now, work.guide.shop.hours) is not None
    return named_case(work.tx, order.rest) is not None


def not_understood(work: Work) -> str:
    """How a line is written; and how to answer a customer, for a member who may have meant that."""
    held = work.tickets.held_by(work.member.person)
    code = work.tx.code_of(held[-1].case) if held else "none"
    return work.texts("staff-not-understood", code=code)


def is_chance(seen: Seen, text: str) -> bool:
    """Whether nothing was read but one number without a unit, in a sentence of other words."""
    if len(seen.facts) != 1 or "mm" in fold(text):
        return False
    number = seen.facts[0].text.removesuffix(" mm").replace(",", "").replace(".", "")
    return number.isdecimal() and sum(word.isalpha() for word in text.split()) >= _SENTENCE


def tool_served(work: Work, tools: Sequence[str], said: str) -> Attended:
    """What a tool is for, and who has those that do not hang there."""
    return Attended(tell_served(work.guide, work.texts, tools, said, partial(where_else, work)))
