"""Before somebody comes: whether they can, whether a tool is kept for them, what they need to buy, when it is ready.

Rules of this file:
- the question is answered first, from the hours, the tools and the services of the shop;
- where the shop takes visits, or keeps tools, it is then asked whether the staff shall be asked; only a yes right after
  that asks them. The turn itself asks nobody: it says so (it remarks "visit-asked" or "hold-asked"), and the caller
  sees whether there is a place, and tells the staff;
- the visit that the staff agreed to is an event of the case, so it can be told again, and put into a calendar.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from triagebot.conversation import at_hand, outcome, shop_offers
from triagebot.conversation.blocks import Block, Choice, Remark
from triagebot.conversation.case import ASKED, Case
from triagebot.conversation.enquiries import Enquiries, Enquiry, shop_hours
from triagebot.conversation.enquiries.clock import clock_words
from triagebot.conversation.enquiries.named_days import days_named, names_a_day
from triagebot.conversation.enquiries.when import When, when_said
from triagebot.conversation.events import VISIT_ANSWERED, Remarked
from triagebot.conversation.guide import Guide
from triagebot.conversation.scene import Scene
from triagebot.conversation.understood import Meaning
from triagebot.shop import Tool, fold
from triagebot.shop.day_parts import OpenPart, open_parts
from triagebot.topics import Fastening, Texts

#: What a turn notes that the caller is to ask the staff for, and what of it is asked first.
ASKS = {"visit": "visit-asked", "hold": "hold-asked"}
#: What is noted of a visit that the staff agreed to, and of one that they take back.
AGREED, NOT_AGREED = VISIT_ANSWERED
#: What is noted of somebody who asks for the visit as a file for a calendar.
CALENDAR = "calendar"
#: What is noted of somebody who does not come after all: the caller frees the place, and tells the staff.
CANCELLED = "visit-cancelled"
#: What is noted of somebody who was asked when they want to come.
WHEN = "visit-when"
#: What the answer is about that somebody gets who asks whether theirs is ready: the caller may know their bike.
READY, READY_ASK = "enquiry-is-it-ready", "ready-ask"
_NO_TIME = "-"


@dataclass(frozen=True, slots=True)
class Visit:
    """A visit: the part of a day, and the moment where one was said."""

    day: str
    part: str
    moment: datetime | None

    @property
    def text(self) -> str:
        return f"{self.day} {self.part} {self.moment.isoformat() if self.moment is not None else _NO_TIME}"


@dataclass(frozen=True, slots=True)
class Hold:
    """A tool that is kept for somebody, until a moment."""

    tool: str
    until: datetime

    @property
    def text(self) -> str:
        return f"{self.tool} {self.until.isoformat()}"


def visit_of(text: str) -> Visit:
    """The visit that `Visit.text` wrote."""
    day, part, moment = text.split(" ")
    return Visit(day, part, None if moment == _NO_TIME else datetime.fromisoformat(moment))


def hold_of(text: str) -> Hold:
    """The hold that `Hold.text` wrote."""
    tool, until = text.split(" ")
    return Hold(tool, datetime.fromisoformat(until))


def agreed(case: Case) -> Visit | None:
    """The visit that the staff agreed to last, and have not taken back."""
    for event in reversed(case.events):
        if isinstance(event, Remarked) and event.what in (AGREED, NOT_AGREED, CANCELLED):
            return visit_of(event.text) if event.what == AGREED else None
    return None


def open_part(guide: Guide, visit: Visit) -> OpenPart | None:
    """The part of the day of a visit, as the shop's folder has it now."""
    visits = guide.shop.about.visits
    if visits is None:
        return None
    day = datetime.fromisoformat(visit.day).date()
    return next((each for each in open_parts(guide.shop.hours, visits, day) if each.part == visit.part), None)


