"""What the store adds to the answer of what somebody asks in between: the file of their visit, and how far their bike
is that they left with us."""

from dataclasses import replace

from triagebot.cases.bike_told import with_their_bike
from triagebot.cases.calendar import in_calendar
from triagebot.conversation.events import Remarked
from triagebot.conversation.visiting import CALENDAR, says_ready
from triagebot.store.forgetting import own_cases
from triagebot.turns.in_hand import InHand


def told_beside(at: InHand) -> InHand:
    """Any other answer stays as it is."""
    guide, now = at.turns.guide, at.turns.clock()
    if any(isinstance(event, Remarked) and event.what == CALENDAR for event in at.events):
        return replace(at, reply=at.reply.before_question(*in_calendar(at.tx, guide, at.number, at.case, now)))
    if not says_ready(at.reply.blocks):
        return at
    texts, cases = guide.language(at.case.language).texts, (at.number, *own_cases(at.tx, at.lookup_hash))
    blocks = with_their_bike(at.tx, guide, texts, cases, at.reply.blocks, now)
    return replace(at, reply=replace(at.reply, blocks=blocks))
