"""A line that is no command as it stands: what it means is done or answered, or asked back where that is not certain.

Rules of this file:
- a line with a case's code is about that case; then come the queue, questions, and what is done with tools;
- what is written down is done only where each word was understood; otherwise it is offered, and done on a yes;
- a line that may be a wheel is left to those who read wheels.
"""

import re
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from triagebot.conversation import Reply, plain
from triagebot.conversation.reply import told
from triagebot.counter.asked_back import ask_back
from triagebot.counter.bench_line import Line, is_shorthand, read_line
from triagebot.counter.bench_question import in_the_notes, noted, where
from triagebot.counter.does_it_fit import does_it_fit
from triagebot.counter.duty import on_duty
from triagebot.counter.heard import COMMA, Heard, hear
from triagebot.counter.lending import lending_said
from triagebot.counter.lending_commands import called
from triagebot.counter.lent_last import last
from triagebot.counter.lent_to_each import lent_to_each
from triagebot.counter.line_kinds import Kinds, kinds_of_line
from triagebot.counter.meant import (
    ACTIONS,
    Sense,
    command_lines,
    has_one,
    lines_meant,
    no_such_tool,
    senses,
    which_tool,
    who_is_meant,
)
from triagebot.counter.meant_cases import is_for_another, meant_of_case, meant_of_queue
from triagebot.counter.meant_desk import desk_meant
from triagebot.counter.meant_questions import question_meant
from triagebot.counter.put_right import put_right
from triagebot.counter.whole_line import LIKELY, RATHER, SURE, answered_as, offered, shown, weighed
from triagebot.counter.words import Order
from triagebot.counter.work import Attended, Work, answer, looks_like_a_code
from triagebot.shop import fold

#: With one of these a line asks, whatever it says of a tool.
_RATHER_ASKS = ("where", "when", "late", "who", "tight", "way", "price", "warn", "list")
_OF_A_TOOL = ("where", "stock", "when", "who", "lend")
#: What is said of the tools that there are is for the owner to write down.
_IN_A_FILE = ("new ", "move ")
_IN_FILES = {"new", "move"}
#: What is said of a tool and somebody, and asks nothing, whatever else stands there.
_PLAINLY = {"more", "lost", "broken", "returned"}
#: What is asked of tools alone.
_OF_THEM = {"price", "who", "when"}
#: What a name and a tool beside it do not outweigh.
_MEASURED = {"size", "spin"}
#: A line that tells one of these asks for no word to be explained.
_MEASURES = {"size", "count"}
#: With one of these, a line is of a wheel and no question, whatever else it says.
_COUNTED = {"count", "size", "sprockets"}
#: And with so many of these, it is of nothing but a wheel.
_OF_WHEELS, _SURELY = {"size", "spin", "sprockets"}, 3
#: A command that says until when somebody is off, and how near that is where it needs no saying.
_UNTIL, _TODAY = "off duty until", timedelta(hours=12)
#: So likely of a wheel, a line that reads as two things of one is about nothing else.
OF_A_WHEEL = 0.85
#: A currency sign without a sum beside it: the line asks for a price.
_CURRENCY = re.compile(r"(?<!\d)\s*[£€$]\s*(?!\s*\d)")
#: Questions that other rules take for something else.
_EARLY = ("explain", "price", "fits", "open", "who-is-on")
#: Orders that look up what fits; and what asks for more than what a tool is for.
_LOOK_UP, _OTHERWISE = ("tools", "fits"), ("tight", "way", "price", "where")
#: A longer line is no line of tools.
_LONGEST = 200


