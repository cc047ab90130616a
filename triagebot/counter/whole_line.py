"""A line as a whole, by the kind that its words tell it is of (`line_kinds`), with what it names put into its places:
the tool, who, how many, until when, which case.

Rules of this file:
- it answers what is asked, and offers what writes something down; it never does that itself;
- where the rules would do another thing than the line is likely to be of, both are offered instead.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from triagebot.conversation import Reply, plain
from triagebot.conversation.reply import told
from triagebot.counter.bench_enquiry import as_customers_ask, services
from triagebot.counter.bench_line import Line, continued, read_line
from triagebot.counter.bench_question import how, opening, where
from triagebot.counter.duty import on_duty
from triagebot.counter.heard import Heard
from triagebot.counter.heard_tools import near_tool
from triagebot.counter.lending_commands import called, lent_out, lent_to, where_else
from triagebot.counter.line_kinds import Kinds
from triagebot.counter.meant import command_lines, senses, undone, who_is_meant
from triagebot.counter.meant_questions import all_tools, late
from triagebot.counter.tool_lookup import tell_served, tell_tools
from triagebot.counter.work import Work
from triagebot.shop import fold

#: So likely a line must be of a kind that it is offered as one; that it is answered as one, where the rules make
#: nothing of it, and whatever they make of it; and that a rule may do what it says.
OFFERED, LIKELY, SURE, AGREES = 0.25, 0.55, 0.65, 0.1
#: A kind that a line is so likely of goes before another that the rules found.
RATHER = 0.5
#: Kinds of lines that say what is done with a tool, by the command.
OF_TOOLS = ("lend", "returned", "lost", "broken", "found", "sold", "extend", "keep", "undo", "unkeep")
#: Those that say what is done with a case.
OF_CASES = ("claim", "release", "snooze", "close", "reopen", "case", "note", "say", "accept", "refuse")
#: Those that are a command by themselves.
_ALONE = {
    "queue": "queue", "mine": "mine", "claim-next": "claim next", "help": "help", "today": "today",
    "on-duty": "on duty", "off-duty": "off duty",
}  # fmt: skip
#: What is asked for by these is shown and changes nothing.
_SHOWN = ("queue", "mine", "help", "today")


def answered_as(
    work: Work, before: Line, heard: Heard, kinds: Kinds, text: str, *, least: float = SURE
) -> Reply | None:  # fmt: skip
    """The answer to a question of the kind that a line is likely of; None for any other line."""
    kind = kinds.best
    answer = _QUESTIONS.get(kind)
    return answer(work, before, heard, text) if answer is not None and kinds.share(kind) >= least else None


def offered(work: Work, heard: Heard, kinds: Kinds, text: str) -> list[str]:
    """The commands that a line is likely to come to, the likeliest first."""
    found = (_command(work, heard, kind, text) for kind in kinds.likely(OFFERED))
    return [line for line in dict.fromkeys(found) if line]


def shown(kinds: Kinds) -> str:
    """A command that only shows something, where a line is likely of its kind; else ""."""
    return _ALONE[kinds.best] if kinds.best in _SHOWN and kinds.share(kinds.best) >= RATHER else ""


def weighed(
    work: Work, heard: Heard, kinds: Kinds, lines: Sequence[str], text: str, *, sure: bool
) -> tuple[list[str], bool]:
    """The commands that the rules found for a line of tools, and whether that is sure, with those of the kinds that it
    is likely of: another kind makes them unsure, and goes first where it is likelier than not."""
    if not kinds.shares:
        return list(lines), sure
    done = {line.split()[0] for line in "\n".join(lines).splitlines()}
    if done and kinds.share(*done) >= AGREES:
        return list(lines), sure
    likely = kinds.best if kinds.share(kinds.best) >= OFFERED else ""
    other = _command(work, heard, likely, text) if likely in OF_TOOLS else ""
    if other:
        return list(dict.fromkeys([other, *lines])), False
    return list(lines), sure and not likely


def _command(work: Work, heard: Heard, kind: str, text: str) -> str:
    """The command of a kind, with what a line names; "" where it does not name what that takes."""
    if kind in _ALONE:
        time = f" until {heard.when_alone}" if kind == "off-duty" and heard.due is not None else ""
        return "" if heard.code else f"{_ALONE[kind]}{time}"
    if kind in OF_CASES and heard.code:
        return {"accept": f"yes {heard.code}", "refuse": f"no {heard.code}"}.get(kind, "")
    if kind not in OF_TOOLS:
        return ""
    if not heard.tools:
        mention = near_tool(work, text)
        heard = replace(heard, tools=(mention,)) if mention is not None else heard
    if kind == "undo":
        who, _ = who_is_meant(work, heard, senses(work, heard))
        return undone(work, heard.tools[0], who) if heard.tools else "undo"
    if not heard.tools:
        return ""
    who, _ = who_is_meant(work, heard, senses(work, heard))
    if kind in ("lend", "keep") and not who:
        return ""
    return "\n".join(command_lines(work, kind, heard, who))


# --- questions --------------------------------------------------------------------------------------------------------


def _where(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    tools = list(dict.fromkeys(tool for mention in heard.tools for tool in mention.tools))
    if not tools and (mention := near_tool(work, text)) is not None:
        tools = list(mention.tools)
    asks_who = any(work.words.senses.get(word) == "who" for word in heard.words)
    return where(work, tools, price=False, who=asks_who) if tools else None


def _theirs(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    who, _ = who_is_meant(work, heard, senses(work, heard))
    return told(lent_to(work, who)) if who and not heard.tools else None


def _fits(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    """What a tool is for, or which tools are for what is seen."""
    line = continued(Line(), read_line(work.guide, work.texts.language, text))
    one = [mention for mention in heard.tools if len(mention.tools) == 1]
    if one and not any(fact.reading.question == "size" for fact in line.facts):
        return tell_served(work.guide, work.texts, one[0].tools, one[0].said, lambda tool: where_else(work, tool))
    among = heard.tools[0].tools if heard.tools and len(heard.tools[0].tools) > 1 else ()
    if not line.facts and among:  # "which of the fours fits 24 mm?" tells nothing of a wheel
        measured = [w for w in heard.words if w[:1].isdigit() or work.words.shorthand.get(w) == "size"]
        line = continued(Line(), read_line(work.guide, work.texts.language, " ".join(measured)))
    return tell_tools(work.guide, work.texts, line, among=among) if line.facts else None


def _tight(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    return how(work, "tight", before, _about(heard))


def _way(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    return how(work, "thread", before, _about(heard))


def _about(heard: Heard) -> str:
    return " ".join(mention.said for mention in heard.tools) or heard.beside


def _price(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    """What a tool costs where nothing but it is named, else what is taken for work."""
    named = [mention for mention in heard.tools if len(mention.tools) == 1]
    owned = [mention for mention in named if work.guide.shop.tool_for(mention.tools[0]) is not None]
    plain = not any(each.sense in ("", "part") for each in senses(work, heard))
    return where(work, owned[0].tools, price=True) if owned and plain else told(services(work, text))


def _open(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    return told(opening(work, text))


def _explain(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    if any(work.words.senses.get(word) in ("notes", "warn") for word in heard.words):
        return None
    said = fold(text)
    term = next((term for phrase, term in work.words.explained.items() if phrase in said), "")
    if term and work.texts.has(f"glossary-{term}"):
        return told(work.texts(f"glossary-{term}"))
    single = any(len(mention.tools) == 1 for mention in heard.tools)
    if not single and (reply := as_customers_ask(work, text, surely=True)) is not None:
        return reply
    if len(tools := _told_apart(work, heard)) > 1:
        rows = (tell_served(work.guide, work.texts, [tool], "") for tool in tools)
        return told("\n".join(plain(row) for row in rows))
    meant = " ".join(work.words.said_as.get(word, word) for word in text.lower().split())
    for tried in (text, meant, *(f"{before} {meant}" for before in work.words.asks_with)):
        if (reply := as_customers_ask(work, tried, surely=True)) is not None:
            return reply
    question = next((q for q, each in work.words.how_words.items() if any(word in said for word in each)), "")
    how_it_is = f"question-{question}.how"
    return told(work.texts(how_it_is)) if question and work.texts.has(how_it_is) else None


def _told_apart(work: Work, heard: Heard) -> list[str]:
    """The tools that are compared: each by its name, or by some word of it beside what they are both called."""
    own = [mention.tools[0] for mention in heard.tools if len(mention.tools) == 1]
    beside = set(heard.beside.split())
    for mention in heard.tools:
        names = (
            {tool: set(fold(called(work, tool)).split()) for tool in mention.tools} if len(mention.tools) > 1 else {}
        )
        own += [tool for tool, name in names.items() if name & beside and tool not in own]
    named = {tool.tool: set(fold(tool.name).split()) for tool in work.shop.tools_file.tools}
    for word in beside - set(work.words.senses):
        having = [tool for tool, name in named.items() if word in name]
        own += [tool for tool in having if len(having) == 1 and tool not in own]
    others = [tool for mention in heard.tools if len(mention.tools) > 1 for tool in mention.tools if tool not in own]
    own = [*own, *others] if len(own) == 1 else own
    return own if beside & set(work.words.compares) else []


def _who_is_on(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    later = heard.due is not None and work.when(heard.due) != work.when(heard.due).split()[-1]
    on = on_duty(work).reply
    assert on is not None, "who is on duty is said"
    return told(work.texts("staff-on-now-only", on=plain(on))) if later else on


def _out(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    return lent_out(work).reply


def _late(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    return told(late(work))


def _list(work: Work, before: Line, heard: Heard, text: str) -> Reply | None:
    return told(all_tools(work, ()))


_QUESTIONS: dict[str, Callable[[Work, Line, Heard, str], Reply | None]] = {
    "where": _where, "theirs": _theirs, "fits": _fits, "tight": _tight, "way": _way, "price": _price, "open": _open,
    "explain": _explain, "who-is-on": _who_is_on, "out": _out, "late": _late, "list": _list,
}  # fmt: skip
