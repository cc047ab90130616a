"""Short lines that are answered before anything is read in them: small talk, what an owner does at the machine, help
with one thing, what is kept, all cautions of the wheel they are at, and parts of a bike that are none of ours.
"""

from triagebot.conversation import Reply
from triagebot.conversation.blocks import Compact
from triagebot.counter.asked_back import OFFERED
from triagebot.counter.bench_answer import all_cautions
from triagebot.counter.bench_line import Line, read_line, settled
from triagebot.counter.heard import hear
from triagebot.counter.help import help_with
from triagebot.counter.keeping import kept_here
from triagebot.counter.owner_words import owner_words
from triagebot.counter.small_talk import refuses, small_talk
from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold
from triagebot.store.staff import Staff

#: What is read of a wheel's middle and its sprockets, whatever else a line names.
_OF_A_WHEEL = {"count", "size", "sprockets", "spin"}


def declined(work: Work, text: str) -> Attended | None:
    """ "No" to what was offered: nothing is done, and it is offered no longer."""
    if work.member.standing.get(OFFERED) is None or not refuses(work, text):
        return None
    Staff(work.tx).stand(work.member, {**work.member.standing, OFFERED: None})
    return answer(work.texts("staff-declined"))


def short_line(work: Work, before: Line, text: str) -> Attended | None:
    """The answer to a short line; None for any other. `before`: the wheel that they are at."""
    said = " ".join(fold(text.replace("’", "").replace("'", "")).strip(" .!?").split())
    if said in work.words.all_cautions:
        return _cautions(work, before)
    if said in work.words.asks_kept:
        return answer(kept_here(work))
    order = work.words.order(text)
    if order is not None and order.command == "help" and order.rest:
        return answer(told) if (told := help_with(work, order.rest)) else None
    if (made := owner_words(work, text)) is not None:
        return made
    if order is not None:
        return None
    return small_talk(work, text) or _elsewhere(work, said, text)


def _cautions(work: Work, before: Line) -> Attended:
    """Each caution of the wheel that they are at."""
    line, step = settled(work.guide, before)
    rows = all_cautions(work.guide, work.texts.language, line, step, work.now)
    return Attended(Reply((Compact(rows),), "answer")) if rows else answer(work.texts("staff-cautions-none"))


def _elsewhere(work: Work, said: str, text: str) -> Attended | None:
    """That another part of the bike is none of ours; None where a line names none, or tells of a wheel or a case."""
    part = next((p for p in sorted(work.words.other_parts, key=len, reverse=True) if f" {p} " in f" {said} "), None)
    if part is None or any(word in work.words.bike_nouns for word in said.split()):
        return None
    seen = {fact.reading.question for fact in read_line(work.guide, work.texts.language, text).facts}
    heard = hear(work, text)
    ring = any(word in work.words.any_ring for word in said.split())
    if heard.code or seen & _OF_A_WHEEL or (heard.tools and not ring):
        return None
    return answer(work.texts("staff-asked-elsewhere", part=part))
