"""What a line of tools means that is no command as it stands ("gus has the 20 till mon"): the command that it comes to,
done at once where each of its words was understood, and asked about where not.

Rules of this file:
- the senses of words are data; who is meant is what no word explains, best behind "to", "for" or "from";
- of two things that a line may say, none is done: both are offered;
- a tool of several that may be meant is the one that it can be: of those that come back, one that is out.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from triagebot.counter.asked_back import MOST_OFFERED, ask_back
from triagebot.counter.heard import COMMA, PEG, WHEN, Heard
from triagebot.counter.heard_tools import TOOL, Mention
from triagebot.counter.keeping import unkept
from triagebot.counter.lending_commands import called
from triagebot.counter.lent_last import last
from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold
from triagebot.store.loans import Loan, Loans

#: What can be said of tools.
ACTIONS = ("undo", "keep", "more", "lend", "returned", "lost", "broken", "found", "sold", "new", "move")
#: The one who has not got it, and the one who has; and how many a plural is at least.
_BOTH = 2
#: A shorter word that was mended may have been a name; no phrase of the senses has more words.
_SURE_FROM, _LONGEST = 6, 4


@dataclass(frozen=True, slots=True)
class Sense:
    """A word or a phrase of a line, and what it says: "" for what no word explains."""

    said: str
    sense: str


def senses(work: Work, heard: Heard) -> list[Sense]:
    """The words of a line with what they say, the longest phrases first."""
    found: list[Sense] = []
    place = 0
    while place < len(heard.words):
        for length in range(min(_LONGEST, len(heard.words) - place), 0, -1):
            said = " ".join(heard.words[place : place + length])
            sense = work.words.senses.get(said)
            if sense is not None:
                break
        if sense is None:
            sense = "part" if said in work.words.parts else "" if said.isalpha() else "number"
        found.append(Sense(said, sense))
        if said in ("+", "&"):
            found[-1] = Sense(said, "filler")
        if said in (TOOL, WHEN, PEG, COMMA, "CASE"):
            found[-1] = Sense(said, said)
        place += length
    return _names_kept(heard, found)


def _names_kept(heard: Heard, found: list[Sense]) -> list[Sense]:
    """A word that was mended to say what is done is as it was, where another word says that: "bente" may be a name."""
    if not any(each.sense in ACTIONS and each.said not in heard.mended for each in found):
        return found
    return [
        Sense(heard.mended[each.said], "") if each.sense in ACTIONS and each.said in heard.mended else each
        for each in found
    ]


def lines_meant(work: Work, heard: Heard) -> tuple[list[str], bool]:
    """What a line about tools may mean, the likeliest first, and whether that is sure: commands, a line for each tool.
    None where it speaks of no tool."""
    said = senses(work, heard)
    actions = _actions(said)
    if actions == ["move"] and heard.due is not None and not heard.peg:  # "move the 20 to friday"
        actions = ["more"]
    if "undo" in actions and (passed := _passed_on(work, said)):
        return passed, False
    who, left = who_is_meant(work, heard, said)
    unneeded = any(each.sense == "not" for each in said) and len(heard.tools) == 1  # "ana needs the 20 no longer"
    if unneeded and (freed := unkept(work, heard.tools[0], who)):
        return [freed], False
    if not heard.tools:
        return _without_tool(work, heard, said, actions, who)
    if not actions and (who or heard.when):
        actions = ["lend"] if _to(said) else []
        left = left or not actions
        if not actions and who:
            longer = heard.due is not None and has_one(work, who, heard.tools)
            actions = ["more" if longer else "lend", "returned"]
            return ["\n".join(command_lines(work, action, heard, who)) for action in actions], False
    if not actions:
        return [], False
    if actions == ["lend"] and heard.due is not None and has_one(work, who, heard.tools):
        actions = _lent_or_longer(work, heard, said, who)
    first = bool(said) and said[0].sense == ""
    if actions == ["returned"] and not first and not _to(said) and not has_one(work, who):
        common = work.guide.language(work.texts.language).words.common
        left, who = left or bool(who), "" if all(common(word) for word in fold(who).split()) else who
    if len(actions) > 1 and (apart := _in_clauses(work, heard, said, who)):
        return ["\n".join(apart)], not left
    lines = ["\n".join(command_lines(work, action, heard, who)) for action in actions[:2]]
    if len(actions) > 1:
        return ["\n".join(lines)] if set(actions) == {"returned", "broken"} else lines, False
    if actions == ["returned"] and heard.due is not None and who:  # or it is when they will bring it
        other = "more" if has_one(work, who, heard.tools) else "lend"
        return ["\n".join(command_lines(work, other, heard, who)), *lines], False
    again = bool(who) and has_one(work, who, heard.tools) and not _to(said)
    if actions[0] == "lend" and (not who or heard.spans or _for_later(work, heard) or again):
        return lines, False
    guessed = any(
        each.sense in ACTIONS and len(heard.mended.get(each.said, "")) in range(1, _SURE_FROM) for each in said
    )
    doubted = actions[0] == "broken" and any(word in work.words.still_good for word in heard.words)
    return lines, not (left or guessed or doubted or any(each.sense in ("not", "number") for each in said))


def _lent_or_longer(work: Work, heard: Heard, said: Sequence[Sense], who: str) -> list[str]:
    """Whether who has one of a tool keeps it for longer, or may get one more."""
    keeps = any(each.sense == "not" or each.said in work.words.still_has for each in said)
    given = _to(said) or any(mention.count > 1 for mention in heard.tools)
    return ["more"] if keeps or _has_the_last(work, who, heard.tools) else ["lend"] if given else ["more", "lend"]


def _for_later(work: Work, heard: Heard) -> bool:
    """Whether a tool may be wanted on a day and not until then ("lena wants a whip on thursday"), or two are named."""
    first = heard.when.split()[:1]
    ends = bool(first) and first[0] in (*work.words.times["until"], *work.words.times["for"])
    wants = any(word in work.words.wants for word in heard.words)
    twice = any(word in work.words.times["closing"] for word in heard.words)
    return heard.due is not None and ((wants and not ends) or twice)


def _in_clauses(work: Work, heard: Heard, said: Sequence[Sense], who: str) -> list[str]:
    """The command of each part of a line between commas, where each has a tool and says one thing of it: "jan gets the
    20, gives the 12 back"; none where any of them does not."""
    clauses: list[list[Sense]] = [[]]
    for each in said:
        if each.sense == COMMA or each.said in ("and", "but"):
            clauses.append([])
        else:
            clauses[-1].append(each)
    lines: list[str] = []
    mentions = iter(heard.tools)
    for clause in clauses:
        tools = tuple(next(mentions) for each in clause if each.said == TOOL)
        actions = _actions(clause)
        if not clause or (not tools and not actions):
            continue
        if not tools or len(actions) != 1:
            return []
        lines += command_lines(work, actions[0], replace(heard, tools=tools), who)
    return lines if len(lines) > 1 else []


