"""A line that is no command as it stands: what it means is done or answered, or asked back where that is not certain.

Rules of this file:
- a line with a case's code is about that case; then come the queue, questions, and what is done with tools;
- what is written down is done only where each word was understood; otherwise it is offered, and done on a yes;
- a line that may be a wheel is left to those who read wheels.
"""

from collections.abc import Callable, Sequence

from triagebot.conversation import plain
from triagebot.conversation.reply import told
from triagebot.counter.asked_back import ask_back
from triagebot.counter.bench_line import Line, is_shorthand, read_line
from triagebot.counter.heard import COMMA, Heard, hear
from triagebot.counter.lending import lending_said
from triagebot.counter.meant import ACTIONS, lines_meant, no_such_tool, senses, which_tool, who_is_meant
from triagebot.counter.meant_cases import meant_of_case, meant_of_queue
from triagebot.counter.meant_questions import question_meant
from triagebot.counter.words import Order
from triagebot.counter.work import Attended, Work, answer, looks_like_a_code

#: With one of these a line asks, whatever it says of a tool.
_RATHER_ASKS = ("where", "when", "late", "who", "tight", "way", "price", "warn", "list")
_OF_A_TOOL = ("where", "stock", "when", "who", "lend")
#: What is said of the tools that there are is for the owner to write down.
_IN_A_FILE = ("new ", "move ")
#: What a name and a tool beside it do not outweigh.
_MEASURED = {"size", "spin"}
#: A longer line is no line of tools.
_LONGEST = 200


def meant(work: Work, before: Line, text: str, run: Callable[[str], Attended], *, only_reads: bool) -> Attended | None:
    """What comes of a line; None for one that speaks of no case, tool or hours. `before`: the wheel that they are at;
    `run` does a command."""
    if len(text) > _LONGEST or is_shorthand(work.guide, work.texts.language, text):
        return None
    heard = hear(work, text)
    command = meant_of_case(work, text, heard.code) if heard.code else meant_of_queue(work, text)
    if command is not None:
        if only_reads:
            return answer(work.texts("staff-corrected"))
        return run(command) if isinstance(command, str) else command
    said = senses(work, heard)
    who, _ = who_is_meant(work, heard, said)
    acts = any(each.sense in ACTIONS for each in said)
    undoes = any(each.sense == "undo" for each in said)
    asks = bool(heard.words) and heard.words[0] in work.words.asking
    if (not acts or asks or (not undoes and any(each.sense in _RATHER_ASKS for each in said))) and (
        reply := question_meant(work, before, heard, said, who, text)
    ) is not None:
        return Attended(reply)
    if asks:
        return no_such_tool(work, said) if any(each.sense in _OF_A_TOOL for each in said) else None
    seen = {fact.reading.question for fact in read_line(work.guide, work.texts.language, text).facts}
    gives = bool(who) and any(each.sense == "to" for each in said) and (acts or not seen & _MEASURED)
    if (not acts and not gives and seen) or (not gives and heard.due is None and seen & set(work.words.of_a_wheel)):
        return None
    lines, sure = lines_meant(work, heard)
    given = " to " in "".join(lines) or heard.due is not None or not all(line.startswith("lend ") for line in lines)
    if lines and not given and seen:
        return None  # "take 4n 40"
    if not lines:
        return no_such_tool(work, said) if acts else None
    if lines[0].startswith(_IN_A_FILE):
        return answer(work.texts("staff-tools-file"))
    if only_reads:
        return answer(work.texts("staff-corrected"))
    several = [each for each in heard.tools if len(each.tools) > 1 and f" {each.said}" in lines[0]]
    if len(several) == 1 and len(lines) == 1:
        return which_tool(work, lines[0], several[0], sure=sure)
    if not sure or heard.question or several:
        return ask_back(work, lines)
    return done(lines[0].splitlines(), run)


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
    if order.command != "lend" or not heard.tools:
        return False
    said = lending_said(work.guide, work.texts, work.words, order.rest, work.now)
    who, _ = who_is_meant(work, heard, senses(work, heard))
    return (not said.to and bool(who)) or (bool(said.unclear) and heard.due is not None)


def means_another(work: Work, order: Order, text: str) -> bool:
    """Whether a line that begins with a command about a case means another one ("park CODE till they answer"), or is
    about none ("open on the holiday?")."""
    code = hear(work, text).code
    if not code:
        unclear = not order.rest.isdecimal() and not looks_like_a_code(order.rest)
        return (order.command == "case" and unclear) or (order.command == "claim" and bool(hear(work, text).tools))
    command = meant_of_case(work, text, code)
    return isinstance(command, str) and command.split()[0] not in (order.command, "say", "case")
