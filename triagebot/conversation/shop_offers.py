"""The shop's part of an outcome: its tools, notes and services, and how to reach somebody there."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from babel.dates import format_date, format_time
from babel.numbers import format_currency

from triagebot.conversation.blocks import Block, Needs, NoteLinks, Reach, Remark, Services, Step
from triagebot.conversation.blocks import Tool as ToolBlock
from triagebot.conversation.guide import Guide
from triagebot.conversation.wording import habits, number
from triagebot.shop import NoteLink, Service, Tool
from triagebot.topics import Fastening, Texts

#: So many parts are told of at once.
MOST_PARTS = 4
#: Standard gravity, m/s²: what a pull in newtons weighs.
GRAVITY = 9.80665


def remover(guide: Guide, texts: Texts, kind: str, *, alone: bool = True) -> ToolBlock:
    """The remover in plain words, then as this shop calls it, where it hangs and, where it is named `alone`, what is to
    be left for it."""
    name = f"remover-{kind}.short" if texts.has(f"remover-{kind}", "short") else f"remover-{kind}"
    tool, plainly = guide.shop.tool_for(kind), texts(name)
    plainly = plainly if alone else plainly[:1].upper() + plainly[1:]
    if tool is None or tool.count == 0:
        return ToolBlock(texts("tool-not-here" if alone else "tool-not-here-either", tool=plainly), kind)
    values = {"tool": plainly, "name": tool.name, "hangs": tool.hangs}
    if alone:
        words = texts("tool-here", **values, terms=_left_for(guide, texts, tool))
    else:
        words = texts("tool-here-either", **values)
    return ToolBlock(words, kind, tool.name, tool.hangs)


def _left_for(guide: Guide, texts: Texts, tool: Tool) -> str:
    """In a word or two: the deposit, or what else the shop does with a tool."""
    if "lends" in tool.offers:
        return texts("terms-deposit", money=money(guide, texts, tool.deposit)) if tool.deposit else texts("terms-lent")
    if "sells" in tool.offers:
        return texts("terms-price", money=money(guide, texts, tool.price)) if tool.price else texts("terms-sold")
    return texts("terms-shop-use-only")


def offer(guide: Guide, texts: Texts, tool: Tool) -> str:
    """What the shop does with a tool: lends, sells, or keeps it."""
    words = []
    if "lends" in tool.offers:
        words.append(
            texts("offer-lends-deposit", money=money(guide, texts, tool.deposit))
            if tool.deposit
            else texts("offer-lends")
        )
    if "sells" in tool.offers:
        words.append(
            texts("offer-sells-price", money=money(guide, texts, tool.price)) if tool.price else texts("offer-sells")
        )
    return " ".join(words or [texts("offer-shop-use-only")])


def money(guide: Guide, texts: Texts, amount: Decimal) -> str:
    return str(format_currency(amount, guide.shop.currency or "EUR", locale=habits(texts)))


def also_needed(guide: Guide, texts: Texts, fastening: Fastening) -> tuple[Block, ...]:
    """What else is needed, with the shop's own names."""
    rows = also_needed_of(guide, texts, fastening.accessories)
    return (Needs(texts("also-needed"), tuple(rows)),) if rows else ()


def also_needed_of(guide: Guide, texts: Texts, accessories: Sequence[str]) -> list[str]:
    """Each of these with the shop's own name and where it hangs."""
    rows = []
    for accessory in accessories:
        tool = guide.shop.tool_for(accessory)
        plain = texts(f"accessory-{accessory}")
        here = tool and texts("accessory-here", accessory=plain, name=tool.name, hangs=tool.hangs)
        rows.append(here or plain)
    return rows


def refitting(guide: Guide, texts: Texts, fastening: Fastening) -> tuple[Block, ...]:
    """How it goes back; the pull at a usual handle is F = T / r."""
    if fastening.refitting is None:
        return ()
    torque, handle = fastening.refitting.torque, guide.topic.catalogue.handle_mm
    values = {}
    if torque is not None:
        values = {
            "torque": number(texts, torque, 1),
            "kilos": number(texts, torque / (handle / 1000) / GRAVITY, 0),
            "handle": number(texts, handle, 0),
        }
    name = fastening.refitting.text
    return (Step(texts("refit-line", text=texts(name, **values)), name),)


