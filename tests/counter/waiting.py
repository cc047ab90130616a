"""Who is at the counter in tests of cases that wait, and what became of them."""

from tests.counter.shop import Shop
from triagebot.conversation.events import Closed

ADA, EVE, BOB, CYD = "ada", "eve", "bob", "cyd"


def closed(shop: Shop, who: str = BOB) -> Closed | None:
    held = shop.held(who)
    assert held is not None
    return held.case.closed


def deeds(shop: Shop) -> list[str]:
    return [what for (what,) in shop.rows("deeds", "what") if what != "joined"]
