"""What the staff can say, with this shop's own tools: what is said every day first, the rest on a second screen."""

import re
from collections.abc import Mapping

from triagebot.cases.tickets import TRYING
from triagebot.conversation import Guide
from triagebot.counter.lending import at_home
from triagebot.counter.work import Attended, Work
from triagebot.messages.message import Arrived
from triagebot.shop import fold
from triagebot.store.staff import Member, Staff, Tickets
from triagebot.topics import Texts

#: The names of tools that stand in help are the shortest of so many.
_OF = 8


def welcome(guide: Guide, texts: Texts, member: Member, out: Mapping[str, int]) -> str:
    """What somebody reads who has just become one of the staff. `out`: how many of each tool are."""
    called, names = texts(f"staff-role-{member.role}"), _two_names(at_home(guide, out))
    shop = guide.shop.name
    return texts("staff-welcome", name=member.name, called=called, role=member.role, shop=shop, **names)


def hello(work: Work) -> str:
    """Who waits, and what is said every day."""
    waiting = Tickets(work.tx).waiting()
    return work.texts("staff-hello", waiting=waiting, role=work.member.role, **_two_names(work.guide))


def more(work: Work) -> str:
    """All the rest."""
    return work.texts("staff-more", role=work.member.role, **_two_names(work.guide))


def help_with(work: Work, said: str) -> str:
    """The lines of help that speak of one thing ("help kit"); "" where none does."""
    order, plain = work.words.order(said), fold(said).strip(" ?!.")
    wanted = {plain, plain.removesuffix("s"), order.command if order is not None else plain}
    rows = f"{hello(work)}\n{more(work)}".splitlines()[1:]
    return "\n".join(row for row in rows if any(re.search(rf"\b{re.escape(each)}", fold(row)) for each in wanted))


def tried_out(work: Work) -> Attended:
    """From now on a customer's words; the first of them as for somebody who has just come in."""
    Staff(work.tx).stand(work.member, {TRYING: True})
    return Attended(None, before=work.texts("staff-trying"), instead=Arrived(new=True))


def _two_names(guide: Guide) -> dict[str, str]:
    """Two tools of the shop, for examples: removers that hang there and are lent, where there are any."""
    tools = sorted(guide.shop.tools_file.tools, key=lambda tool: ("lends" not in tool.offers, not tool.count))
    names = [tool.name for tool in tools if tool.tool in guide.topic.removers] or [tool.name for tool in tools]
    short = sorted(names[:_OF], key=len)
    return {"tool": short[0], "other": short[min(1, len(short) - 1)]} if short else {"tool": "TOOL", "other": "TOOL"}
