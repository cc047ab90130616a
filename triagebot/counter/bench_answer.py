"""What a line comes to, in words short enough for a phone in a greasy hand.

Cautions keep their signal words and stand before the tool; each in its short form (`caution-….short`) where the topic
has one.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import datetime
from urllib.parse import urlsplit

from triagebot.conversation import Choice, Guide, NextStep, Reply, Result, follow, open_case
from triagebot.conversation.blocks import (
    Block,
    Compact,
    Direction,
    Excerpt,
    Finding,
    Hazard,
    Question,
    Reasons,
    Remark,
    SeparatingCheck,
    Understood,
)
from triagebot.conversation.blocks import Tool as ToolBlock
from triagebot.conversation.case import Case
from triagebot.conversation.events import Answered
from triagebot.conversation.guide import UNSURE
from triagebot.conversation.outcome import band, cautions_for, leading, notes
from triagebot.conversation.second_look import unlike
from triagebot.conversation.telling_apart import separating_check
from triagebot.conversation.wording import all_said, label, listing, number, said
from triagebot.counter.bench_line import Line, Seen, at_the_bench
from triagebot.identify import ChoiceReading, CountReading, Decision, Reading, odd_one_out
from triagebot.shop import NoteLink, Tool
from triagebot.topics import Fastening, Texts

#: Fewer ways of looking at it than this leave nothing sure, and nothing odd.
ENOUGH = 2
#: Signal words, the gravest first.
_GRAVE = ("warning", "caution", "notice")
#: So many kinds are named where no tool can be.
_LIKELY = 3
#: An answer, and what it comes to in ids.
_Blocks = tuple[tuple[Block, ...], Result]


def reply_to(
    guide: Guide,
    language: str,
    line: Line,
    step: NextStep,
    seen: Seen,
    now: datetime,
    lent: Callable[[str], str] = lambda remover: "",
) -> Reply:
    """The answer to a line, or the one thing that is missing. `lent` says who has those of a tool that do not hang
    there."""
    texts = guide.language(language).texts
    puzzle = _puzzle(guide, texts, seen)
    if step.question is not None:
        heard = (*puzzle, *_heard(guide, texts, line), *_so_far(guide, texts, line, step))
        return Reply((Compact(heard), _missing(guide, texts, step)), "question")
    if step.referral is not None:
        clause = said(guide, texts, ChoiceReading(step.referral.question, step.referral.choice))
        stop = Finding(texts("staff-stop", clause=clause), "person")
        return Reply((Compact((*puzzle, stop, hazard(guide, texts, step.referral.caution))),), "person")
    case, named = _case(guide, language, line, now), leading(guide, step, step.decision)
    if step.decision.kind == "answer":
        blocks, result = _answer(guide, texts, case, step, named[0])
    elif step.decision.kind == "look-alike":
        blocks, result = _two(guide, texts, case, step, named)
    else:
        blocks, result = _nothing(guide, texts, case, step)
    where_else = _remark(lent(result.remover)) if result.remover is not None else ()
    return Reply((Compact((*puzzle, *blocks, *where_else)),), step.decision.kind, result)


def _answer(guide: Guide, texts: Texts, case: Case, step: NextStep, fastening: Fastening) -> _Blocks:
    cautions = cautions_for(guide, case, [fastening])
    links = notes(guide, case, [fastening])
    assert fastening.remover is not None
    blocks = (
        _named(guide, texts, step, fastening, case),
        *_odd(guide, texts, case, [fastening]),
        *gravest(guide, texts, cautions),
        tool(guide, texts, fastening.remover),
        Direction(texts(f"direction-{fastening.direction}"), fastening.direction),
        *_remark(back_on(texts, fastening)),
        *(note(texts, link) for link in links[:1]),
    )
    return blocks, Result(fastening.id, fastening.remover, tuple(cautions), links)


def _two(guide: Guide, texts: Texts, case: Case, step: NextStep, named: list[Fastening]) -> _Blocks:
    cautions = cautions_for(guide, case, named)
    rows = []
    for fastening in named:
        own = tool(guide, texts, str(fastening.remover), alone=False)
        share = percent(guide, texts, step, fastening)
        text = texts("staff-two-row", fastening=_short(texts, fastening), share=share, tool=own.text)
        rows.append(replace(own, text=text, listed=True))
    blocks: tuple[Block, ...] = (
        Finding(texts("staff-two"), "two", tuple(fastening.id for fastening in named)),
        *gravest(guide, texts, cautions),
        *rows,
        SeparatingCheck(texts("separating-check", check=separating_check(guide, texts, named))),
    )
    return blocks, Result(None, None, tuple(cautions))


def _nothing(guide: Guide, texts: Texts, case: Case, step: NextStep) -> _Blocks:
    """No tool: what it most likely is, and what does not fit."""
    (likeliest,) = leading(guide, step, Decision("person", (), 0.0))
    if nothing_takes_off(likeliest):
        kinds = [likeliest, *_in_truth(likeliest, likely(guide, step))]
        alone = Finding(none_takes_off(texts, kinds), "person", tuple(kind.id for kind in kinds))
        return (alone, *_odd(guide, texts, case, kinds)), Result(likeliest.id)
    motion = guide.topic.flow.outcomes.motion
    if _is_not_listed(guide, case.now.readings, {motion.question} if motion is not None else set()):
        return (Finding(texts("staff-not-listed"), "person"),), Result()
    rows = (_fits(guide, texts, step, fastening) for fastening in likely(guide, step))
    return (Finding(texts("staff-no-tool"), "person"), *rows, *_odd(guide, texts, case, [])), Result()


def likely(guide: Guide, step: NextStep) -> list[Fastening]:
    """The likeliest kinds, those that keep `plausible` or more, at most three."""
    model = guide.topic.model
    ranked = sorted(range(len(model.fastenings)), key=lambda place: -step.shares[place])
    kept = [place for place in ranked if step.shares[place] >= model.plausible][:_LIKELY]
    return [guide.topic.fastenings[model.fastenings[place]] for place in kept or ranked[:1]]


# --- its parts ----------------------------------------------------------------------------------------------------


def hazard(guide: Guide, texts: Texts, caution: str) -> Hazard:
    """A caution in its short form, with its signal word."""
    name = f"caution-{caution}.short" if texts.has(f"caution-{caution}", "short") else f"caution-{caution}"
    signal = guide.topic.cautions[caution].signal
    return Hazard(signal, texts(f"signal-{signal}"), "", texts(name), caution)


def gravest(guide: Guide, texts: Texts, cautions: Sequence[str]) -> tuple[Block, ...]:
    """The gravest of some cautions, the first of its kind, and how many more there are."""
    ranked = sorted(cautions, key=lambda caution: _GRAVE.index(guide.topic.cautions[caution].signal))
    if not ranked:
        return ()
    return (hazard(guide, texts, ranked[0]), *_remark(texts("staff-cautions-more", count=len(ranked) - 1)))


def all_cautions(guide: Guide, language: str, line: Line, step: NextStep, now: datetime) -> tuple[Block, ...]:
    """Every caution of the kinds that a line names; none where it names none yet."""
    texts = guide.language(language).texts
    if step.referral is not None:
        return (hazard(guide, texts, step.referral.caution),)
    if step.question is not None or not line.facts or step.decision.kind not in ("answer", "look-alike"):
        return ()
    named = leading(guide, step, step.decision)
    return tuple(hazard(guide, texts, each) for each in cautions_for(guide, _case(guide, language, line, now), named))


def tool(guide: Guide, texts: Texts, remover: str, *, alone: bool = True) -> ToolBlock:
    """The remover as this shop calls it, where it hangs and how many there are; `alone`: on a line of its own."""
    own = guide.shop.tool_for(remover)
    hangs = own is not None and own.count > 0
    words = texts("staff-tool", **where(own)) if own is not None and hangs else ""
    words = words or texts("staff-tool-none", tool=kind_of(texts, remover))
    text = texts("staff-tool-line", tool=words) if alone else words
    return ToolBlock(text, remover, own.name, own.hangs) if own is not None and hangs else ToolBlock(text, remover)


def kind_of(texts: Texts, tool: str) -> str:
    """The topic's words for a remover or an accessory."""
    return texts(f"remover-{tool}" if texts.has(f"remover-{tool}") else f"accessory-{tool}")