def visit_words(guide: Guide, texts: Texts, visit: Visit) -> str:
    """ "Thursday 5 March, afternoon", or the time where one was said."""
    day = shop_hours.day_name(texts, datetime.fromisoformat(visit.day).date())
    if visit.moment is not None:
        return texts("visit-at", day=day, at=shop_hours.clock(texts, visit.moment.astimezone(guide.shop.zone)))
    part = open_part(guide, visit)
    hours = "none" if part is None else _hours(texts, part)
    return texts("visit-in", day=day, part=texts(f"part-{visit.part}"), hours=hours)


def until_words(guide: Guide, texts: Texts, until: datetime) -> str:
    """Until when, in full."""
    here = until.astimezone(guide.shop.zone)
    return texts("visit-at", day=shop_hours.day_name(texts, here.date()), at=shop_hours.clock(texts, here))


def _hours(texts: Texts, part: OpenPart) -> str:
    return texts("amount-range", low=shop_hours.clock(texts, part.opens), high=shop_hours.clock(texts, part.closes))


# --- may I come? ------------------------------------------------------------------------------------------------------


def _come(scene: Scene, known: Enquiries, enquiry: Enquiry, text: str) -> None:
    when = _when(scene, known, enquiry, text)
    hours = scene.guide.shop.hours
    if when is None:
        scene.remark(WHEN, text)
        scene.say("visit-when")
        return
    spans = [part for part in _day(scene, when) if when.part is None or part.part == when.part]
    if not spans:
        scene.tell(Remark(_not_then(scene, when), "visit-not-then"))
        return
    if when.moment is not None and not hours.is_open(when.moment):
        scene.tell(Remark(_not_then(scene, when), "visit-not-then"))
        return
    said = shop_hours.on_days(scene.guide, scene.texts, [when.day])
    visits = scene.guide.shop.about.visits
    taken = {part.part for part in open_parts(hours, visits, when.day)} if visits is not None else set()
    place = next((part for part in spans if part.part in taken and part.closes > scene.at), None)
    if visits is None or place is None:
        scene.tell(Remark(f"{said} {scene.texts('visit-just-come')}", "visit-just-come"))
        return
    today = scene.at.astimezone(hours.zone).date()
    if when.day > today + timedelta(days=visits.days_ahead):
        scene.say("visit-too-far", days=visits.days_ahead)
        return
    visit = Visit(when.day.isoformat(), place.part, when.moment)
    scene.fire("visit", lambda _: Remarked(scene.at, "visit", visit.text))
    scene.tell(Remark(said, "visit-open"))
    _ask_whether(scene, scene.texts("visit-ask", visit=visit_words(scene.guide, scene.texts, visit)))


def when_answered(scene: Scene, known: Enquiries, text: str) -> Enquiry | None:
    """ "Tomorrow at 4", right after "can I come?" was answered with "when?": that is when they want to come."""
    last = scene.case.events[-1]
    enquiry = Enquiry("come-at", keys=tuple(fold(text).split()))
    asked = isinstance(last, Remarked) and last.what == WHEN
    return enquiry if asked and _when(scene, known, enquiry, text) is not None else None


def _when(scene: Scene, known: Enquiries, enquiry: Enquiry, text: str) -> When | None:
    named = names_a_day(known.days, enquiry.keys)
    days = days_named(shop_hours.today(scene.guide, scene.at), known.days, enquiry.keys)
    clocks, hours = clock_words(scene.texts.language), scene.guide.shop.hours
    return when_said(text, known.times, clocks, days, named=named, now=scene.at, hours=hours)


def _day(scene: Scene, when: When) -> list[OpenPart]:
    """The parts of a day in which the shop is open, whether it takes visits or not."""
    from triagebot.shop.schema import Visits

    everything = Visits(morning=1, afternoon=1, evening=1, **{"days-ahead": 1})
    return list(open_parts(scene.guide.shop.hours, everything, when.day))


