"""The tool that a member told of last, so that "it" is that one: "where is it", "kim has it til closing".

Rules of this file:
- it is the tool that was lent or came home last, or that a line or an answer named since, within ten minutes;
- what is asked of "it" is answered; what is done with it is asked back first.
"""

from datetime import datetime, timedelta

from triagebot.counter.asked_back import ask_back
from triagebot.counter.bench_line import is_shorthand, read_line
from triagebot.counter.half_codes import with_whole_code
from triagebot.counter.heard import Heard, hear
from triagebot.counter.lending_commands import called
from triagebot.counter.meant import ACTIONS, lines_meant, senses, who_is_meant
from triagebot.counter.tool_commands import TOOLWORK
from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold
from triagebot.store.staff import Staff

#: What a member's standing has of it: the tool, and when it was told of.
TOLD = "told-tool"
#: So long "it" is that one.
_STANDS = timedelta(minutes=10)
#: What is asked of a tool.
_ASKS = {"where", "who", "when", "late", "price", "stock"}


def told_of(work: Work, text: str, made: Attended) -> Attended:
    """Remembers the tool that a line or its answer was about; gives the answer as it is."""
    result = made.reply.result if made.reply is not None else None
    tool = result.remover if result is not None else None
    if tool is None:
        named = {tool for mention in hear(work, text).tools for tool in mention.tools}
        tool = named.pop() if len(named) == 1 else None
    member = Staff(work.tx).member(work.member.person)
    if tool is not None and member is not None:
        Staff(work.tx).stand(member, {**member.standing, TOLD: {"tool": tool, "at": work.now.isoformat()}})
    return made


def with_names(work: Work, text: str) -> str | Attended:
    """The line with whole codes for halves and names of owners, and with the tool in place of "it"; or what is asked
    back of one of these."""
    made = with_whole_code(work, _numbered(work, _as_told(work, text)))
    return made if isinstance(made, Attended) else _with_the_tool(work, made)


def _as_told(work: Work, text: str) -> str:
    """ "what fitting is two notches 25" tells of a wheel as "two notches 25" does; any other line as it is."""
    said = " ".join(text.strip(" ?!.").split())
    match = next((found for pattern in work.words.seen_lines if (found := pattern.fullmatch(said))), None)
    if match is None or not is_shorthand(work.guide, work.texts.language, match["seen"]):
        return text
    return match["seen"] if read_line(work.guide, work.texts.language, match["seen"]).facts else text


def _numbered(work: Work, text: str) -> str:
    """ "I take the second one of the queue" is "claim 2"; any other line as it is."""
    words = fold(text.replace("’", "").replace("'", "")).strip(" ?!.").split()
    places = [work.words.ordinals[word] for word in words if word in work.words.ordinals]
    desk = work.words.desk_words
    said = {*desk["take"], *desk["queue"], *desk["cases"], *desk["i"], *work.words.queue_fillers, *work.words.ordinals}
    takes = any(word in desk["take"] for word in words)
    return f"claim {places[0]}" if len(places) == 1 and takes and all(word in said for word in words) else text


def _with_the_tool(work: Work, text: str) -> str | Attended:
    """The line with the tool in place of "it"; what is asked back, where it says what is done with that."""
    words = text.split()
    place = next((n for n, word in enumerate(words) if fold(word.strip(",.;:?!")) in work.words.it_words), None)
    if place is None:
        return text
    heard, order = hear(work, text), work.words.order(text)
    if heard.tools or heard.code or (order is not None and order.command not in TOOLWORK):
        return text
    if order is None and read_line(work.guide, work.texts.language, text).facts:
        return text
    return _named(work, text, words, place, heard)


def _named(work: Work, text: str, words: list[str], place: int, heard: Heard) -> str | Attended:
    kinds = {each.sense for each in senses(work, heard)}
    if "not" in kinds:  # which puts right what was lent, or says nothing of it
        return text
    asks = heard.question or (bool(heard.words) and heard.words[0] in work.words.asking)
    acts = kinds & set(ACTIONS) - {"undo"}
    if not acts and not kinds & _ASKS:
        return text
    tool = _told(work)
    if tool is None:
        who, _ = who_is_meant(work, heard, senses(work, heard))
        common = work.guide.language(work.texts.language).words.common
        named = bool(who) and not any(common(word) for word in fold(who).split())
        return answer(work.texts("staff-which-it")) if named and acts and not asks else text
    end = words[place].strip(",.;:?!")
    line = " ".join([*words[:place], words[place].replace(end, called(work, tool)), *words[place + 1 :]])
    if asks or not acts:
        return line
    if work.words.order(line) is not None:
        return ask_back(work, [line])
    lines, _ = lines_meant(work, hear(work, line))
    return ask_back(work, lines) if lines else text


def _told(work: Work) -> str | None:
    """The tool that "it" is now."""
    kept = work.member.standing.get(TOLD)
    if kept is None or work.now - datetime.fromisoformat(kept["at"]) > _STANDS:
        return None
    return str(kept["tool"])
