"""What a line comes to, in words short enough for a phone in a greasy hand.

Decided here and nowhere else: what of an answer the staff are told, and in which order. Cautions keep their signal
words and stand before the tool; each in its short form (`caution-….short`) where the topic has one.
"""

from collections.abc import Sequence
from datetime import datetime
from urllib.parse import urlsplit

from triagebot.conversation import Choice, Guide, Reply, Result, Step, follow, open_case
from triagebot.conversation.case import Answered, Case
from triagebot.conversation.guide import UNSURE
from triagebot.conversation.outcome import cautions_for, leading, notes, separating_check
from triagebot.conversation.reply import Question as AskedFor
from triagebot.conversation.reply import told as told_so
from triagebot.conversation.wording import label, listing, number, said, told
from triagebot.counter.bench_line import Line, Seen, at_the_bench
from triagebot.identify import ChoiceReading, Decision, odd_one_out
from triagebot.shop import NoteLink, Tool
from triagebot.topics import Fastening, Texts

#: So many kinds are named where no tool can be.
_LIKELY = 3


def reply_to(guide: Guide, code: str, line: Line, step: Step, seen: Seen, now: datetime) -> Reply:
    """The answer to a line, or the one thing that is missing."""
    texts = guide.language(code).texts
    case = _case(guide, code, line, now)
    puzzle = _puzzle(guide, texts, seen)
    if step.question is not None:
        shown = _missing(guide, texts, step)
        fits = _so_far(guide, texts, step)
        return told_so(_lines(puzzle, _heard(guide, texts, line), fits), question=shown)
    if step.referral is not None:
        clause = said(guide, texts, ChoiceReading(step.referral.question, step.referral.choice))
        caution = caution_line(guide, texts, step.referral.caution)
        return told_so(_lines(puzzle, texts("staff-stop", clause=clause), caution), "person")
    named = leading(guide, step, step.decision)
    if step.decision.kind == "answer":
        return _answer(guide, texts, case, step, named[0], puzzle)
    if step.decision.kind == "look-alike":
        return _two(guide, texts, case, step, named, puzzle)
    return _nothing(guide, texts, case, step, puzzle)


def _answer(guide: Guide, texts: Texts, case: Case, step: Step, fastening: Fastening, puzzle: str) -> Reply:
    cautions = cautions_for(guide, case, [fastening])
    links = notes(guide, case, [fastening])
    assert fastening.remover is not None
    text = _lines(
        puzzle,
        texts("staff-fits", fastening=_short(texts, fastening), share=percent(guide, texts, step, fastening)),
        _odd(guide, texts, case),
        *(caution_line(guide, texts, caution) for caution in cautions),
        tool_line(guide, texts, fastening.remover),
        texts(f"direction-{fastening.direction}"),
        back_on(texts, fastening),
        *(note_line(texts, link) for link in links[:1]),
    )
    return told_so(text, "answer", Result(fastening.id, fastening.remover, tuple(cautions), links))


def _two(guide: Guide, texts: Texts, case: Case, step: Step, named: list[Fastening], puzzle: str) -> Reply:
    cautions = cautions_for(guide, case, named)
    rows = [
        texts(
            "staff-two-row",
            fastening=_short(texts, fastening),
            share=percent(guide, texts, step, fastening),
            tool=tool_line(guide, texts, str(fastening.remover), alone=False),
        )
        for fastening in named
    ]
    text = _lines(
        puzzle,
        texts("staff-two"),
        *(caution_line(guide, texts, caution) for caution in cautions),
        *rows,
        texts("separating-check", check=separating_check(guide, texts, named)),
    )
    return told_so(text, "look-alike", Result(None, None, tuple(cautions)))


def _nothing(guide: Guide, texts: Texts, case: Case, step: Step, puzzle: str) -> Reply:
    """No tool: what it most likely is, and what does not fit."""
    (likeliest,) = leading(guide, step, Decision("person", (), 0.0))
    alone = likeliest.remover is None and not likeliest.broad
    rows = [
        texts("staff-fits", fastening=_short(texts, fastening), share=percent(guide, texts, step, fastening))
        for fastening in likely(guide, step)
    ]
    first = texts("staff-no-remover", fastening=_short(texts, likeliest)) if alone else texts("staff-no-tool")
    text = _lines(puzzle, first, *(() if alone else rows), _odd(guide, texts, case))
    return told_so(text, "person", Result(likeliest.id if alone else None))


def likely(guide: Guide, step: Step) -> list[Fastening]:
    """The likeliest kinds, those that keep `plausible` or more, at most three."""
    model = guide.topic.model
    ranked = sorted(range(len(model.fastenings)), key=lambda place: -step.shares[place])
    kept = [place for place in ranked if step.shares[place] >= model.plausible][:_LIKELY]
    return [guide.topic.fastenings[model.fastenings[place]] for place in kept or ranked[:1]]