def nothing_takes_off(fastening: Fastening) -> bool:
    """Whether it is a kind of its own for which no remover is known."""
    return fastening.remover is None and not fastening.broad


def no_remover(texts: Texts, fastening: Fastening, name: str = "staff-no-remover") -> str:
    """The kind, and why no tool is named for it: the short form of the first of its advice that has one."""
    why = next((f"advice-{advice}.short" for advice in fastening.advice if texts.has(f"advice-{advice}", "short")), "")
    return texts(name, fastening=_short(texts, fastening), why=texts(why or "staff-no-remover-known"))


def none_takes_off(texts: Texts, kinds: Sequence[Fastening]) -> str:
    """The likeliest kind, for which no remover is known; where it may be another part that is looked at, what the
    fitting is if it is not."""
    first, *others = kinds
    rows = [no_remover(texts, kind, "staff-if-not") for kind in _in_truth(first, others)]
    return "\n".join([no_remover(texts, first), *rows])


def _in_truth(first: Fastening, kinds: Sequence[Fastening]) -> list[Fastening]:
    """What the fitting may be where the likeliest is that another part was looked at: kinds that nothing takes off."""
    return [kind for kind in kinds if nothing_takes_off(kind) and not kind.mistaken] if first.mistaken else []


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


def note(texts: Texts, link: NoteLink) -> Block:
    """A note; with where to read it, if that is not on this machine alone."""
    if urlsplit(link.url).scheme in ("http", "https"):
        return Excerpt(texts("staff-note"), link, "")
    return Remark(texts("staff-note-here", title=link.title), "staff-note-here")