def meant(work: Work, before: Line, text: str, run: Callable[[str], Attended], *, only_reads: bool) -> Attended | None:
    """What comes of a line; None for one that speaks of no case, tool or hours. `before`: the wheel that they are at;
    `run` does a command."""
    if len(text) > _LONGEST or is_shorthand(work.guide, work.texts.language, text):
        return None
    heard, kinds = hear(work, text), kinds_of_line(work, text)
    seen = _seen(work, text)
    if len(seen & _OF_WHEELS) >= _SURELY or (len(seen) > 1 and kinds.share("reading") >= OF_A_WHEEL):
        return None
    command = meant_of_case(work, text, heard.code, heard.when) if heard.code else _of_the_desk(work, text, heard)
    command = command or _all_snoozed(work, text, heard)
    if command is not None:
        if only_reads:
            return answer(work.texts("staff-corrected"))
        return done(command.splitlines(), run) if isinstance(command, str) else command
    said = senses(work, heard)
    acts = any(each.sense in (*ACTIONS, "to", "where") for each in said)
    if not acts and len(seen & {*_OF_WHEELS, "count"}) >= _SURELY:
        return None
    who, _ = who_is_meant(work, heard, said)
    missed = any(each.sense == "returned" for each in said) and any(w in work.words.not_done for w in heard.words)
    if missed and len(heard.tools) == 1:  # "lena hasnt brought the two prong has she"
        return Attended(where(work, heard.tools[0].tools, price=False))
    if _of_pegs(work, heard, said):
        return answer(work.texts("staff-tools-file"))
    speaks = {each.sense for each in said}
    if heard.words[:1] and heard.words[0] in work.words.can and who and heard.tools and "lend" in speaks:
        later = heard.due is not None and work.when(heard.due) != work.when(heard.due).split()[-1]
        kinds_of_it = ("lend", "keep") if later else ("lend",)
        if heard.due is not None and has_one(work, who, heard.tools):
            kinds_of_it = ("more",)
        return ask_back(work, ["\n".join(command_lines(work, action, heard, who)) for action in kinds_of_it])
    reply = question_meant(work, before, heard, said, who, text) if _inquires(work, heard, speaks, who) else None
    asks = heard.question or (heard.words[:1] and heard.words[0] in work.words.asking)
    if reply is None and (asks or not speaks & set(ACTIONS)):
        reply = answered_as(work, before, heard, kinds, text, least=LIKELY)
    if reply is not None:
        return Attended(reply)
    if (heard.words[:1] and heard.words[0] in work.words.asking) or (not heard.tools and "warn" in speaks):
        return no_such_tool(work, said) if speaks & {*_OF_A_TOOL, "warn"} else None
    return _of_tools(work, before, heard, said, text, kinds, run, only_reads=only_reads)


def _of_tools(
    work: Work,
    before: Line,
    heard: Heard,
    said: Sequence[Sense],
    text: str,
    learned: Kinds,
    run: Callable[[str], Attended],
    *,
    only_reads: bool,
) -> Attended | None:
    """What is done with tools; None for a line that may be of a wheel, and for any other."""
    who, _ = who_is_meant(work, heard, said)
    kinds = {each.sense for each in said}
    acts = bool(kinds & set(ACTIONS))
    whole, beside = _seen(work, text), _seen(work, heard.beside)
    timed = heard.due is not None and bool(who) and "to" in kinds
    gives = bool(who) and "to" in kinds and (acts or timed or not (beside if heard.tools else whole) & _MEASURED)
    if not acts and not gives and not whole & _COUNTED and any(word in work.words.inquires for word in heard.words):
        return Attended(reply) if (reply := in_the_notes(work, before, text, [])) is not None else None
    seen = beside if heard.tools and (acts or gives or heard.due is not None) else whole
    of_a_wheel = seen & set(work.words.of_a_wheel) and not is_new_tool(work, heard)
    if (not acts and not gives and seen) or (not gives and heard.due is None and of_a_wheel):
        return None
    if "undo" not in kinds and (fixed := put_right(work, heard, said, who)) is not None:
        return ask_back(work, fixed) if fixed else answer(work.texts("staff-undo-nothing"))
    if len(heard.tools) > 1 and (apart := lent_to_each(work, text)) is not None:
        if only_reads:
            return answer(work.texts("staff-corrected"))
        lines, sure = apart
        return done(lines, run) if sure else ask_back(work, ["\n".join(lines)])
    if learned.share("correct") >= RATHER and heard.tools and (made := _other_tool(work, heard)) is not None:
        return made
    lines, sure = lines_meant(work, heard)
    lines, sure = weighed(work, heard, learned, lines, text, sure=sure)
    given = " to " in "".join(lines) or heard.due is not None or not all(line.startswith("lend ") for line in lines)
    bought = bool(lines) and lines[0].startswith(_IN_A_FILE)
    if lines and not given and whole and not heard.question and not bought:
        return None  # "take 4n 40"
    if not lines:
        return _of_no_tool(work, heard, said, who) if acts or timed else None
    if bought:
        return answer(work.texts("staff-tools-file"))
    if only_reads:
        return answer(work.texts("staff-corrected"))
    if not sure and heard.tools and not heard.question and _asks_how(work, heard):
        return Attended(noted(work, heard.tools[0].tools, text))
    several = [each for each in heard.tools if len(each.tools) > 1 and f" {each.said}" in lines[0]]
    if len(several) == 1 and len(lines) == 1:
        return which_tool(work, lines[0], several[0], sure=sure)
    if not sure or heard.question or several:
        return ask_back(work, lines)
    return done(lines[0].splitlines(), run)


def _seen(work: Work, text: str) -> set[str]:
    """The questions that a text answers of a wheel."""
    return {fact.reading.question for fact in read_line(work.guide, work.texts.language, text).facts}


