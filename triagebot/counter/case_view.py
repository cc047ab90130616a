"""A case as the counter page shows it: what is known, what both have said, its photos, and who may do what with it."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from triagebot.cases.cards import photos_of
from triagebot.cases.loaded import unfolded
from triagebot.cases.thread import thread_of
from triagebot.conversation import Case
from triagebot.conversation.edition import catch_up
from triagebot.conversation.outcome import leading
from triagebot.conversation.scene import Scene
from triagebot.counter.bikes import guide_to
from triagebot.counter.case_commands import known_here
from triagebot.counter.case_summary import counter_lines
from triagebot.counter.requests import request_words
from triagebot.counter.work import Work
from triagebot.store.photos import Photos
from triagebot.store.requests import Requests

if TYPE_CHECKING:
    from triagebot.store import StoredCase


@dataclass(frozen=True, slots=True)
class Spoken:
    """Something that was said, and when; `name` is that of the member, "" for the customer."""

    at: str
    name: str
    text: str


@dataclass(frozen=True, slots=True)
class CaseView:
    """`lines` are what is known; `photos` by number. `free`: somebody may claim it, `mine`: this member has it, `may`:
    it is theirs to give back or to close; `waits` until it is opened or taken on. `kinds` are the fastenings that it
    may have been, by id and name, the `likeliest` among them ("" where nothing is likely). `asks` is the visit
    or the tool that waits for a yes or a no."""

    code: str
    lines: tuple[str, ...]
    words: tuple[Spoken, ...]
    photos: tuple[int, ...]
    open: bool
    free: bool
    mine: bool
    held: bool
    may: bool
    closed: bool
    kinds: tuple[tuple[str, str], ...]
    likeliest: str
    replies: tuple[tuple[str, str], ...]
    asks: str


def case_view(work: Work, stored: "StoredCase") -> CaseView:
    case = unfolded(stored).case
    ticket = work.tickets.of(stored.id)
    is_open = ticket is not None and ticket.open
    holder = ticket.holder if ticket is not None and is_open else None
    known = known_here(work, stored, case)
    photos = photos_of(work.tx, stored.id)
    return CaseView(
        stored.code,
        counter_lines(guide_to(work, stored.id), work.texts, case, photos, work.now, work.when, known),
        tuple(Spoken(work.when(said.at), said.name, said.text) for said in thread_of(work.tx, stored.id, case)),
        Photos(work.tx).kept_of(stored.id),
        open=is_open,
        free=holder is None and not (ticket is not None and not is_open),
        mine=holder == work.member.person,
        held=holder is not None,
        may=work.may(ticket),
        closed=ticket is not None and not is_open,
        kinds=_kinds(work),
        likeliest=_likeliest(work, case),
        replies=tuple((row.id, row.title) for row in work.guide.shop.replies),
        asks=_asks(work, stored),
    )


def _asks(work: Work, stored: "StoredCase") -> str:
    """The visit, or the tool to be kept, that waits for an answer; "" where none does."""
    asked = Requests(work.tx).of(stored.id, "asked")
    return request_words(work.guide, work.texts, asked[-1]) if asked else ""


def _kinds(work: Work) -> tuple[tuple[str, str], ...]:
    rows = work.guide.topic.catalogue.fastenings
    return tuple((row.id, work.texts(f"fastening-{row.id}.short")) for row in rows)


def _likeliest(work: Work, case: Case) -> str:
    scene = Scene(work.guide, case, work.now)
    catch_up(scene)
    step = scene.decide()
    if step.decision.kind != "answer":
        return ""
    named = leading(work.guide, step, step.decision)
    return named[0].id if len(named) == 1 else ""
