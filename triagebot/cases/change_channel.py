"""Going on with a case on another channel: by its code, once the person who began it has said yes where they
began it.

Rules of this file:
- the code alone opens nothing: a person who names it is told the same whether there is such a case or not, and its
  owner is asked on the channel where they are reached;
- an ask counts for `COUNTS_FOR`, and no case is asked about more than `MOST` times in `WITHIN`; while one waits for its
  answer, nobody else's is put, so that a yes lets in nobody but whom it was asked about;
- a yes that comes when the ask is over lets nobody in, and the person who says it is told so;
- where nobody whose case it is can be reached, nothing is asked: their next yes would be about something else;
- a person who was let in takes part from then on, and may go on there as well as here; somebody else does so as a
  mentor, so that the case is not deleted when they want to be forgotten.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from triagebot.cases.loaded import rows_of, unfolded
from triagebot.conversation import Case, Choice, Event, Guide, Reply
from triagebot.conversation.case import follow
from triagebot.conversation.events import Remarked
from triagebot.conversation.reply import told

if TYPE_CHECKING:
    from triagebot.store import Transaction

COUNTS_FOR = timedelta(minutes=15)
MOST, WITHIN = 3, timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class ToOthers:
    """Something to be said to another person than the one who wrote: their lookup hash, their case, and what. `aside`:
    they are at another case, whose question stays open; `language` is that of words about no case; `beside` is what
    goes with the message (see `outgoing.BESIDE`)."""

    person: str
    case: Case | None
    reply: Reply
    aside: bool = False
    language: str = ""
    beside: Mapping[str, Any] = field(default_factory=dict)


def ask(
    tx: "Transaction", guide: Guide, code: str, lookup_hash: str, channel: str, now: datetime, *, joins: bool = False
) -> tuple[ToOthers, ...]:
    """Asks those whose case it is whether somebody may go on with it; what is to be said to them, or nothing. `joins`:
    it is somebody who has come into their room, and no channel of their own."""
    from triagebot.store.grants import Grants  # late: it needs the database library

    stored = tx.case_by_code(code)
    if stored is None:
        return ()
    grants, owners = Grants(tx), [owner for owner in reached(tx, stored.id) if owner != lookup_hash]
    others_wait = set(waiting(tx, stored.id, now)) - {lookup_hash}
    if not owners or others_wait or grants.count("join", stored.id, now - WITHIN) >= MOST:
        return ()
    held = unfolded(stored)
    event = Remarked(now, "move", channel)
    tx.append(stored.id, len(held.case.events), rows_of((event,), {}))
    grants.issue("join", stored.id, {"mark": lookup_hash, "joins": joins}, now, now + COUNTS_FOR)
    case = follow(held.case, event)
    texts = guide.language(case.language).texts
    name = texts(f"channel-{channel}") if texts.has(f"channel-{channel}") else channel
    asked = "newcomer-confirm" if joins else "move-confirm"
    yes, no = ("newcomer-let", "newcomer-not") if joins else ("move-yes", "move-no")
    offers = (Choice("move", texts(yes)), Choice("stay", texts(no)))
    reply = told(texts(asked, channel=name), case.now.outcome or "question", offers=offers)
    return tuple(ToOthers(owner, case, reply) for owner in owners)


def reached(tx: "Transaction", number: int) -> tuple[str, ...]:
    """The lookup hashes of the people whose case it is, as far as something can be said to them; of its mentors, where
    nobody else can be reached."""
    from triagebot.store.post import Post  # late, as above

    parties, post = tx.parties(number), Post(tx)
    for wanted in ("person", "mentor"):
        people = [lookup_hash for lookup_hash, role in parties.items() if role == wanted]
        if found := tuple(lookup_hash for lookup_hash in people if post.found(lookup_hash).reached is not None):
            return found
    return ()


def waiting(tx: "Transaction", number: int, now: datetime) -> tuple[str, ...]:
    """The lookup hashes of those who asked to go on with a case and have no answer yet, while that counts."""
    from triagebot.store.grants import Grants  # late, as above

    return tuple(dict.fromkeys(str(grant.body["mark"]) for grant in Grants(tx).about("join", number, now)))


def too_late(events: Sequence[Event]) -> tuple[Event, ...]:
    """These events where the yes among them came when nobody waited for it any more."""
    return tuple(Remarked(event.at, "too-late") if _is_yes(event) else event for event in events)


def let_in(tx: "Transaction", number: int, events: Sequence[Event], now: datetime) -> tuple[str, ...]:
    """The lookup hashes of those who take part from now on, when these events said yes or no: they are at this case
    now."""
    from triagebot.store.grants import Grants  # late, as above

    asked = waiting(tx, number, now)
    others = {str(grant.body["mark"]) for grant in Grants(tx).about("join", number, now) if grant.body.get("joins")}
    Grants(tx).end_all("join", number, now)
    if not any(_is_yes(event) for event in events):
        return ()
    from triagebot.store.parties import Parties  # late, as above

    here = Parties(tx).all_of(number)
    owners = [party for party in here if party.role == "person"] or [party for party in here if party.role == "mentor"]
    for lookup_hash in asked:
        role = "mentor" if lookup_hash in others else owners[0].role
        Parties(tx).join(replace(owners[0], person=lookup_hash, role=role, away=False))
    return asked


def _is_yes(event: Event) -> bool:
    return isinstance(event, Remarked) and event.what == "moved"