# --- its parts ----------------------------------------------------------------------------------------------------


def caution_line(guide: Guide, texts: Texts, caution: str) -> str:
    """A caution in its short form, with its signal word."""
    name = f"caution-{caution}.short" if texts.has(f"caution-{caution}", "short") else f"caution-{caution}"
    signal = texts(f"signal-{guide.topic.cautions[caution].signal}")
    return texts("staff-caution", signal=signal, text=texts(name))


def tool_line(guide: Guide, texts: Texts, remover: str, *, alone: bool = True) -> str:
    """The remover as this shop calls it, where it hangs and how many there are; `alone`: on a line of its own."""
    tool = guide.shop.tool_for(remover)
    kind = kind_of(texts, remover)
    if tool is None or tool.count == 0:
        words = texts("staff-tool-none", tool=kind)
    else:
        words = texts("staff-tool", tool=kind, **where(tool))
    return texts("staff-tool-line", tool=words) if alone else words


def kind_of(texts: Texts, tool: str) -> str:
    """The topic's words for a remover or an accessory."""
    return texts(f"remover-{tool}" if texts.has(f"remover-{tool}") else f"accessory-{tool}")


def apart(texts: Texts, names: Sequence[str]) -> str:
    """Names that may have commas in them."""
    return texts("staff-between").join(names)


def where(tool: Tool) -> dict[str, str | int]:
    """A tool's name, place and number, for a text."""
    return {"name": tool.name, "hangs": tool.hangs, "count": tool.count}


def back_on(texts: Texts, fastening: Fastening) -> str:
    """How tight it goes back, in few words."""
    refitting = fastening.refitting
    if refitting is None:
        return ""
    if refitting.torque is not None:
        return texts("staff-torque", torque=number(texts, refitting.torque, 1))
    name = f"{refitting.text}.short" if texts.has(refitting.text, "short") else refitting.text
    return texts("staff-back-on", text=texts(name))


def note_line(texts: Texts, link: NoteLink) -> str:
    """A note; with where to read it, if that is not on this machine alone."""
    if urlsplit(link.url).scheme in ("http", "https"):
        return texts("staff-note", title=link.title, url=link.url)
    return texts("staff-note-here", title=link.title)


def _missing(guide: Guide, texts: Texts, step: Step) -> AskedFor:
    assert step.question is not None
    question = guide.topic.questions[step.question]
    choices = tuple(Choice(choice, label(guide, texts, question, choice)) for choice in question.choices)
    unit = "mm" if question.kind == "size" else None
    name = texts(f"question-{question.id}.name")
    text = texts("staff-missing-mm" if unit else "staff-missing", name=name)
    return AskedFor(question.id, question.kind, text, choices, unit, None, (Choice(UNSURE, texts("aside-unsure")),))


def _heard(guide: Guide, texts: Texts, line: Line) -> str:
    clauses = told(guide, texts, line.readings)
    return texts("staff-heard", clauses=clauses) if clauses else ""


def _so_far(guide: Guide, texts: Texts, step: Step) -> str:
    names = [_short(texts, fastening) for fastening in likely(guide, step) if not fastening.broad]
    return texts("staff-so-far", names=apart(texts, names)) if names else ""


def _odd(guide: Guide, texts: Texts, case: Case) -> str:
    """What was told that does not fit the rest."""
    readings = [r for r in case.now.readings if guide.topic.questions[r.question].purpose == "identify"]
    odd = odd_one_out(at_the_bench(guide.topic).model, readings)
    clauses = [said(guide, texts, reading) for reading in readings if reading.question == odd]
    return texts("staff-odd", clauses=listing(texts, clauses)) if clauses else ""


def _puzzle(guide: Guide, texts: Texts, seen: Seen) -> str:
    puzzle = seen.puzzle
    if puzzle is None:
        return ""
    if puzzle.proposed is None:
        return texts("staff-unread", said=puzzle.text)
    return texts("staff-puzzle", said=puzzle.text, proposed=said(guide, texts, puzzle.proposed))


def _case(guide: Guide, code: str, line: Line, now: datetime) -> Case:
    """What was told as a case that nobody keeps, for what asks cases."""
    return follow(open_case(guide, "", code, now), Answered(now, line.facts))


def _short(texts: Texts, fastening: Fastening) -> str:
    return texts(f"fastening-{fastening.id}.short")


def percent(guide: Guide, texts: Texts, step: Step, fastening: Fastening) -> str:
    """How likely a fastening is, in hundredths."""
    place = guide.topic.model.fastenings.index(fastening.id)
    return number(texts, 100 * float(step.shares[place]), 0)


def _lines(*parts: str) -> str:
    return "\n".join(part for part in parts if part)
