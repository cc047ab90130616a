"""What is answered to an enquiry: one or two sentences, from the shop's folder or the topic's texts.

Rules of this file:
- an answer tells facts and changes nothing: no reading, no outcome. The open question follows it;
- what the open question has words of its own for is answered by them, and so is what leans on it ("which bit?");
- once a fastening is named, the answer is about that one; before, it is true of all of them;
- a short cut that hurts is answered with why not, and with what the shop takes for doing it.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal

from triagebot.conversation import outcome
from triagebot.conversation.blocks import Block, HowTo, Picture, Remark
from triagebot.conversation.enquiries import shop_hours
from triagebot.conversation.enquiries.known import Enquiries, Enquiry
from triagebot.conversation.enquiries.named_days import date_named, days_named, names_a_day
from triagebot.conversation.scene import Scene
from triagebot.conversation.shop_offers import money, offer, refitting, remover, terms
from triagebot.conversation.telling_apart import odds, separating_check, what_would_change
from triagebot.conversation.wording import how_to
from triagebot.shop import Service
from triagebot.topics import Fastening

#: So many services are told of at once.
SERVICES = 2
#: From this share on, one kind is said to be the likeliest while questions are left.
_LIKELIER = 0.5
#: At this share or more, one kind's direction is told before it is named.
NEARLY_SURE = 0.9
#: So many times in ten at the most, while questions are left.
_SUREST = 9


def answer(scene: Scene, known: Enquiries, enquiry: Enquiry) -> tuple[Block, ...]:
    """The answer in blocks."""
    if enquiry.id == "what-is":
        name = f"glossary-{enquiry.term}"
        picture = known.pictures.get(enquiry.term)
        return (Remark(scene.texts(name), name), *((Picture(picture),) if picture else ()))
    name = f"enquiry-{enquiry.id}"
    if (helps := _of_the_open_question(scene, known, enquiry)) is not None:
        return (helps,)
    if enquiry.id in known.work and outcome.is_stopped(scene.guide, scene.case):
        return (Remark(scene.texts("work-stopped", code=scene.case.code), name),)
    if enquiry.id in _SHOP:
        return (Remark(_SHOP[enquiry.id](scene, known, enquiry), name),)
    fastening = _named(scene)
    if fastening is not None and (says := known.says.get(enquiry.id)) is not None:
        return _of_a_fastening(scene, fastening, says, name)
    if fastening is not None and _unneeded(fastening, known.about.get(enquiry.id, ())):
        return (Remark(scene.texts(f"{name}.unneeded"), name),)
    if fastening is None and known.says.get(enquiry.id) == "direction":
        name = _as_it_looks(scene, name)
    if fastening is not None and scene.texts.has(name, fastening.direction):
        name = f"{name}.{fastening.direction}"
    words = scene.texts(name, contact=scene.guide.shop.contact.line, shop=_or_the_shop(scene))
    return (Remark(words.strip(), name),)


def _of_the_open_question(scene: Scene, known: Enquiries, enquiry: Enquiry) -> Block | None:
    """What the open question says of it in words of its own; of what leans on it at least how to check."""
    opened, texts = scene.case.now.question, scene.texts
    if opened is None:
        return None
    if texts.has(f"question-{opened}", enquiry.id):
        return Remark(texts(f"question-{opened}.{enquiry.id}"), f"enquiry-{enquiry.id}")
    return HowTo(how_to(texts, opened), opened) if enquiry.id in known.leaning else None


def _as_it_looks(scene: Scene, name: str) -> str:
    """The text for the direction of what it nearly surely is, where that turns another way than most."""
    step, topic = scene.decide(), scene.guide.topic
    likeliest = topic.fastenings[topic.model.fastenings[int(step.shares.argmax())]]
    likely = not likeliest.broad and float(step.shares.max()) >= NEARLY_SURE
    return f"{name}.{likeliest.direction}" if likely and scene.texts.has(name, likeliest.direction) else name


def _unneeded(fastening: Fastening, tools: tuple[str, ...]) -> bool:
    """Whether this fastening needs none of the tools that are asked about, if any are."""
    return bool(tools) and {fastening.remover, *fastening.accessories}.isdisjoint(tools)


def _of_a_fastening(scene: Scene, fastening: Fastening, says: str, name: str) -> tuple[Block, ...]:
    guide, texts = scene.guide, scene.texts
    if says == "refitting" and (steps := refitting(guide, texts, fastening)):
        return steps
    if says == "remover" and fastening.remover is not None:
        return (remover(guide, texts, fastening.remover),)
    if says == "look-alike":
        return (_not_its_like(scene, fastening, name),)
    return (Remark(texts(f"direction-{fastening.direction}"), name),)


def _not_its_like(scene: Scene, fastening: Fastening, name: str) -> Remark:
    """Whether the usual one of two tools that look alike will do."""
    pairs = scene.guide.topic.catalogue.look_alikes
    places = [pair.fastenings.index(fastening.id) for pair in pairs if fastening.id in pair.fastenings]
    which = f"{name}.{('usual', 'other')[places[0]]}" if places else name
    return Remark(scene.texts(which), name)


def _named(scene: Scene) -> Fastening | None:
    """The fastening that was named, if it is one."""
    if scene.case.now.outcome != "answer":
        return None
    step = scene.decide()
    return outcome.leading(scene.guide, step, step.decision)[0]


# --- what the shop does -----------------------------------------------------------------------------------------------


def _services(scene: Scene) -> tuple[Service, ...]:
    """What the shop does about what was named, else about anything; what is meant for damage comes last."""
    fastening = _named(scene)
    able = scene.guide.shop.services if fastening is None else scene.guide.shop.services_for(fastening.id)
    return tuple(sorted(able, key=lambda service: service.damaged))


def _sentence(scene: Scene, service: Service) -> str:
    return scene.texts("enquiry-service", name=service.name, terms=terms(scene.guide, scene.texts, service))


def _or_the_shop(scene: Scene) -> str:
    """ "We do it for you: £6.00, about 15 minutes."; "" where the shop does nothing of the sort."""
    offered = _services(scene)
    return scene.texts("enquiry-or-us", terms=terms(scene.guide, scene.texts, offered[0])) if offered else ""


def _price(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    offered = _services(scene)[:SERVICES]
    if not offered:
        return _ask_them(scene)
    return " ".join(_sentence(scene, service) for service in offered)


def _how_long(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    offered = _services(scene)[:1]
    return _sentence(scene, offered[0]) if offered else _ask_them(scene)


def _do_it(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    offered = _services(scene)[:1]
    if not offered:
        return _ask_them(scene)
    return " ".join([scene.texts("enquiry-gladly"), _sentence(scene, offered[0]), _visit(scene)]).strip()


def _book(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    named = names_a_day(known.days, enquiry.keys)
    when = _open_day(scene, known, enquiry) if named else _visit(scene)
    return f"{scene.texts('enquiry-book', contact=_call(scene))} {when}".strip()


def _buy(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    return scene.texts("enquiry-buy", contact=_call(scene))


def _ask_them(scene: Scene) -> str:
    return scene.texts("mood-question", contact=scene.guide.shop.contact.line)


def _only_they_know(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    return scene.texts("enquiry-ask-the-shop", contact=scene.guide.shop.contact.line)


def _again(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    return scene.texts("enquiry-again")


def _call(scene: Scene) -> str:
    contact = scene.guide.shop.contact
    return contact.phone or contact.line


# --- where and when ---------------------------------------------------------------------------------------------------


def _asks_if_shut(known: Enquiries, enquiry: Enquiry) -> bool:
    """Whether it is asked if the shop is shut: "is it closed on Sunday?", and not "when do you shut?"."""
    return not known.shut.isdisjoint(enquiry.keys) and known.not_shut.isdisjoint(enquiry.keys)


def _open_now(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    return shop_hours.now_open(scene.guide, scene.texts, scene.at, shut=_asks_if_shut(known, enquiry))


def _open_day(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    today = shop_hours.today(scene.guide, scene.at)
    named = names_a_day(known.days, enquiry.keys) or not set(known.times.today).isdisjoint(enquiry.keys)
    if not named and not shop_hours.opens_on(scene.guide, today):
        return shop_hours.usual_week(scene.guide, scene.texts)
    days = days_named(today, known.days, enquiry.keys)
    return shop_hours.on_days(scene.guide, scene.texts, days, shut=_asks_if_shut(known, enquiry), now=scene.at)


def _hours(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    return shop_hours.usual_week(scene.guide, scene.texts)


def _holidays(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    feast = date_named(shop_hours.today(scene.guide, scene.at), known.days, enquiry.keys)
    if feast is not None:
        return shop_hours.on_days(scene.guide, scene.texts, [feast], shut=_asks_if_shut(known, enquiry))
    return shop_hours.closed_days(scene.guide, scene.texts, scene.at)


def _visit(scene: Scene) -> str:
    return shop_hours.visit(scene.guide, scene.texts, scene.at)


def _where(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    street = scene.guide.shop.contact.street
    if street is None:
        return _ask_them(scene)
    return f"{scene.texts('enquiry-where', street=street)} {_visit(scene)}".strip()


def _telephone(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    contact = scene.guide.shop.contact
    ways = [way for way in (contact.phone, contact.e_mail) if way]
    if not ways:
        return contact.person
    return scene.texts("enquiry-telephone", ways=scene.texts("list-between").join(ways))


# --- tools ------------------------------------------------------------------------------------------------------------


def _tool_here(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    """Whether a tool is on the wall now: the one that is named, else the one that was found to fit."""
    texts, fastening = scene.texts, _named(scene)
    kind = enquiry.tool or (fastening.remover if fastening is not None else None)
    if kind is None and scene.case.now.outcome == "person":
        return texts("enquiry-tool-not-yet", contact=_call(scene))
    if kind is None:
        return texts("enquiry-tool-unknown", deposits=_deposits(scene))
    tool = scene.guide.shop.tool_for(kind)
    if tool is None:
        return texts("enquiry-tool-none", contact=_call(scene))
    if tool.count == 0:
        return texts("enquiry-tool-out", name=tool.name, contact=_call(scene))
    return texts(
        "enquiry-tool-in", name=tool.name, hangs=tool.hangs, count=tool.count, offer=offer(scene.guide, texts, tool)
    )


def _sell_tool(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    """Whether a tool can be bought, and what else the shop does with it."""
    texts, fastening = scene.texts, _named(scene)
    kind = enquiry.tool or (fastening.remover if fastening is not None else None)
    tool = scene.guide.shop.tool_for(kind) if kind is not None else None
    if tool is None:
        return texts("enquiry-buy", contact=_call(scene))
    name = "enquiry-tool-sold" if "sells" in tool.offers else "enquiry-tool-not-sold"
    return texts(name, name=tool.name, offer=offer(scene.guide, texts, tool))


def _only_has(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    """Whether the tool that somebody has does for what was found; one of another kind never does."""
    texts, fastening = scene.texts, _named(scene)
    if fastening is None or fastening.remover is None or enquiry.tool in ("", fastening.remover):
        return texts("enquiry-nearly-fits", shop=_or_the_shop(scene))
    if enquiry.tool in fastening.accessories:
        return _tool_here(scene, known, enquiry)
    needed = texts("enquiry-tool-needed", tool=texts(f"remover-{fastening.remover}"))
    return f"{texts('enquiry-only-has')} {needed} {_deposit(scene, known, replace(enquiry, tool=''))}"


def _deposit(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    texts, fastening = scene.texts, _named(scene)
    kind = enquiry.tool or (fastening.remover if fastening is not None else None)
    tool = scene.guide.shop.tool_for(kind) if kind is not None else None
    if tool is not None:
        return texts("enquiry-deposit-of", name=tool.name, offer=offer(scene.guide, texts, tool))
    return texts("enquiry-deposit", deposits=_deposits(scene))


def _deposits(scene: Scene) -> str:
    """From the least to the most that the shop takes for lending a tool."""
    lent = (tool.deposit for tool in scene.guide.shop.tools.values() if "lends" in tool.offers)
    sums = sorted({deposit for deposit in lent if deposit})
    texts = scene.texts
    if not sums:
        return money(scene.guide, texts, Decimal(0))
    low, high = money(scene.guide, texts, sums[0]), money(scene.guide, texts, sums[-1])
    return low if low == high else texts("amount-range", low=low, high=high)


# --- what is known so far ---------------------------------------------------------------------------------------------


def _likelier(scene: Scene, known: Enquiries, enquiry: Enquiry) -> str:
    """Which kind is likeliest, and how surely; of two that fit, by how much, and what tells them apart."""
    guide, texts, step = scene.guide, scene.texts, scene.decide()
    if scene.case.now.outcome == "look-alike":
        found = outcome.leading(guide, step, step.decision)
        check = texts("separating-check", check=separating_check(guide, texts, found))
        return f"{outcome.two_kinds(texts, found)} {odds(guide, texts, step)}\n\n{check}"
    likeliest = guide.topic.fastenings[guide.topic.model.fastenings[int(step.shares.argmax())]]
    name = texts(f"fastening-{likeliest.id}")
    if scene.case.now.outcome == "answer":
        surely = texts(f"found-{outcome.certainty(guide, step)}", fastening=name)
        return f"{surely} {what_would_change(guide, texts, step, likeliest)}".strip()
    share = float(step.shares.max())
    if likeliest.broad or share < _LIKELIER:
        return texts("enquiry-likelier-early")
    return texts("enquiry-likelier", fastening=name, tenths=min(round(share * 10), _SUREST))


#: What the shop's folder answers, and what is known of this wheel.
_SHOP: Mapping[str, Callable[[Scene, Enquiries, Enquiry], str]] = {
    "open-now": _open_now,
    "open-day": _open_day,
    "hours": _hours,
    "holidays": _holidays,
    "where": _where,
    "telephone": _telephone,
    "price": _price,
    "how-long-shop": _how_long,
    "do-it-for-me": _do_it,
    "book": _book,
    "buy-part": _buy,
    "deposit": _deposit,
    "tool-here": _tool_here,
    "sell-tool": _sell_tool,
    "only-has": _only_has,
    "ask-the-shop": _only_they_know,
    "again": _again,
    "likelier": _likelier,
}