def _missing(guide: Guide, texts: Texts, step: NextStep) -> Question:
    assert step.question is not None
    question = guide.topic.questions[step.question]
    choices = tuple(Choice(choice, label(guide, texts, question, choice)) for choice in question.choices)
    unit = "mm" if question.kind == "size" else None
    name = texts(f"question-{question.id}.name")
    text = texts("staff-missing-mm" if unit else "staff-missing", name=name)
    return Question(question.id, question.kind, text, choices, unit, None, (Choice(UNSURE, texts("aside-unsure")),))


def _heard(guide: Guide, texts: Texts, line: Line) -> tuple[Block, ...]:
    clauses = all_said(guide, texts, line.readings)
    return (
        (
            Understood(
                texts("staff-heard", clauses=clauses),
                tuple(dict.fromkeys(reading.question for reading in line.readings)),
            ),
        )
        if clauses
        else ()
    )


def _so_far(guide: Guide, texts: Texts, line: Line, step: NextStep) -> tuple[Block, ...]:
    """What it could be. Beside a kind that nothing takes off no other is named: its tool would be tried; nor is any
    where no kind that is listed looks like that."""
    if _is_not_listed(guide, line.readings):
        return (Reasons(texts("staff-not-listed")),)
    kinds = likely(guide, step)
    if nothing_takes_off(kinds[0]):
        return (Reasons(no_remover(texts, kinds[0], "staff-most-likely")),)
    names = [_short(texts, fastening) for fastening in kinds if not fastening.broad]
    return (Reasons(texts("staff-so-far", names=apart(texts, names))),) if names else ()


