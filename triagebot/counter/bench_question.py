"""A question at the bench: where a tool is, who has it, how tight it goes, which way it turns. Never a reading.

Rules of this file:
- the first words of a question say what is asked; the rest names a tool, or what is seen;
- how tight and which way are answered for what is asked about, else for the wheel that they are at; where kinds
  differ, each has its own line, and nothing is picked for them;
- any other question is looked up in the shop's notes.
"""

import re
from collections.abc import Sequence
from functools import partial

from triagebot.conversation import Reply
from triagebot.conversation.blocks import Excerpt
from triagebot.conversation.enquiries import load_enquiries, shop_hours
from triagebot.conversation.enquiries.named_days import days_named, names_a_day
from triagebot.conversation.reply import told
from triagebot.conversation.shop_offers import money
from triagebot.counter.bench_answer import apart, back_on
from triagebot.counter.bench_enquiry import as_customers_ask, services
from triagebot.counter.bench_line import Line, continued, read_line
from triagebot.counter.heard import hear
from triagebot.counter.lending_commands import called, where_else
from triagebot.counter.other_branches import at_other_branches
from triagebot.counter.tool_lookup import fitting, served, tell_served, tools_in
from triagebot.counter.work import Work, named_case
from triagebot.shop import fold
from triagebot.shop.search import Found
from triagebot.store.loans import Loans
from triagebot.topics import Fastening

#: What a line tells of a wheel, and a number that it asks about. A run of commas is tried from its start alone, not
#: from each of them.
_NUMBER_ASKED = re.compile(r"(.+?)(?<![\s,])[\s,]+(\d{1,3}) ?(?:n ?m)?\s*\?+", re.IGNORECASE)
#: So many kinds have a line of their own; where more fit, they are asked which.
MOST_LINES = 3
#: And so many tools.
MOST_TOOLS = 5


def asked(work: Work, before: Line, text: str) -> Reply | None:
    """The answer to what is asked of tools, torque and thread; None for anything else. `before`: the wheel that they
    are at."""
    if (other := _other_part(work, text)) is not None:
        return told(work.texts("staff-asked-elsewhere", part=other))
    if (torque := _asks_torque(work, text)) is not None:
        return _how(work, "tight", torque)
    kind, about = _asked_of(work, text)
    if any(work.words.senses.get(word) in ("warn", "notes", "late") for word in about.split()):
        return None
    if kind == "price" and not about:
        return told(services(work, ""))
    if kind in ("where", "stock", "who", "price"):
        tools = _each_named(work, about) or (tools_in(work.guide, work.texts, work.words, about) if about else ())
        return where(work, tools, price=kind == "price", who=kind == "who") if tools else None
    if kind == "open":
        return told(opening(work, text))
    if kind in ("tight", "thread"):
        return how(work, kind, before, about) if not about or _in_question(work, Line(), about) else None
    return None


def _asks_torque(work: Work, text: str) -> list[Fastening] | None:
    """ "12 cass 40?": the kinds that a number with a question mark behind it is the torque of; None where it is not
    that of all of them."""
    match = _NUMBER_ASKED.fullmatch(text.strip())
    kinds = _in_question(work, Line(), match[1]) if match is not None else []
    torques = {row.refitting.torque for row in kinds if row.refitting is not None}
    return kinds if match is not None and kinds and torques == {float(match[2])} else None


def _each_named(work: Work, about: str) -> tuple[str, ...]:
    """The tools of a question that names several ("where is the big four and the middle four"); none where it names
    one."""
    mentions = hear(work, about).tools if about else ()
    each = [mention.tools[0] for mention in mentions if len(mention.tools) == 1]
    return tuple(dict.fromkeys(each)) if len(each) > 1 else ()