def note_links(texts: Texts, links: Sequence[NoteLink], head: str = "notes-head") -> tuple[Block, ...]:
    return (NoteLinks(texts(head), tuple(links)),) if links else ()


def services(guide: Guide, texts: Texts, fastening: Fastening) -> tuple[Block, ...]:
    """The other way out: what the shop does itself, for how much and how long. What is meant for damage is left out,
    unless the shop does nothing else."""
    able = guide.shop.services_for(fastening.id)
    sound = [row for row in able if not row.damaged]
    return _services(guide, texts, "services-head", sound or able)


def services_of_a_person(guide: Guide, texts: Texts, fastening: Fastening) -> tuple[Block, ...]:
    """What the shop does about a fastening that is damaged, or that nobody has recognised."""
    return _services(guide, texts, "services-head-person", guide.shop.services_for(fastening.id, damaged=True))


def _services(guide: Guide, texts: Texts, head: str, offered: Sequence[Service]) -> tuple[Block, ...]:
    rows = [texts("service-line", name=row.name, terms=terms(guide, texts, row)) for row in offered]
    return (Services(texts(head), tuple(rows)),) if rows else ()


def parts(guide: Guide, texts: Texts, fastening: Fastening, sprockets: int | None) -> tuple[Block, ...]:
    """What the shop sells in place of what comes off: what lies there first."""
    found = guide.shop.parts_for(fastening.id, sprockets)
    ranked = sorted(found, key=lambda part: not part.in_stock)[:MOST_PARTS]
    rows = [
        texts(
            "part-line",
            name=part.name,
            thread=part.thread or "none",
            price=money(guide, texts, part.price) if part.price is not None else "none",
            stock=part.in_stock,
        )
        for part in ranked
    ]
    lines = (*([texts("parts-which")] if sprockets is None and len(found) > 1 else []),)
    return (Remark("\n".join([texts("parts-head"), *rows, *lines]), "parts-head"),) if rows else ()


def terms(guide: Guide, texts: Texts, service: Service) -> str:
    """Price and time of a service."""
    time = (
        texts("takes-minutes", minutes=service.minutes)
        if service.minutes
        else texts("takes-days", days=service.days or 0)
    )
    price = money(guide, texts, service.price) if service.price is not None else ""
    return texts("service-terms", price=price, time=time) if price else time


def reach(guide: Guide, texts: Texts, now: datetime) -> Reach:
    """How to reach a person, and whether the shop is open now or when it opens next."""
    contact = guide.shop.contact
    details = [value for value in (contact.phone, contact.e_mail, contact.street) if value]
    rows = [contact.person, texts("list-between").join(details), _open(guide, texts, now)]
    return Reach(tuple(filter(None, rows)))


def within_reach(guide: Guide, texts: Texts, now: datetime) -> Reach:
    """The same in a line: the telephone, and whether the shop is open."""
    phone = guide.shop.contact.phone
    rows = [texts("reach-phone", phone=phone) if phone else guide.shop.contact.person, _open(guide, texts, now)]
    return Reach((" ".join(filter(None, rows)),))


def _open(guide: Guide, texts: Texts, now: datetime) -> str:
    """Whether the shop is open now or when it opens next; empty where its hours say neither."""
    hours, zone = guide.shop.hours, guide.shop.zone
    if (opening := hours.opening_at(now)) is not None:
        return texts("open-now", until=_clock(texts, opening.closes.astimezone(zone)))
    if (upcoming := hours.next_opening(now)) is None:
        return ""
    opens = upcoming.opens.astimezone(zone)
    today = opens.date() == now.astimezone(zone).date()
    day = "" if today else format_date(opens, "EEEE d MMMM", locale=habits(texts))
    return texts("opens-today" if today else "opens-next", day=day, at=_clock(texts, opens))


def _clock(texts: Texts, at: datetime) -> str:
    return str(format_time(at, "HH:mm", locale=habits(texts)))