def _named(guide: Guide, texts: Texts, step: NextStep, fastening: Fastening, case: Case) -> Finding:
    """The kind that is named, and how sure that is in words: what a single look at the fitting says is never sure."""
    sure = band(guide, step.shares[guide.topic.model.fastenings.index(fastening.id)])
    if sure == "sure" and len(_looks(guide, case)) < ENOUGH:
        sure = "fairly-sure"
    name = _short(texts, fastening)
    return Finding(texts("staff-fits", sure=sure, fastening=name), sure, (fastening.id,))


def _looks(guide: Guide, case: Case) -> frozenset[str]:
    """By how many ways it was looked at: what the fitting is and how many there are is seen at one look."""
    seen = {r.question for r in case.now.readings if guide.topic.questions[r.question].purpose == "identify"}
    sights = seen & set(guide.topic.flow.outcomes.sights)
    at_once = {each for each in sights if guide.topic.questions[each].kind != "size"}
    return frozenset((seen - at_once) | ({"one look"} if at_once else set()))


def _fits(guide: Guide, texts: Texts, step: NextStep, fastening: Fastening) -> Finding:
    """A kind, and how likely it is."""
    share = percent(guide, texts, step, fastening)
    sure = band(guide, step.shares[guide.topic.model.fastenings.index(fastening.id)])
    return Finding(texts("staff-fits-row", fastening=_short(texts, fastening), share=share), sure, (fastening.id,))


def _is_not_listed(guide: Guide, readings: Sequence[Reading], also: Collection[str] = ()) -> bool:
    """Whether what was seen of the fitting was counted, and no kind that is listed looks like that, by the answers to
    what is asked of the fitting itself and `also` to these questions."""
    sights = {*guide.topic.flow.outcomes.sights, *also}
    seen = [r for r in readings if r.question in sights and isinstance(r, CountReading | ChoiceReading)]
    listed = (fastening.id for fastening in guide.topic.fastenings.values() if not fastening.broad)
    counted = any(isinstance(reading, CountReading) for reading in seen)
    return counted and all(unlike(guide.topic, each, seen) for each in listed)


def _odd(guide: Guide, texts: Texts, case: Case, kinds: Sequence[Fastening]) -> tuple[Block, ...]:
    """What was told that does not fit the rest, and none of the `kinds` that are named."""
    readings = [r for r in case.now.readings if guide.topic.questions[r.question].purpose == "identify"]
    if len(_looks(guide, case)) < ENOUGH:  # there is no rest that it could fit
        return ()
    odd = odd_one_out(at_the_bench(guide.topic).model, readings)
    fits = any(not unlike(guide.topic, kind.id, [r for r in readings if r.question == odd]) for kind in kinds)
    clauses = [said(guide, texts, reading) for reading in readings if reading.question == odd and not fits]
    return (Reasons(texts("staff-odd", clauses=listing(texts, clauses))),) if clauses else ()


def _puzzle(guide: Guide, texts: Texts, seen: Seen) -> tuple[Block, ...]:
    puzzle = seen.puzzle
    if puzzle is None:
        return ()
    if puzzle.proposed is None:
        return _remark(texts("staff-unread", said=puzzle.text))
    return _remark(texts("staff-puzzle", said=puzzle.text, proposed=said(guide, texts, puzzle.proposed)))


def _remark(text: str) -> tuple[Block, ...]:
    return (Remark(text),) if text else ()


def _case(guide: Guide, code: str, line: Line, now: datetime) -> Case:
    """What was told as a case that nobody keeps, for what asks cases."""
    return follow(open_case(guide, "", code, now), Answered(now, line.facts))


def _short(texts: Texts, fastening: Fastening) -> str:
    return texts(f"fastening-{fastening.id}.short")


def percent(guide: Guide, texts: Texts, step: NextStep, fastening: Fastening) -> str:
    """How likely a fastening is, in hundredths."""
    place = guide.topic.model.fastenings.index(fastening.id)
    return number(texts, 100 * float(step.shares[place]), 0)