def _asks_how(work: Work, heard: Heard) -> bool:
    """Whether a line asks something but who ("keeps slipping how do i hold it")."""
    return any(word in work.words.inquires and work.words.senses.get(word) != "who" for word in heard.words)


def _other_tool(work: Work, heard: Heard) -> Attended | None:
    """ "no, that was the odd twelve": what was lent last is undone, and the tool that was meant lent, on a yes."""
    kept = last(work)
    if kept is None:
        return answer(work.texts("staff-undo-nothing"))
    wrong = {row["tool"] for row in kept["rows"]}
    right = [mention for mention in heard.tools if not wrong.intersection(mention.tools)]
    if kept["back"] or not right:
        return None
    row = kept["rows"][0]
    when = f" until {work.when(datetime.fromisoformat(row['due']))}" if row["due"] else ""
    return ask_back(work, [f"undo\nlend {right[0].said} to {row['code'] or row['to']}{when}"])


def _of_no_tool(work: Work, heard: Heard, said: Sequence[Sense], who: str) -> Attended | None:
    """That there is no such tool, or that somebody who is named has none."""
    if (none := no_such_tool(work, said)) is not None:
        return none
    common = work.guide.language(work.texts.language).words.common
    named = bool(who) and not any(common(word) for word in fold(who).split())
    brings = any(each.sense in _PLAINLY for each in said)
    return answer(work.texts("staff-back-nothing", to=who)) if not heard.tools and named and brings else None


def _of_pegs(work: Work, heard: Heard, said: Sequence[Sense]) -> bool:
    """Whether a line says on which peg a tool hangs from now on."""
    asks = heard.question or (bool(heard.words) and heard.words[0] in work.words.asking)
    comes = any(each.sense in ("returned", "found") for each in said)
    return bool(heard.peg and heard.tools) and not asks and not comes


def _inquires(work: Work, heard: Heard, kinds: set[str], who: str) -> bool:
    """Whether a line is looked at as a question: one that says what is done with a tool only where it asks as well."""
    first = heard.words[0] if heard.words else ""
    acts = kinds & set(ACTIONS)
    if not acts or first in work.words.asking:
        return True
    if "ask" in kinds and who and not heard.tools and acts == {"lend"}:
        return True
    if acts & _IN_FILES and not heard.question:
        return False
    if heard.question and ("stock" in kinds or (acts == {"lend"} and not who)):
        return True
    if "way" in kinds:
        return True
    says = bool(who) and bool(acts & _PLAINLY) and not heard.question
    return "undo" not in acts and not says and bool(kinds & set(_RATHER_ASKS))


def _all_snoozed(work: Work, text: str, heard: Heard) -> str | None:
    """ "snooze all until 2": the command for each case that the member has, a line each; None for any other line."""
    order = work.words.order(text)
    if order is None or order.command != "snooze" or heard.due is None or heard.code:
        return None
    if not any(word in work.words.everything for word in heard.words):
        return None
    mine = work.tickets.held_by(work.member.person)
    return "\n".join(f"snooze {work.tx.code_of(ticket.case)} {heard.when}" for ticket in mine) or None


def _of_the_desk(work: Work, text: str, heard: Heard) -> str | Attended | None:
    """What a line says of the queue, the next case, help or duty, where that is sure."""
    command = meant_of_queue(work, text)
    if command is not None:
        return command
    desk = desk_meant(work, heard)
    if desk is None or not desk.sure:
        return None
    if desk.command.startswith(_UNTIL) and not _until_then(work, text, heard):
        return ask_back(work, [desk.command.replace("until", "from"), desk.command])
    if desk.who:
        return answer(work.texts("staff-duty-their-own", name=desk.who.title(), command=desk.command))
    return on_duty(work) if desk.command == "who-is-on" else desk.command


def _until_then(work: Work, text: str, heard: Heard) -> bool:
    """Whether a time is the one until which somebody is off: a time of today, or one that was said so."""
    assert heard.due is not None
    words = {*fold(text).split(), *heard.when.split()[:1]}
    said = words & {*work.words.times["until"], *work.words.is_back, *work.words.times["for"]}
    return bool(said) or (heard.due - work.now) < _TODAY


def asked_plainly(work: Work, before: Line, text: str) -> Reply | None:
    """The answer to a line that is surely a question which other rules take for something else; None for any other."""
    if len(text) > _LONGEST or is_shorthand(work.guide, work.texts.language, text):
        return None
    text = _CURRENCY.sub(f" {next(iter(work.words.asks['price']))} ", text)
    if (reply := does_it_fit(work, text)) is not None:
        return reply
    kinds = kinds_of_line(work, text)
    if kinds.best not in _EARLY or kinds.share(kinds.best) < SURE:
        return None
    heard, order = hear(work, text), work.words.order(text)
    ordered = order is not None and order.command in _LOOK_UP
    if kinds.best == "explain" and _seen(work, text) & _MEASURES:
        return None
    other = kinds.best == "fits" and any(work.words.senses.get(word) in _OTHERWISE for word in heard.words)
    return None if heard.code or ordered or other else answered_as(work, before, heard, kinds, text)