def _not_then(scene: Scene, when: When) -> str:
    """That the shop is shut then, and when it is open on that day, or opens next."""
    texts, parts = scene.texts, _day(scene, when)
    if not parts:
        return shop_hours.on_days(scene.guide, texts, [when.day])
    day = shop_hours.day_name(texts, when.day)
    week = scene.guide.shop.hours.week[when.day.weekday()]
    at = shop_hours.clock(texts, when.moment) if when.moment is not None else "none"
    return texts("visit-not-then", at=at, part=when.part or "none", day=day, hours=shop_hours.hours(texts, week))


def _ask_whether(scene: Scene, question: str) -> None:
    scene.tell(Remark(question, "visit-ask"))
    scene.offers = (
        Choice("ask-them", scene.texts("visit-yes")),
        Choice("dont-ask", scene.texts("visit-no")),
    )


# --- is a tool kept for me? -------------------------------------------------------------------------------------------


def _keep(scene: Scene, known: Enquiries, enquiry: Enquiry, text: str) -> None:
    texts, tool = scene.texts, _tool(scene, enquiry)
    if tool is None:
        scene.say("hold-which")
        return
    if "lends" not in tool.offers:
        scene.say("hold-not-lent", name=tool.name)
        return
    holds = scene.guide.shop.about.holds
    if tool.count == 0:
        scene.say("enquiry-tool-out", name=tool.name, contact=_call(scene))
        return
    if holds is None:
        scene.say("hold-not-from-here", name=tool.name, hangs=tool.hangs, contact=_call(scene))
        return
    hold = Hold(tool.tool, _until(scene, _when(scene, known, enquiry, text), holds.days))
    scene.fire("hold", lambda _: Remarked(scene.at, "hold", hold.text))
    until = until_words(scene.guide, texts, hold.until)
    _ask_whether(scene, texts("hold-ask", name=tool.name, until=until, days=holds.days))


def _until(scene: Scene, when: When | None, days: int) -> datetime:
    """Until when a tool is kept: as long as was asked for, and no longer than the shop does."""
    hours = scene.guide.shop.hours
    latest = _closing(scene, (scene.at + timedelta(days=days)).astimezone(hours.zone))
    if when is None:
        return latest
    wanted = when.moment
    if wanted is None:
        parts = [part for part in _day(scene, when) if when.part is None or part.part == when.part]
        wanted = parts[-1].closes if parts else _closing(scene, datetime(*when.day.timetuple()[:3], tzinfo=hours.zone))
    return min(wanted, latest) if wanted > scene.at else latest


def _closing(scene: Scene, at: datetime) -> datetime:
    """When the shop closes on the day of a moment, or on the next day on which it opens."""
    hours = scene.guide.shop.hours
    midnight = at.replace(hour=0, minute=0, second=0, microsecond=0)
    opening = hours.opening_at(midnight) or hours.next_opening(midnight)
    if opening is None:
        return at
    end, day = opening.closes, opening.opens.date()
    while (more := hours.next_opening(end)) is not None and more.opens.date() == day:
        end = more.closes
    return end


def _tool(scene: Scene, enquiry: Enquiry) -> Tool | None:
    """The tool that is named by the shop's own name or by the topic's; else the one that was found to fit."""
    shop, said = scene.guide.shop, f" {' '.join(enquiry.keys)} "
    named = [tool for tool in shop.tools.values() if f" {_bare_name(tool)} " in said]
    if named:
        return max(named, key=lambda tool: len(_bare_name(tool)))
    fastening = _named(scene)
    kind = enquiry.tool or (fastening.remover if fastening is not None else None)
    return shop.tool_for(kind) if kind is not None else None


def _bare_name(tool: Tool) -> str:
    """ "the twenty" is called "twenty", with whatever before it."""
    words = fold(tool.name.partition("(")[0]).split()
    return " ".join(words[1:] if len(words) > 1 else words)


# --- what do I need to buy, and is it ready? --------------------------------------------------------------------------


