"""Whether a tool fits what somebody has measured: "does the twenty fit 21.6", "will the fat 12 go on 12 splines 23".

Rules of this file:
- a size is right for a tool that takes off something as wide, as near as a rule shows it;
- a yes is told with how the last doubt goes: two tools may be made for nearly one size.
"""

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
from triagebot.topics import Fastening

#: What a rule may show too much or too little, in mm.
_BY_A_RULE = 0.5


def does_it_fit(work: Work, text: str) -> Reply | None:
    """The answer; None for a line that asks anything else, or names no one tool and no size."""
    said = " ".join(text.replace("’", "'").strip(" ?!.").split())
    match = next((found for pattern in work.words.fits_lines if (found := pattern.fullmatch(said))), None)
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
    about = tell_served(work.guide, work.texts, tools, match["tool"], partial(where_else, work))
    return replace(told(words), blocks=(*told(words).blocks, *about.blocks))


def _as_wide(row: Fastening, size: SizeReading) -> bool:
    true = row.size(size.question)
    return true is not None and true.span[0] - _BY_A_RULE <= size.mm <= true.span[1] + _BY_A_RULE