def a_wheel(work: Work, text: str) -> bool:
    """Whether a line is likely of a wheel, and says something of one; or says enough of one to be of nothing else."""
    seen = _seen(work, text)
    enough = len(seen & {*_OF_WHEELS, "count"}) >= _SURELY
    return enough or (bool(seen) and kinds_of_line(work, text).share("reading") >= OF_A_WHEEL)


def guessed(work: Work, before: Line, text: str, run: Callable[[str], Attended]) -> Attended | None:
    """What a line that nothing came of may mean, asked back; None where nothing in it is known."""
    heard, kinds = hear(work, text), kinds_of_line(work, text)
    if (reply := answered_as(work, before, heard, kinds, text, least=RATHER)) is not None:
        return Attended(reply)
    if command := shown(kinds):
        return run(command)
    desk = desk_meant(work, heard)
    if desk is not None and desk.command != "who-is-on":
        return ask_back(work, [desk.command])
    if lines := offered(work, heard, kinds, text):
        return ask_back(work, lines)
    if not heard.tools:
        return None
    said = senses(work, heard)
    who, _ = who_is_meant(work, heard, said)
    name = called(work, heard.tools[0].tools[0]) if len(heard.tools[0].tools) == 1 else heard.tools[0].said
    moves = [f"lend {name} to {who}", f"returned {name} from {who}"] if who else [f"returned {name}"]
    return ask_back(work, [f"where is {name}", *moves])


def done(lines: Sequence[str], run: Callable[[str], Attended]) -> Attended:
    """What comes of several commands, as one answer."""
    return _all([run(line) for line in lines])


def _all(made: list[Attended]) -> Attended:
    """What came of several commands, as one answer."""
    if len(made) == 1:
        return made[0]
    words = "\n".join(plain(each.reply) for each in made if each.reply is not None)
    return Attended(told(words), to_others=tuple(each for one in made for each in one.to_others))


def is_new_tool(work: Work, heard: Heard) -> bool:
    """Whether a line that begins with "new" speaks of a tool that was bought, and of no bike."""
    kinds = [each.sense for each in senses(work, heard)]
    placed = (bool(heard.peg) or "move" in kinds) and COMMA not in heard.words
    return bool(heard.tools) and (placed or kinds.count("new") > 1)


def needs_reading(work: Work, order: Order, text: str) -> bool:
    """Whether a command about a tool says more than its words give: two tools, or who to without "to"."""
    heard = hear(work, text)
    if len(heard.tools) > 1:
        return True
    first, _, behind = order.rest.partition(" ")
    if order.command == "returned" and behind and fold(first) in work.words.everything:
        return not any(fold(word) in work.words.returned_from for word in behind.split())
    if order.command == "broken":  # "bent the two prong, still usable"
        return any(word in work.words.still_good for word in heard.words)
    if order.command not in ("lend", "extend") or not heard.tools:
        return False
    said = lending_said(work.guide, work.texts, work.words, order.rest, work.now)
    if order.command == "extend":
        return not said.tools and heard.due is not None
    who, _ = who_is_meant(work, heard, senses(work, heard))
    return (not said.to and bool(who)) or (bool(said.unclear) and heard.due is not None)


def of_the_desk(work: Work, text: str) -> bool:
    """Whether a line surely says something of the queue, the next case, help or duty."""
    heard = hear(work, text)
    desk = desk_meant(work, heard)
    return desk is not None and desk.sure and len(heard.words) > 1


def speaks_of_loans(work: Work, text: str) -> bool:
    """Whether a line says what was done with tools, or asks what only a tool has."""
    heard = hear(work, text)
    kinds = {each.sense for each in senses(work, heard)}
    return bool(heard.tools) and bool((kinds & _PLAINLY and not heard.question) or kinds & _OF_THEM)


def means_another(work: Work, order: Order, text: str) -> bool:
    """Whether a line that begins with a command about a case means another one ("park CODE till they answer"), or is
    about none ("open on the holiday?")."""
    code = hear(work, text).code
    if not code:
        unclear = not order.rest.isdecimal() and not looks_like_a_code(order.rest)
        loans = order.command == "claim" and bool(hear(work, text).tools)
        return (order.command == "case" and unclear) or order.command == "snooze" or loans
    if is_for_another(work, text, code):
        return True
    command = meant_of_case(work, text, code)
    return isinstance(command, str) and command.split()[0] not in (order.command, "say", "case")
