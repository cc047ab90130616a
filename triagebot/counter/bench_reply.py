"""What comes of a line of what is seen: the wheel as it is known now is kept, and answered; and what is put right of it
("no it is 40", "its 40 not 24", "no, turns").

Rules of this file:
- only the wheel that they told of last is put right, and only what was told of it: the rest stays as it was;
- where a tool was lent since, "no" is about that;
- a number alone is the width if it can be that and one was told, else how many there are.
"""

import re
from dataclasses import replace
from datetime import datetime
from functools import partial

from triagebot.conversation import Fact, Guide, Reply
from triagebot.conversation.blocks import Remark
from triagebot.conversation.wording import all_said, said
from triagebot.counter.bench_answer import reply_to
from triagebot.counter.bench_line import (
    MOST,
    Line,
    Seen,
    continued,
    could_be_across,
    count_read,
    line_json,
    read_line,
    settled,
)
from triagebot.counter.bike_lines import gone_on, headed, keep
from triagebot.counter.heard import hear
from triagebot.counter.lending_commands import where_else
from triagebot.counter.lent_last import last
from triagebot.counter.work import Attended, Work
from triagebot.identify import SizeReading
from triagebot.shop import fold
from triagebot.store.staff import Staff

_NUMBER = re.compile(r"\d+(?:[.,]\d+)?(?: ?mm)?")


def settle(work: Work, guide: Guide, before: Line, seen: Seen, text: str, line: Line | None = None) -> Attended:
    """The answer to what is seen now; `line` is the wheel as it is known with that, where it does not just go on."""
    line, step = settled(guide, line or gone_on(work, before, seen, continued(before, seen)))
    keep(work, seen, text, step)
    if seen.facts:
        kept = {"line": line_json(line, work.now), "at": work.now.isoformat()}
        Staff(work.tx).stand(work.member, kept)
    reply = reply_to(work.guide, work.texts.language, line, step, seen, work.now, partial(where_else, work))
    if len(text) > MOST:
        reply = reply.first(Remark(work.texts("message-cut")))
    understood = "; ".join(said(guide, work.texts, fact.reading) for fact in seen.facts)
    if _says_more_than_asked(guide, before, seen):
        reply = _with_what_was_told(work, guide, line, seen, reply)
    return Attended(headed(work, reply), line.number, understood)


def _says_more_than_asked(guide: Guide, before: Line, seen: Seen) -> bool:
    """Whether a line says anything but what was missing: what the fitting is and how many there are is one look."""
    at_once = {each for each in guide.topic.flow.outcomes.sights if guide.topic.questions[each].kind != "size"}
    wanted = at_once if before.question in at_once else {before.question}
    return any(fact.reading.question not in wanted for fact in seen.facts)


def _with_what_was_told(work: Work, guide: Guide, line: Line, seen: Seen, reply: Reply) -> Reply:
    """An answer with what it takes from earlier lines before it, so that nothing of another wheel goes in unseen."""
    now = {fact.reading.question for fact in seen.facts}
    clauses = all_said(guide, work.texts, [each for each in line.readings if each.question not in now])
    if reply.status == "question" or not clauses or not seen.facts or work.on_the_stand() is not None:
        return reply
    return replace(reply, blocks=(Remark(work.texts("staff-told-before", clauses=clauses)), *reply.blocks))


def wheel_put_right(work: Work, guide: Guide, before: Line, text: str) -> Attended | None:
    """The wheel as it is with what is put right; None for a line that puts nothing of it right."""
    rest = _put_right(work, text)
    if not before.facts or not rest or _lent_since(work):
        return None
    seen = _seen(work, before, rest)
    known = {fact.reading.question for fact in before.facts}
    now = {fact.reading.question for fact in seen.facts}
    if not now or not now & known:
        return None
    kept = tuple(fact for fact in before.facts if fact.reading.question not in now)
    return settle(work, guide, before, seen, rest, Line((*kept, *seen.facts), None, before.number + 1))


def _put_right(work: Work, text: str) -> str:
    """What a line says is so, in place of what was said; "" for one that says nothing of the kind."""
    words = text.replace(",", " ").replace("’", "").replace("'", "").strip(" .!").split()
    length = next((n for n in (3, 2, 1) if fold(" ".join(words[:n])) in work.words.corrects), 0)
    rest = words[length:]
    denied = next((place for place, word in enumerate(rest) if place and fold(word) in work.words.denies), None)
    if not length and denied is None:
        return ""
    rest = rest[:denied]
    begins = len(rest)
    while rest and fold(rest[0]) in work.words.so_it_is:
        rest = rest[1:]
    return " ".join(rest) if length or len(rest) < begins else ""


def _lent_since(work: Work) -> bool:
    """Whether a tool was lent, or came home, after the wheel was told of."""
    kept, at = last(work), work.member.standing.get("at")
    return kept is not None and (at is None or datetime.fromisoformat(kept["at"]) > datetime.fromisoformat(at))


def _seen(work: Work, before: Line, rest: str) -> Seen:
    number = _NUMBER.fullmatch(rest)
    if number is None:
        plain = fold(rest) in work.words.shorthand or not hear(work, rest).tools
        return read_line(work.guide, work.texts.language, rest) if plain else Seen(())
    amount = float(rest.removesuffix("mm").strip().replace(",", "."))
    measured = any(isinstance(fact.reading, SizeReading) for fact in before.facts)
    if (measured or rest.endswith("mm")) and could_be_across(work.guide, amount):
        return read_line(work.guide, work.texts.language, f"{amount:g} mm")
    counted: Fact | None = count_read(work.guide, amount)
    return Seen((counted,) if counted is not None else ())