def _actions(said: Sequence[Sense]) -> list[str]:
    """What is done with a tool: of two words for one thing, the one that says more."""
    found = list(dict.fromkeys(each.sense for each in said if each.sense in ACTIONS))
    for before_all in ("undo", "keep"):
        if before_all in found:
            return [before_all]
    if "more" in found and "returned" not in found:
        return ["more"]
    for stronger, weaker in (
        ("returned", "lend"), ("found", "returned"), ("found", "broken"), ("found", "lost"), ("lost", "lend"),
        ("broken", "lend"), ("sold", "lend"), ("found", "lend"),
    ):  # fmt: skip
        if stronger in found and weaker in found:
            found.remove(weaker)
    return found


def _passed_on(work: Work, said: Sequence[Sense]) -> list[str]:
    """ "it was sara not lena": what the one has is the other's."""
    names = [each.said for each in said if each.sense == ""]
    out = [loan for loan in Loans(work.tx).out() if not loan.why and fold(_called(loan)) in names]
    others = [name for name in names if name not in {fold(_called(loan)) for loan in out}]
    if len(out) != 1 or len(others) != 1:
        return []
    name = called(work, out[0].tool)
    return [f"returned {name} from {_called(out[0])}\nlend {name} to {others[0]}"]


def _to(said: Sequence[Sense]) -> bool:
    return any(each.sense == "to" for each in said)