def _other_part(work: Work, text: str) -> str | None:
    """The part of a bike that is none of ours, of which it is asked how tight it goes or which way it turns; none in
    what is written of a case."""
    order = work.words.order(text)
    if order is not None and named_case(work.tx, order.rest) is not None:
        return None
    said = f" {' '.join(fold(text).split())} "
    asked = (phrase for phrase, sense in work.words.senses.items() if sense in ("tight", "way"))
    parts = (*work.words.other_parts, *work.words.asked_elsewhere)
    part = next((part for part in sorted(parts, key=len, reverse=True) if f" {part} " in said), None)
    return part if part is not None and any(f" {phrase} " in said for phrase in asked) else None


def opening(work: Work, text: str) -> str:
    """When the shop is open: on the days or at the feast that are named, over the holidays, else today."""
    today, said = shop_hours.today(work.guide, work.now), fold(text).split()
    keys = [work.words.times_said.get(word, word) for word in said]
    known = load_enquiries(work.texts.language, work.guide.topic.folder).days
    if names_a_day(known, keys):
        return shop_hours.on_days(work.guide, work.texts, days_named(today, known, keys))
    if any(key in work.words.holidays for key in keys):
        return shop_hours.closed_days(work.guide, work.texts, work.now)
    return shop_hours.on_days(work.guide, work.texts, [today])


def kinds_of(work: Work, before: Line, about: str) -> list[str]:
    """The kinds of fastening that a question is about, by their ids."""
    return [row.id for row in _in_question(work, before, about)]


def in_the_notes(work: Work, before: Line, text: str, kinds: Sequence[str] | None = None) -> Reply | None:
    """What the notes say about any other question, of these `kinds` first; that nothing is known, where they say
    nothing. None for what is no question, if no kinds were said to be asked about."""
    first = fold(text).split()[:1]
    if kinds is None and (not first or first[0] not in work.words.asking):
        return None
    of_none = not kinds
    kinds = kinds_of(work, before, "") if kinds is None else kinds
    found = work.guide.shop.note_index.best(text, work.texts.language, kinds) if kinds else None
    found = found or work.guide.shop.note_index.best(text, work.texts.language)
    if found is None and of_none and _tells_of_a_fitting(work, text):
        return None
    if found is None:
        return as_customers_ask(work, text, surely=True) or told(work.texts("staff-asked-unknown"))
    return _excerpt(work, found)


def _tells_of_a_fitting(work: Work, text: str) -> bool:
    """Whether a question tells what is seen of the fitting: "what fitting is two notches"."""
    seen = {fact.reading.question for fact in read_line(work.guide, work.texts.language, text).facts}
    return "fitting" in seen


def _excerpt(work: Work, found: Found) -> Reply:
    title = found.section.title if found.section is not None else found.note.title
    lead = work.texts("notes-say", section=title)
    return Reply((Excerpt(lead, found.link, work.texts("notes-words", words=found.words)),), "question")


def _asked_of(work: Work, text: str) -> tuple[str, str]:
    """What is asked, by the longest words that begin the text, and what stands behind these."""
    said = " ".join(fold(text).split())
    phrases = sorted(((p, kind) for kind, each in work.words.asks.items() for p in each), key=lambda row: -len(row[0]))
    for phrase, kind in phrases:
        if said == phrase or said.startswith(f"{phrase} "):
            return kind, _without_endings(work, said[len(phrase) :].strip())
    return "", ""


def _without_endings(work: Work, about: str) -> str:
    """ "the 40 in stock" is about "the 40"."""
    for ending in sorted(work.words.asks_endings, key=len, reverse=True):
        if about == ending or about.endswith(f" {ending}"):
            about = about[: len(about) - len(ending)].strip()
    return about


def how(work: Work, kind: str, before: Line, about: str) -> Reply:
    """How `tight` or which way (`thread`) what is asked about goes, else the wheel that they are at."""
    return _how(work, kind, _in_question(work, before, about))


def noted(work: Work, tools: Sequence[str], text: str) -> Reply:
    """What the notes say of what these tools are for, nearest to a text; what they are for, where there is no note."""
    kinds = [row.id for tool in tools for row in served(work.guide, tool).fastenings]
    found = work.guide.shop.note_index.best(text, work.texts.language, kinds) if kinds else None
    if found is None:
        return tell_served(work.guide, work.texts, tools[:1], text, partial(where_else, work))
    return _excerpt(work, found)


