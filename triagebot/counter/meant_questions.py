"""What a line asks that begins with none of the usual words ("twenty spline tool where", "whats jonas got")."""

from collections.abc import Sequence
from functools import partial

from triagebot.conversation import Reply
from triagebot.conversation.reply import told
from triagebot.counter.bench_enquiry import services
from triagebot.counter.bench_line import Line, continued, read_line
from triagebot.counter.bench_question import how, in_the_notes, kinds_of, noted, opening, where
from triagebot.counter.heard import Heard
from triagebot.counter.heard_tools import TOOL
from triagebot.counter.lending_commands import called, late_row, lent_out, lent_to, where_else
from triagebot.counter.meant import ACTIONS, Sense
from triagebot.counter.tool_lookup import tell_served, tell_tools
from triagebot.counter.work import Work
from triagebot.shop import fold
from triagebot.store.loans import Loans

#: Words that ask something by themselves.
_ASKS = ("where", "who", "stock", "when", "late", "tight", "way", "price", "list", "warn", "ask", "open-hours")
#: And those that ask whatever is said of a tool beside them.
_OF_A_TOOL = ("where", "who", "stock", "when", "price")
#: What a question of torque is about.
_NAMES = ("", TOOL, "number", "part")
#: So many tools have a line of their own.
_MOST_ROWS = 5


def question_meant(work: Work, before: Line, heard: Heard, said: Sequence[Sense], who: str, text: str) -> Reply | None:
    """The answer; None for what is no question of tools, torque, thread or hours. `before`: the wheel that they are
    at; `who` somebody who is named."""
    kinds = [each.sense for each in said]
    if "notes" in kinds:
        plain = " ".join(work.words.tool_words.get(word) or word for word in heard.words)
        return in_the_notes(work, before, plain, kinds_of(work, before, _about(heard, said)))
    first = heard.words[0] if heard.words else ""
    inquires = first in work.words.asking or heard.question or heard.words[-1:] == ("PEG",)
    if heard.peg and not any(kind in ACTIONS for kind in kinds) and (inquires or not heard.tools):
        return told(_on_the_peg(work, heard.peg))
    asked_of = bool(who) and not heard.tools and "ask" in kinds
    asks = first in work.words.asking or heard.question or asked_of or any(kind in _ASKS for kind in kinds)
    if not asks:
        return None
    hung = heard.tools and {"where", "move"} & set(kinds)  # "which side does the small four hang on"
    if "way" in kinds and hung:
        return where(work, heard.tools[0].tools, price=False)
    if "tight" in kinds or "way" in kinds:
        about = _about(heard, said)
        if heard.tools and not kinds_of(work, before, about):
            about = heard.tools[-1].said
        return how(work, "tight" if "tight" in kinds else "thread", before, about)
    if "late" in kinds:
        return told(late(work))
    if "open-hours" in kinds and not heard.tools and not who:
        return told(opening(work, text))
    if "list" in kinds and not who:
        return told(all_tools(work, heard.tools[0].tools if heard.tools else ()))
    if not heard.tools and not who and "who" in kinds and "lend" in kinds and "number" not in kinds:
        return lent_out(work).reply
    if not heard.tools and "price" in kinds:
        return told(services(work, text))
    if not heard.tools or _of_their_loan(work, kinds, first, who):
        return _of_somebody(work, heard, kinds, first, who)
    if "warn" in kinds:
        return noted(work, heard.tools[0].tools, text)
    return _of_tools(work, heard, said, kinds, first, who, text)


def _of_somebody(work: Work, heard: Heard, kinds: Sequence[str], first: str, who: str) -> Reply | None:
    """What somebody has; None where no person is named, or nothing is asked of one."""
    inquires = first in work.words.asking or heard.question or "ask" in kinds
    common = work.guide.language(work.texts.language).words.common
    person = bool(who) and not all(common(word) for word in fold(who).split())
    return told(lent_to(work, who)) if person and inquires and _of_a_person(kinds) else None


