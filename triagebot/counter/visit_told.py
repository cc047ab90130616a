"""The visit that somebody asked for or has, where they ask whether they are booked or may come on that day.

What the store knows goes before what the shop's folder says: hours alone are no answer to somebody who has a visit.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.conversation import Guide
from triagebot.conversation.blocks import Block, Offers, Remark
from triagebot.conversation.enquiries import shop_hours
from triagebot.conversation.visiting import visit_of, visit_words
from triagebot.counter.requests import is_past
from triagebot.store.requests import Request, Requests
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import View

#: Whether they are booked; and whether a day is all right, which names it.
_BOOKED, _DAYS = "enquiry-book", ("enquiry-open-day", "enquiry-come-at")
#: What is asked behind the answer about a day.
_ASK = "visit-ask"


def with_their_visit(
    view: "View", guide: Guide, texts: Texts, number: int, blocks: Sequence[Block], now: datetime
) -> tuple[Block, ...]:
    """The blocks of a reply, with the visit of the case in place of what any other is told."""
    abouts = {block.about for block in blocks if isinstance(block, Remark)}
    if abouts.isdisjoint({_BOOKED, *_DAYS}):
        return tuple(blocks)
    theirs = [each for each in Requests(view).of(number, "asked", "yes") if each.kind == "visit"]
    if not theirs or is_past(guide, theirs[-1], now):
        return tuple(blocks)
    return tuple(_told(guide, texts, theirs[-1], blocks))


def _told(guide: Guide, texts: Texts, request: Request, blocks: Sequence[Block]) -> Iterator[Block]:
    visit = visit_of(request.text)
    day = shop_hours.day_name(texts, datetime.fromisoformat(visit.day).date())
    words = texts(f"visit-stands-{request.state}", visit=visit_words(guide, texts, visit))
    asks = any(isinstance(each, Remark) and each.about == _ASK for each in blocks)
    same = not asks or any(isinstance(each, Remark) and each.about == _ASK and _same(each, guide, texts, request)
                           for each in blocks)  # fmt: skip
    for block in blocks:
        about = block.about if isinstance(block, Remark) else ""
        if isinstance(block, Remark) and (about == _BOOKED or (about in _DAYS and day in block.text and same)):
            yield Remark(words, "visit-stands")
        elif same and asks and (about == _ASK or isinstance(block, Offers)):
            continue
        else:
            yield block


def _same(asked: Remark, guide: Guide, texts: Texts, request: Request) -> bool:
    """Whether it is the visit that they have about which they are asked."""
    return asked.text == texts(_ASK, visit=visit_words(guide, texts, visit_of(request.text)))