def who_is_meant(work: Work, heard: Heard, said: Sequence[Sense]) -> tuple[str, bool]:
    """Who has, gets or brings it; and whether words are left that nothing explains."""
    groups: list[tuple[str, list[str]]] = []
    before = ""
    for each in said:
        if each.sense == "":
            if groups and before == "name":
                groups[-1][1].append(each.said)
            else:
                groups.append((before, [each.said]))
            before = "name"
        elif each.sense not in ("filler", COMMA) or before != "name":
            before = each.sense if each.sense != "filler" else before
        else:
            before = "" if each.sense == COMMA else before
    if any(each.sense == "me" for each in said) and not any(b in ("to", "from") for b, _ in groups):
        return work.member.name, bool(groups)
    known = {fold(_called(loan)): _called(loan) for loan in Loans(work.tx).out() if not loan.why}
    common = work.guide.language(work.texts.language).words.common
    days = {day for names in work.words.weekdays for day in names}

    def ordinary(word: str) -> bool:
        return common(word) or word in days

    groups, left = _named_apart(groups, known, ordinary)
    likely = [row for row in groups if not all(map(ordinary, row[1]))] or groups
    best = next((words for prior, words in likely if prior in ("to", "from")), None)
    best = best or next((words for _, words in likely if _known(known, " ".join(words))), None)
    best = best or (likely[0][1] if likely else None)
    if best is None:
        return "", False
    name = " ".join(best)
    others = left or [words for _, words in groups if words is not best]
    given = _to(said) or (bool(said) and said[0].sense == "lend")
    strange = not _known(known, name) and not given and any(common(word) for word in best)
    spelt = " ".join(heard.spelt.get(word, word) for word in best)
    phrase = len(best) > 1 and not _known(known, name) and any(common(word) for word in best)
    return _known(known, name) or spelt, bool(others) or strange or phrase or len(best) > 3


def _named_apart(
    groups: Sequence[tuple[str, list[str]]], known: dict[str, str], common: Callable[[str], bool]
) -> tuple[list[tuple[str, list[str]]], bool]:
    """The groups of words that may be names, each without the ordinary words beside a name of somebody who has a tool,
    or beside a word that is no ordinary one ("tomas something"); and whether any was left out."""
    found, left = [], False
    for prior, words in groups:
        whole = bool(_known(known, " ".join(words)))
        named = [word for word in words if _known(known, word)] or [word for word in words if not common(word)]
        kept = words if whole or not named else named
        left = left or len(kept) < len(words)
        found.append((prior, kept))
    return found, left


def _known(known: dict[str, str], name: str) -> str:
    """The name of somebody who has a tool, for it as it was said; "" for anybody else."""
    return known.get(name, "") or known.get(name.removesuffix("s"), "")


def has_one(work: Work, who: str, mentions: Sequence[Mention] = ()) -> bool:
    """Whether somebody has a tool, or one of these."""
    named = {tool for mention in mentions for tool in mention.tools}
    theirs = [loan for loan in Loans(work.tx).out() if not loan.why and fold(_called(loan)) == fold(who)]
    return any(loan.tool in named or not named for loan in theirs)


def _has_the_last(work: Work, who: str, mentions: Sequence[Mention]) -> bool:
    """Whether somebody has each of these tools, and none of it is left to lend."""
    left = [work.guide.shop.tool_for(mention.tools[0]) for mention in mentions if len(mention.tools) == 1]
    none_left = len(left) == len(mentions) and all(own is not None and not own.count for own in left)
    return none_left and all(has_one(work, who, [mention]) for mention in mentions)


def _called(loan: Loan) -> str:
    return loan.to or loan.code or ""


def command_lines(work: Work, action: str, heard: Heard, who: str) -> list[str]:
    """The command for each tool; for one of several tools, one for each that it may be."""
    return [line for mention in heard.tools for line in _each(work, action, mention, heard, who)]


def _each(work: Work, action: str, mention: Mention, heard: Heard, who: str) -> list[str]:
    if action == "lend":
        return [_lend(work, mention, who, heard)]
    if action == "undo":
        return [undone(work, mention, who)]
    one = _one(work, mention, action, who)
    name = f"{mention.count} {_bare(work, mention)}" if mention.count > 1 else one
    if action == "returned":
        return [f"returned {name} from {who}" if who else f"returned {name}"]
    if action == "keep":
        return [f"keep {name} for {who}{heard_when(work, heard)}" if who else f"keep {name}"]
    if action in ("more", "extend"):
        return [f"extend {name}{f' to {who}' if who else ''}{until_said(work, heard.when)}"]
    return [f"{action} {name}"]


def undone(work: Work, mention: Mention, who: str) -> str:
    """What undoes what was done with a tool: it is kept no longer, or what was lent last is undone."""
    if freed := unkept(work, mention, who):
        return freed
    before = last(work)
    of_this = not who if before is None else any(row["tool"] in mention.tools for row in before["rows"])
    return "undo" if of_this else f"unkeep {_bare(work, mention)}{f' for {who}' if who else ''}"


def heard_when(work: Work, heard: Heard) -> str:
    """When something is wanted, as it stands behind "keep"."""
    when = heard.when_alone
    return f" {next(iter(work.words.times['until']))} {when}" if when[:1].isdecimal() else f" {when}" if when else ""


def _lend(work: Work, mention: Mention, who: str, heard: Heard) -> str:
    name = f"{mention.count} {_bare(work, mention)}" if mention.count > 1 else _one(work, mention)
    return f"lend {name}{f' to {who}' if who else ''}{until_said(work, heard.when)}"


