"""What the store adds to the answer of what somebody asks in between: their visit and its file, how far their bike is
that they left with us, and what is kept of them."""

from dataclasses import replace

from triagebot.cases.bike_told import with_their_bike
from triagebot.cases.calendar import in_calendar
from triagebot.cases.own_data import handed_over
from triagebot.conversation.blocks import Block
from triagebot.conversation.events import Remarked
from triagebot.conversation.housekeeping import EXPORT
from triagebot.conversation.visiting import CALENDAR, says_ready
from triagebot.store.forgetting import own_cases
from triagebot.topics import Texts
from triagebot.turns.in_hand import InHand


def told_beside(at: InHand) -> InHand:
    """Any other answer stays as it is."""
    guide, now = at.turns.guide, at.turns.clock()
    if any(isinstance(event, Remarked) and event.what == CALENDAR for event in at.events):
        return replace(at, reply=at.reply.before_question(*in_calendar(at.tx, guide, at.number, at.case, now)))
    texts = guide.language(at.case.language).texts
    if at.remarked(EXPORT):
        channel = at.person.partition(":")[0]
        blocks = handed_over(at.tx, guide, texts, at.lookup_hash, channel, now)
        return replace(at, reply=at.reply.before_question(*blocks))
    if not says_ready(at.reply.blocks):
        return replace(at, reply=replace(at.reply, blocks=_with_visit(at, texts)))
    cases = (at.number, *own_cases(at.tx, at.lookup_hash))
    blocks = with_their_bike(at.tx, guide, texts, cases, at.reply.blocks, now)
    return replace(at, reply=replace(at.reply, blocks=blocks))


def _with_visit(at: InHand, texts: Texts) -> tuple[Block, ...]:
    from triagebot.counter.visit_told import with_their_visit  # late: few ask for it

    return with_their_visit(at.tx, at.turns.guide, texts, at.number, at.reply.blocks, at.turns.clock())