def where(work: Work, tools: Sequence[str], *, price: bool, who: bool = False) -> Reply:
    """Where each tool is and who has it; with its price, what it costs and what is left for it. Which other branches
    have it is told where it is asked `who` has it, or none is in here."""
    if len(tools) > MOST_TOOLS:
        names = work.texts("staff-between").join(called(work, tool) for tool in tools)
        return told(work.texts("staff-which-tool", names=names))
    return told("\n".join(_where(work, tool, price=price, who=who) for tool in tools))


def _where(work: Work, tool: str, *, price: bool, who: bool) -> str:
    own = work.guide.shop.tool_for(tool)
    name, out = called(work, tool), where_else(work, tool)
    if own is None or not own.count:
        head = work.texts("staff-where-none", name=name)
    else:
        head = work.texts("staff-where", name=name, hangs=own.hangs, count=own.count)
    costs = []
    if price and own is not None and own.price is not None:
        costs.append(work.texts("staff-price", money=money(work.guide, work.texts, own.price)))
    if price and own is not None and own.deposit:
        costs.append(work.texts("staff-lend-deposit", money=money(work.guide, work.texts, own.deposit)))
    costs = costs or ([work.texts("staff-price-none")] if price else [])
    here = " ".join(filter(None, [*costs, head, out]))
    if not work.guide.neighbours:
        return here
    none_in = own is None or own.count <= len(Loans(work.tx).out(tool))
    return "\n".join(filter(None, [here, at_other_branches(work, tool) if who or none_in else ""]))


def _in_question(work: Work, before: Line, about: str) -> list[Fastening]:
    """The kinds that a question is about: those that fit what it says, or the tool that it names; else those of the
    wheel that they are at."""
    tools = tools_in(work.guide, work.texts, work.words, about) if about else ()
    if len(tools) == 1:
        return list(served(work.guide, tools[0]).fastenings)
    bare = " ".join(w for w in about.split() if w not in work.words.articles)
    rings = [word for word in about.split() if word in work.words.any_ring]
    others = [word for word in about.split() if word in work.words.parts and word not in rings]
    if rings and not others and bare not in work.words.tool_names and not any(letter.isdigit() for letter in about):
        bare = rings[0]
    if name := work.words.tool_names.get(bare):
        named = tools_in(work.guide, work.texts, work.words, name)
        kinds = [row for row in work.guide.topic.catalogue.fastenings if row.remover in named]
        return kinds if bare not in work.words.any_ring else [*kinds, *_left_handed(work)]
    line = continued(Line(), read_line(work.guide, work.texts.language, about)) if about else Line()
    alone = (continued(Line(), read_line(work.guide, work.texts.language, word)) for word in about.split())
    line = line if line.facts else next((each for each in alone if each.facts), Line() if about else before)
    return [row for row in fitting(work.guide, line) if not row.broad and not row.mistaken] if line.facts else []


def _left_handed(work: Work) -> list[Fastening]:
    return [row for row in work.guide.topic.catalogue.fastenings if row.direction == "clockwise"]


def _how(work: Work, kind: str, rows: Sequence[Fastening]) -> Reply:
    """How tight or which way, for these kinds: once where they agree."""
    texts = work.texts
    said: dict[str, list[str]] = {}
    for row in rows:
        words = back_on(texts, row) if kind == "tight" else texts(f"direction-{row.direction}")
        said.setdefault(words or texts("staff-asked-none"), []).append(texts(f"fastening-{row.id}.short"))
    if not rows or len(said) > MOST_LINES:
        left = [texts(f"fastening-{row.id}.short") for row in _left_handed(work)]
        return told(texts(f"staff-asked-{kind}", left=apart(texts, left)))
    if len(said) == 1:
        (words,) = said
        return told(texts("staff-asked-one", names=apart(texts, said[words]), words=words))
    return told("\n".join(texts("staff-asked-row", names=apart(texts, names), words=w) for w, names in said.items()))
