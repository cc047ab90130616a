"""Whether a tool fits what somebody has measured: "does the twenty fit 21.6", "will the fat 12 go on 12 splines 23".

Rules of this file:
- a size is right for a tool that takes off something as wide, as near as a rule shows it;
- a yes is told with how the last doubt goes: two tools may be made for nearly one size.
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from triagebot.conversation import Reply
from triagebot.conversation.reply import told
from triagebot.conversation.wording import number
from triagebot.counter.bench_line import Line, continued, read_line
from triagebot.counter.lending_commands import where_else
from triagebot.counter.tool_lookup import fitting, served, tell_served, tools_in
from triagebot.counter.work import Work
from triagebot.identify import SizeReading
from triagebot.shop import fold
from triagebot.topics import Fastening

#: What a rule may show too much or too little, in mm.
_BY_A_RULE = 0.5
#: How the kinds of shorthand begin that say which system a wheel is of.
_SAYS = "says-"


def does_it_fit(work: Work, text: str) -> Reply | None:
    """The answer to whether a tool fits, or is needed for a kind of wheel; None for a line that asks anything else, or
    names no one tool."""
    said = " ".join(text.replace("’", "'").strip(" ?!.").split())
    if (match := _matched(work.words.needs_lines, said)) is not None:
        return _needed(work, match["tool"], match["seen"])
    match = _matched(work.words.fits_lines, said)
    if match is None:
        return None
    tools = tools_in(work.guide, work.texts, work.words, match["tool"])
    line = continued(Line(), read_line(work.guide, work.texts.language, match["seen"]))
    sizes = [reading for reading in line.readings if isinstance(reading, SizeReading)]
    if len(tools) != 1 or len(sizes) != 1:
        return None
    (size,) = sizes
    others = replace(line, facts=tuple(fact for fact in line.facts if fact.reading is not size))
    rest = fitting(work.guide, others, rare=True) if others.facts else served(work.guide, tools[0]).fastenings
    fits = any(row in rest and _as_wide(row, size) for row in served(work.guide, tools[0]).fastenings)
    words = work.texts("staff-it-fits" if fits else "staff-it-fits-not", size=number(work.texts, size.mm, 1))
    return _with_what_it_is_for(work, words, tools[0], match["tool"])


def _matched(patterns: Sequence[re.Pattern[str]], said: str) -> re.Match[str] | None:
    return next((found for pattern in patterns if (found := pattern.fullmatch(said))), None)


def _needed(work: Work, named: str, seen: str) -> Reply | None:
    """Whether a tool is for a system that is named: "do i need the whip for a freewheel"."""
    tools = tools_in(work.guide, work.texts, work.words, named)
    systems = [kind.removeprefix(_SAYS) for word in fold(seen).split() if (kind := _kind(work, word)).startswith(_SAYS)]
    if len(tools) != 1 or len(systems) != 1 or any(character.isdigit() for character in seen):
        return None
    needed = any(row.system == systems[0] for row in served(work.guide, tools[0]).fastenings)
    return _with_what_it_is_for(work, work.texts("staff-needed" if needed else "staff-needed-not"), tools[0], named)


def _kind(work: Work, word: str) -> str:
    return work.words.shorthand.get(word, "")


def _with_what_it_is_for(work: Work, words: str, tool: str, named: str) -> Reply:
    about = tell_served(work.guide, work.texts, [tool], named, partial(where_else, work))
    return replace(told(words), blocks=(*told(words).blocks, *about.blocks))


def _as_wide(row: Fastening, size: SizeReading) -> bool:
    true = row.size(size.question)
    return true is not None and true.span[0] - _BY_A_RULE <= size.mm <= true.span[1] + _BY_A_RULE
