"""What has come in for a member who writes at a terminal, where no message reaches them.

They are told when they come in, with each answer, and in between while they sit there. What they hear is what members
get in their private chats (`handover.to_members`): a case that needs a person, and what its person writes.
"""

from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.cases.loaded import unfolded
from triagebot.cases.thread import thread_of, unanswered
from triagebot.cases.tickets import who_hears
from triagebot.conversation import Guide
from triagebot.conversation.blocks import Block, Remark
from triagebot.counter.case_summary import reason_words
from triagebot.store.staff import Member, Staff, Tickets

if TYPE_CHECKING:
    from triagebot.store import Transaction, View

#: What a member's standing has of the moment up to which they were told.
SEEN = "seen"
#: So many cases are told of at once: “queue” has the others.
_MOST = 6


def came_in(tx: "Transaction", guide: Guide, lookup_hash: str, now: datetime) -> tuple[Block, ...]:
    """What came in for one of the staff since they were told last, or joined; they are told of it now. Nothing for
    everybody else."""
    member = Staff(tx).member(lookup_hash)
    if member is None:
        return ()
    found = not_told(tx, guide, member, now)
    Staff(tx).stand(member, {**member.standing, SEEN: now.isoformat()})
    return found


def not_told(view: "View", guide: Guide, member: Member, now: datetime) -> tuple[Block, ...]:
    """The same, only looked at."""
    seen = member.standing.get(SEEN)
    since = datetime.fromisoformat(seen) if seen is not None else member.since
    texts = guide.language(guide.shop.language).texts
    found: list[Block] = []
    tickets = [each for each in Tickets(view).queue() if each.holder == member.person or each.opened_at > since]
    for ticket in tickets:
        stored = view.case(ticket.case)
        heard = stored is not None and any(each.person == member.person for each in who_hears(view, stored.id, now))
        if stored is None or not heard:
            continue
        case = unfolded(stored).case
        said = [words for words in unanswered(thread_of(view, stored.id, case)) if words.at > since]
        if ticket.opened_at > since:
            reason = reason_words(guide, texts, case, ticket.reason)
            text = said[-1].text if said else "none"
            found.append(Remark(texts("staff-new-here", code=stored.code, reason=reason, text=text), "staff-new-here"))
        else:
            found += [
                Remark(texts("staff-words-here", code=stored.code, text=words.text), "staff-words-here")
                for words in said
            ]
        if len(found) >= _MOST:
            break
    return tuple(found[:_MOST])
