"""What the staff answer to a visit or a tool that somebody asked for: "yes CODE", "no CODE fully booked".

The first answer counts. The customer reads it at once where they are reached, or when they next write.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from triagebot.cases.change_channel import ToOthers, reached
from triagebot.cases.loaded import rows_of, unfolded
from triagebot.conversation.events import Remarked
from triagebot.conversation.reply import told
from triagebot.conversation.visiting import AGREED, NOT_AGREED
from triagebot.counter.asked_back import MOST_OFFERED, ask_back
from triagebot.counter.heard import hear
from triagebot.counter.line_kinds import kinds_of_line
from triagebot.counter.requests import request_words, told_answer
from triagebot.counter.words import Order
from triagebot.counter.work import Attended, Work, answer, looks_like_a_code, named_case
from triagebot.shop import fold
from triagebot.store.requests import Request, Requests

if TYPE_CHECKING:
    from triagebot.store import StoredCase

_ANSWERS = {"accept": True, "refuse": False}
_WORDS = {"accept": "yes", "refuse": "no"}


def request_ordered(work: Work, order: Order, text: str, *, only_reads: bool) -> Attended | None:
    """What comes of a yes or a no to a case that asked for something; None for any other yes or no."""
    if order.command not in _ANSWERS:
        return None
    found = named_case(work.tx, order.rest) or _answered_message(work, order.rest)
    if found is None:
        missing = looks_like_a_code(order.rest) and any(character.isdigit() for character in order.rest)
        if missing:
            return answer(work.texts("staff-no-case", code=order.rest.split()[0].upper()))
        if not order.rest or only_reads:
            return None
        words = order.rest.split()
        said = fold(" ".join(text.split()[: -len(words)]))
        plain = said in work.words.agrees or said in work.words.small_talk["refused"] or said in work.words.corrects
        why = [] if plain and fold(words[0]) not in work.words.tells else words  # "decline, say full til thursday"
        named = len(words) == 1 and kinds_of_line(work, f"{order.command} {order.rest}").best == order.command
        return which_request(work, _WORDS[order.command], order.rest, why) if named or why else None
    stored, rest = found
    if not order.rest and not Requests(work.tx).of(stored.id, "asked", "yes", "no"):
        return None
    if only_reads:
        return answer(work.texts("staff-corrected"))
    return answer_request(work, stored, agreed=_ANSWERS[order.command], why=rest.strip(" ,.:"))


def which_request(work: Work, word: str, text: str, why: Sequence[str] = ()) -> Attended | None:
    """What is asked where an "accept" or a "decline" says not to whom, but perhaps `why`; None for a plain yes or no,
    which may be about the wheel, and for an answer to a message."""
    if work.about or fold(text) in (*work.words.agrees, *work.words.corrects):
        return None
    asked = Requests(work.tx).waiting()
    if not asked:
        return answer(work.texts("staff-requests-none"))
    said = work.words.tells, work.words.told
    why = [] if fold(" ".join(why)) in work.words.it_words else why
    reason = " ".join(each for n, each in enumerate(why) if n > 1 or not any(fold(each) in words for words in said))
    return ask_back(work, [f"{word} {request.code} {reason}".strip() for request in asked[:MOST_OFFERED]])


def answer_request(work: Work, stored: "StoredCase", *, agreed: bool, why: str) -> Attended:
    """Agrees to what a case asked for last, with the member's own words, or refuses it, with a reason; that it has had
    its answer, or asked for nothing, where that is so. A yes that names another time is asked about."""
    asked = Requests(work.tx).of(stored.id, "asked") or Requests(work.tx).of(stored.id, "yes", "no")
    if not asked:
        return answer(work.texts("staff-request-none", code=stored.code))
    if agreed and why and hear(work, f"{_WORDS['accept']} {why}").due is not None:
        return ask_back(work, [f"say {stored.code} {why}", f"{_WORDS['accept']} {stored.code}"])
    return _answered(work, stored, asked[-1], agreed=agreed, why=why)


def _answered_message(work: Work, rest: str) -> "tuple[StoredCase, str] | None":
    """The case of the message that is answered."""
    stored = work.tx.case_by_code(work.about) if work.about else None
    return None if stored is None else (stored, rest)


def waits_for_an_answer(work: Work, stored: "StoredCase", order: Order) -> bool:
    """Whether a yes or a no in answer to a message about a case is for what that case asked for."""
    return order.command in _ANSWERS and bool(Requests(work.tx).of(stored.id, "asked"))


def _answered(work: Work, stored: "StoredCase", request: Request, *, agreed: bool, why: str) -> Attended:
    if not Requests(work.tx).answer(request.number, "yes" if agreed else "no"):
        return answer(work.texts("staff-request-answered", code=stored.code, state=request.state))
    case = unfolded(stored).case
    texts = work.guide.language(case.language).texts
    words = told_answer(work.guide, texts, request, agreed=agreed, why=why)
    words = f"{words}\n{why}" if agreed and why else words
    more = Requests(work.tx).of(stored.id, "asked")
    from_member = texts("staff-from-person", name=work.member.name, shop=work.guide.shop.name, text=words)
    if request.kind == "visit":
        event = Remarked(work.now, AGREED if agreed else NOT_AGREED, request.text)
        work.tx.append(stored.id, len(case.events), rows_of((event,), {}))
    ticket = work.tickets.of(stored.id)
    for_this = ticket is not None and ticket.reason in ("visit", "hold")
    if for_this and not more and not case.handed and case.now.outcome != "person":
        work.tickets.close(stored.id)
    work.did("accepted" if agreed else "refused", stored.id, text=words)
    to_others = tuple(
        ToOthers(person, None, told(from_member, about="staff-from-person"), aside=True, language=case.language)
        for person in reached(work.tx, stored.id)
    )
    name = "staff-request-yes" if agreed else "staff-request-no"
    what = request_words(work.guide, work.texts, request)
    said = work.texts(name, code=stored.code, what=what, reached="yes" if to_others else "no")
    if more:
        left = request_words(work.guide, work.texts, more[-1])
        said = f"{said} {work.texts('staff-request-more', code=stored.code, what=left)}"
    return replace(answer(said), to_others=to_others)
