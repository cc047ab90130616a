"""The example shop, where people may ask for visits and for tools to be kept."""

from dataclasses import replace
from functools import cache

from tests.conversation.guides import shipped_guide
from triagebot.conversation import Guide
from triagebot.shop.schema import Holds, Visits

#: One at a time.
ONE, TWO_DAYS = Visits(morning=1, afternoon=1, evening=1), Holds(days=2)


@cache
def visiting_guide(visits: Visits | None = ONE, holds: Holds | None = TWO_DAYS) -> Guide:
    guide = shipped_guide()
    about = guide.shop.about.model_copy(update={"visits": visits, "holds": holds})
    return replace(guide, shop=replace(guide.shop, about=about))