def _buy(scene: Scene, known: Enquiries, enquiry: Enquiry, text: str) -> None:
    fastening = _named(scene)
    if fastening is None:
        scene.say("buy-not-known")
        return
    tool = scene.guide.shop.tool_for(fastening.remover) if fastening.remover is not None else None
    if tool is not None and tool.count:
        scene.say("buy-tool", name=tool.name, offer=shop_offers.offer(scene.guide, scene.texts, tool))
    found = tuple(at_hand.buying(scene, (fastening,)))
    scene.tell(*found)
    if not scene.guide.shop.parts_for(fastening.id):
        scene.say("buy-parts", contact=_call(scene))


def _ready(scene: Scene, known: Enquiries, enquiry: Enquiry, text: str) -> None:
    fastening = _named(scene)
    shop = scene.guide.shop
    able = shop.services if fastening is None else shop.services_for(fastening.id)
    offered = sorted(able, key=lambda service: service.damaged)[:1]
    for service in offered:
        terms = shop_offers.terms(scene.guide, scene.texts, service)
        scene.say("enquiry-service", name=service.name, terms=terms)
    scene.say("ready-ask", contact=_call(scene))


def of_ready(block: Block) -> bool:
    """Whether a block answers somebody who asks whether theirs is ready."""
    return isinstance(block, Remark) and block.about in (READY, READY_ASK)


def says_ready(blocks: Sequence[Block]) -> bool:
    """Whether a reply answers that."""
    return any(map(of_ready, blocks))


def _calendar(scene: Scene, known: Enquiries, enquiry: Enquiry, text: str) -> None:
    """The caller puts the link to the file behind it."""
    visit = agreed(scene.case)
    if visit is None:
        scene.say("calendar-none")
        return
    scene.remark(CALENDAR, text)
    contact = scene.guide.shop.contact
    scene.say("calendar", visit=visit_words(scene.guide, scene.texts, visit), place=contact.street or contact.line)


def _cancel(scene: Scene, known: Enquiries, enquiry: Enquiry, text: str) -> None:
    asked = any(isinstance(event, Remarked) and event.what == ASKS["visit"] for event in scene.case.events)
    if not asked:
        scene.say("calendar-none")
        return
    scene.remark(CANCELLED, text)
    scene.say("visit-cancelled")


def _named(scene: Scene) -> Fastening | None:
    """The fastening that was named, if it is one."""
    if scene.case.now.outcome != "answer":
        return None
    step = scene.decide()
    return outcome.leading(scene.guide, step, step.decision)[0]


def _call(scene: Scene) -> str:
    contact = scene.guide.shop.contact
    return contact.phone or contact.line


# --- yes or no --------------------------------------------------------------------------------------------------------


def ask_them(scene: Scene, meant: Meaning, text: str) -> None:
    """A yes to asking the staff."""
    kind = scene.case.now.confirming
    asked = _asked_last(scene.case)
    if kind not in ASKS or asked is None:
        scene.say("visit-over")
        scene.keep_open()
        return
    scene.add(Remarked(scene.at, ASKS[kind], asked.text))
    scene.say("visit-asked")
    scene.keep_open()


def dont_ask(scene: Scene, meant: Meaning, text: str) -> None:
    scene.remark("not-asked", text)
    scene.say("visit-not-asked")
    scene.keep_open()


def _asked_last(case: Case) -> Remarked | None:
    last = case.events[-1]
    return last if isinstance(last, Remarked) and last.what in ASKS else None


#: What is answered here, and how.
ANSWERS: Mapping[str, Callable[[Scene, Enquiries, Enquiry, str], None]] = {
    "come-at": _come,
    "keep-tool": _keep,
    "what-to-buy": _buy,
    "is-it-ready": _ready,
    "calendar": _calendar,
    "cancel-visit": _cancel,
}


def tell(scene: Scene, known: Enquiries, enquiry: Enquiry, text: str) -> None:
    """Answers what somebody asks before they come; the first words say by their id what they answer."""
    scene.remark(ASKED, text)
    first = len(scene.blocks)
    ANSWERS[enquiry.id](scene, known, enquiry, text)
    answer = scene.blocks[first]
    if isinstance(answer, Remark):
        scene.blocks[first] = replace(answer, about=f"enquiry-{enquiry.id}")
