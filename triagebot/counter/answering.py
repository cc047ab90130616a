"""What a member writes to whose case it is: one of the shop's own replies, or free words.

Rules of this file:
- a word or a few that are the id of a reply send that; one that is nearly an id is asked about; all else is free words;
- free words take on a case that nobody has, and the bot keeps quiet in it from then on, as after an answer in the
  staff's room;
- a photo goes with the words, or alone, once it was fetched;
- somebody whom nothing reaches where they write (in a terminal) reads it when they write next.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from triagebot.cases.change_channel import ToOthers, reached
from triagebot.cases.loaded import rows_of, unfolded
from triagebot.cases.photo_places import sent_by
from triagebot.conversation import Case, Reply, follow, look
from triagebot.conversation.blocks import Remark
from triagebot.conversation.events import Handed
from triagebot.counter.bench_answer import apart
from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold
from triagebot.store.post import Post

if TYPE_CHECKING:
    from triagebot.store import StoredCase, Transaction

#: A single word is taken for the id of a reply, mistyped, if it is at least so alike (per cent).
_ALIKE = 75


def say(work: Work, stored: "StoredCase", rest: str) -> Attended:
    """What stands behind "say CODE"."""
    row = next((row for row in work.guide.shop.replies if fold(row.id) == fold(rest)), None)
    if row is not None:
        case = unfolded(stored).case
        return _said(work, stored, case, row.in_language(case.language, work.guide.shop.language), row.id)
    if not rest.strip():
        return answer(work.texts("staff-say-what", code=stored.code))
    from rapidfuzz import fuzz  # late: it takes 4 MB, and few messages need it

    near = [row.id for row in work.guide.shop.replies if fuzz.ratio(fold(row.id), fold(rest)) >= _ALIKE]
    if near and len(rest.split()) == 1:
        return answer(work.texts("staff-canned-unknown", name=rest, names=apart(work.texts, near)))
    return in_own_words(work, stored, rest.strip(), work.photos)


def in_own_words(work: Work, stored: "StoredCase", text: str, photos: Sequence[Mapping[str, Any]] = ()) -> Attended:
    """Free words to whose case it is, and photos, each by where its channel finds it; one of both at least. Words go
    with the first photo, once that is there."""
    held = unfolded(stored)
    case = held.case
    if unreachable(work.tx, stored.id):
        return answer(work.texts("staff-unreachable", code=stored.code))
    work.tickets.open(stored.id, "staff", work.now)
    work.tickets.claim(stored.id, work.member.person)
    more: tuple[str, ...] = ()
    if not case.handed:
        event = Handed(work.now)
        work.tx.append(stored.id, len(case.events), rows_of((event,), {}))
        case = follow(case, event)
        more = ("handover-taken",)
    to_others: tuple[ToOthers, ...] = ()
    if not photos:
        to_others = _to_person(work, stored, case, _from_member(work, case, text, *more), takes=bool(more))
    work.did("answered", stored.id, text=text, photos=len(photos))
    ticket = work.tickets.of(stored.id)
    others = ticket is not None and ticket.holder not in (None, work.member.person)
    holder = work.name_of(ticket.holder) if ticket is not None and others else "none"
    name = "staff-said-own" if to_others or reached(work.tx, stored.id) else "staff-said-waits"
    told = answer(work.texts(name, code=stored.code, holder=holder))
    by = {"by": work.member.name, "member": work.member.person}
    return replace(told, to_others=to_others, wrote=stored.id, photos=sent_by(photos, by, text, takes=bool(more)))


def canned(work: Work) -> Attended:
    """The shop's own replies."""
    rows = [work.texts("staff-canned-row", id=row.id, title=row.title) for row in work.guide.shop.replies]
    return answer("\n".join([work.texts("staff-canned-head" if rows else "staff-canned-none"), *rows]))


def unreachable(tx: "Transaction", number: int) -> bool:
    """Whether those whose case it is were reached once, and are not any more."""
    post = Post(tx)
    known = [post.found(each).who for each in tx.parties(number)]
    return any(who is not None for who in known) and not reached(tx, number)


def _said(work: Work, stored: "StoredCase", case: Case, text: str, reply: str) -> Attended:
    """One of the shop's own replies, with the question that is open."""
    made = _from_member(work, case, text)
    if not case.handed:
        stands = look(work.guide, case, work.now)
        question = () if stands.question is None else (stands.question,)
        made = replace(made, blocks=(*made.blocks, *question), status=stands.status)
    to_others = _to_person(work, stored, case, made)
    if not to_others:
        return answer(work.texts("staff-unreachable", code=stored.code))
    work.did("said", stored.id, id=reply, text=text)
    return replace(answer(work.texts("staff-said", code=stored.code, text=text)), to_others=to_others)


def _from_member(work: Work, case: Case, text: str, *more: str) -> Reply:
    texts = work.guide.language(case.language).texts
    words = texts("staff-from-person", name=work.member.name, shop=work.guide.shop.name, text=text)
    return Reply((Remark(words, "staff-from-person"), *(Remark(texts(each), each) for each in more)), "person")


def _to_person(
    work: Work, stored: "StoredCase", case: Case, reply: Reply, *, takes: bool = False
) -> tuple[ToOthers, ...]:
    """Words to whose case it is, wherever they are reached; the member hears if they do not arrive."""
    relayed = {"code": case.code, "number": stored.id, "under": None, "takes": takes, "by": work.member.person}
    beside = {"relayed": relayed}
    return tuple(ToOthers(lookup_hash, case, reply, beside=beside) for lookup_hash in reached(work.tx, stored.id))