def _of_their_loan(work: Work, kinds: Sequence[str], first: str, who: str) -> bool:
    """Whether it is asked when somebody brings a tool: "when does ben bring the 12 back"."""
    return bool(who) and work.words.senses.get(first) == "when" and "returned" in kinds


def _of_tools(
    work: Work, heard: Heard, said: Sequence[Sense], kinds: Sequence[str], first: str, who: str, text: str
) -> Reply | None:
    """Where tools are, who has them, what they cost or what they are for."""
    tools = heard.tools[0].tools
    if len(tools) > 1 and any(word in work.words.fits_endings for word in heard.words):
        line = continued(Line(), read_line(work.guide, work.texts.language, text))
        if any(fact.reading.question == "size" for fact in line.facts):
            return tell_tools(work.guide, work.texts, line, among=tools)
    ends = [each for each in said if each.sense != "filler"][-1:]
    if first in work.words.asking and ends and ends[0].sense == "to" and len(tools) == 1:
        return tell_served(work.guide, work.texts, tools, heard.tools[0].said, partial(where_else, work))
    plainly = any(kind in _OF_A_TOOL for kind in kinds)
    each = [mention.tools[0] for mention in heard.tools if len(mention.tools) == 1]
    if plainly and len(each) > 1 and "price" not in kinds:
        return where(work, list(dict.fromkeys(each)), price=False, who="who" in kinds)
    strange = len(heard.tools) > 1 or any(each.sense in ("", "part") for each in said if each.said != fold(who))
    if not plainly and heard.question and (len(heard.tools) > 1 or "lend" in kinds):
        every = list(dict.fromkeys(tool for mention in heard.tools for tool in mention.tools))
        return tell_served(work.guide, work.texts, tools, text) if len(tools) == 1 else where(work, every, price=False)
    if not plainly and strange:
        return tell_served(work.guide, work.texts, tools[:1], text) if first in work.words.can else None
    if len(tools) > _MOST_ROWS:
        return told(all_tools(work, tools))
    if "price" in kinds and (heard.tools[0].said in work.words.tool_names or set(kinds) & {"lend", "from", "part"}):
        return told(services(work, text))
    return where(work, tools, price="price" in kinds, who="who" in kinds)


def _of_a_person(kinds: Sequence[str]) -> bool:
    """Whether it is asked what somebody has, or whether they brought it."""
    return any(kind in kinds for kind in ("lend", "returned", "it"))


def _about(heard: Heard, said: Sequence[Sense]) -> str:
    """What a question of torque or thread is about: what no word explains, and the tools, in their order."""
    mentions = iter(heard.tools)
    parts = [next(mentions).said if each.said == TOOL else each.said for each in said if each.sense in _NAMES]
    return " ".join(parts)


def _on_the_peg(work: Work, peg: str) -> str:
    """What hangs on the pegs of this number."""
    hangs = [tool for tool in work.shop.tools_file.tools if fold(tool.hangs).split()[-2:] == ["peg", peg]]
    rows = [_row(work, tool.tool) for tool in hangs]
    return "\n".join(rows) or work.texts("staff-peg-none", peg=peg)


def all_tools(work: Work, tools: Sequence[str]) -> str:
    """Each tool of the shop, or of these, with its place."""
    own = [tool for tool in work.shop.tools_file.tools if not tools or tool.tool in tools]
    return "\n".join(_row(work, tool.tool) for tool in own)


def _row(work: Work, tool: str) -> str:
    own = work.guide.shop.tool_for(tool)
    if own is None or not own.count:
        return " ".join(filter(None, [work.texts("staff-where-none", name=called(work, tool)), where_else(work, tool)]))
    head = work.texts("staff-where", name=own.name, hangs=own.hangs, count=own.count)
    return " ".join(filter(None, [head, where_else(work, tool)]))


def late(work: Work) -> str:
    """The tools that ought to be back."""
    late = [loan for loan in Loans(work.tx).out() if not loan.why and loan.due is not None and loan.due < work.now]
    return "\n".join(late_row(work, loan) for loan in late) or work.texts("staff-late-none")
