"""What a customer reads who asks whether their bike is ready that they left with us."""

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.cases.labels import wanted_day
from triagebot.conversation import Guide
from triagebot.conversation.blocks import Block, Remark
from triagebot.conversation.enquiries import shop_hours
from triagebot.conversation.visiting import READY, of_ready
from triagebot.store.bikes import Bike, Bikes
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import View


def with_their_bike(
    view: "View", guide: Guide, texts: Texts, cases: Sequence[int], blocks: Sequence[Block], now: datetime
) -> tuple[Block, ...]:
    """The blocks of such a reply, with how far their own bike is in place of what we would charge and whom to ask;
    as they are where no bike is tied to one of their `cases`, the newest of which is told of."""
    bikes = [bike for number in cases if (bike := Bikes(view).of(number)) is not None]
    if not bikes:
        return tuple(blocks)
    newest = max(bikes, key=lambda bike: bike.since)
    told = Remark(_stands(guide, texts, newest, now), READY)
    rest = [block for block in blocks if not of_ready(block)]
    return (told, *rest)


def _stands(guide: Guide, texts: Texts, bike: Bike, now: datetime) -> str:
    contact = guide.shop.contact
    if bike.done is not None:
        return texts("ready-done", what=bike.what, open=shop_hours.visit(guide, texts, now))
    wanted = wanted_day(guide, texts, bike) or "none"
    return texts("ready-not-yet", what=bike.what, wanted=wanted, contact=contact.phone or contact.line)