def until_said(work: Work, when: str) -> str:
    """A time as it stands behind a loan."""
    if not when:
        return ""
    first, words = when.split(maxsplit=1)[0], work.words.times
    if first in work.words.lent_to:  # which is in front of who gets it
        return f" {next(iter(words['until']))} {when.partition(' ')[2]}"
    if first in (*words["until"], *words["for"]):
        return f" {when}"
    return f" {'for' if first.isdecimal() else 'until'} {when}"


def _bare(work: Work, mention: Mention) -> str:
    return _without_article(work, _one(work, mention))


def _without_article(work: Work, name: str) -> str:
    words = name.split()
    return " ".join(words[1:] if words[0] in work.words.articles else words)


def _one(work: Work, mention: Mention, action: str = "", who: str = "") -> str:
    """The name of the tool that is meant, as it was said where it may be several."""
    tools = mention.tools
    if len(tools) > 1 and action in ("returned", "found"):
        out = [loan for loan in Loans(work.tx).out() if bool(loan.why) == (action == "found")]
        theirs = [loan.tool for loan in out if loan.tool in tools and (not who or fold(_called(loan)) == fold(who))]
        tools = tuple(dict.fromkeys(theirs)) or tools
    return called(work, tools[0]) if len(tools) == 1 else mention.said


def _without_tool(
    work: Work, heard: Heard, said: Sequence[Sense], actions: Sequence[str], who: str
) -> tuple[list[str], bool]:
    """What is meant where no tool is named: all that somebody has, or what was said before."""
    theirs = [loan for loan in Loans(work.tx).out() if not loan.why and who and fold(_called(loan)) == fold(who)]
    if "undo" in actions:
        held = [loan.tool for loan in Loans(work.tx).out() if loan.why == "kept" and who and fold(loan.to) == fold(who)]
        return ([f"unkeep {called(work, tool)} for {who}" for tool in dict.fromkeys(held)] or ["undo"]), not held
    if "more" in actions and who and heard.when:
        return [f"extend everything to {who}{until_said(work, heard.when)}"], True
    if "lost" in actions and len(theirs) == 1:
        return [f"lost {called(work, theirs[0].tool)}"], False
    if "returned" in actions and heard.without and theirs:
        kept = [loan for loan in theirs if loan.tool not in heard.without]
        return ["\n".join(f"returned {called(work, loan.tool)} from {who}" for loan in kept)] if kept else [], False
    if "returned" in actions and theirs:
        return [f"returned everything from {who}"], True
    return [], False


def which_tool(work: Work, lines: str, mention: Mention, *, sure: bool) -> Attended:
    """Which of several tools is meant, each a word away; with what else was said."""
    names = [_as_many(work, tool, mention) for tool in mention.tools[:MOST_OFFERED]]
    text = work.texts("staff-which-tool-of", said=mention.said)
    offered = [lines.replace(f" {mention.said}", f" {name}") for name in names]
    shown = [_shown(work, tool, mention) for tool in mention.tools[:MOST_OFFERED]]
    return ask_back(work, offered, labels=shown if sure else (), text=text)


def _as_many(work: Work, tool: str, mention: Mention) -> str:
    """How a tool is called where several were said: two of one that is no pair."""
    name = called(work, tool)
    return f"{_BOTH} {_without_article(work, name)}" if _two_of(name, mention) else name


def _shown(work: Work, tool: str, mention: Mention) -> str:
    name = called(work, tool)
    return work.texts("staff-so-many", count=_BOTH, name=name) if _two_of(name, mention) else name


def _two_of(name: str, mention: Mention) -> bool:
    """Whether several of a tool were said, which is no pair by its name."""
    return mention.plural and mention.said.split()[-1] not in fold(name).split()


def _value(said: str) -> float | None:
    """A number as it was typed; None for what only has a digit of some kind in it: "½d"."""
    try:
        return float(said.replace(":", "."))
    except ValueError:
        return None


def no_such_tool(work: Work, said: Sequence[Sense]) -> Attended | None:
    """That there is no such tool, where only a number names it, and what is counted."""
    numbers = {place: _value(each.said) for place, each in enumerate(said) if each.sense == "number"}
    places = sorted((place for place, value in numbers.items() if value is not None), key=lambda p: -(numbers[p] or 0))
    if not places:
        return None
    behind = said[places[0] + 1 : places[0] + 2]
    name = " ".join([said[places[0]].said, *(each.said for each in behind if each.said in work.words.tool_words)])
    return answer(work.texts("staff-no-such-tool", name=name))
