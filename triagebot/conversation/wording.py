"""Readings, questions and reasons in words, and what was understood, said back: "20 splines, then." The sentences are
in the Fluent files and are put together here.

Rules of this file: when a length is told as a range, in which order reasons are given, and how a choice about makers'
words is shown. An echo begins otherwise than that of the turn before; one fact is said shorter than several; "it" only
stands for what was just asked about; where the number of splines is said, "it has splines" is not said too.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

from babel import Locale
from babel.numbers import format_decimal

from triagebot.conversation import blocks
from triagebot.conversation.blocks import Choice
from triagebot.conversation.case import Case, Standing
from triagebot.conversation.events import Answered, Asked, Concluded, Event, Remarked
from triagebot.conversation.guide import UNSURE, Guide
from triagebot.conversation.machine import latest_choices, needed
from triagebot.conversation.understood import Fact
from triagebot.identify import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.topics import Question, Texts

#: A press that says a count is none of those offered.
ANOTHER = "another-number"
#: What to do first is told with a question, and once more in other words with the question about it.
_TOLD_HOW = 2
#: The choice that stands for every maker whom the shop's table does not list: never told by the names that it lists.
_ANY_OTHER = "other"


def habits(texts: Texts) -> Locale:
    """How times, money and numbers are written where these texts are spoken: the language file says it."""
    return _locale(texts("locale"))


@lru_cache(maxsize=64)
def _locale(code: str) -> Locale:
    return Locale.parse(code, sep="-")


def number(texts: Texts, value: float, digits: int = 1) -> str:
    """A number as this language writes it, with at most `digits` decimals."""
    return _number(texts("locale"), round(value, digits))


@lru_cache(maxsize=512)
def _number(code: str, value: float) -> str:
    return str(format_decimal(value, locale=_locale(code), group_separator=False))


def said(guide: Guide, texts: Texts, reading: Reading) -> str:
    """A reading as a clause: "the middle stays still", "the count is 4"."""
    question = guide.topic.questions[reading.question]
    if isinstance(reading, UnsureReading):
        return texts("said-unsure", name=texts(f"question-{question.id}.name"))
    if isinstance(reading, ChoiceReading):
        clause, name = _chosen(guide, texts, question, reading.choice), f"choice-{question.id}-{reading.choice}"
        if not reading.denied:
            return clause
        return texts(f"{name}.denied") if texts.has(name, "denied") else texts("said-denied", clause=clause)
    return texts(f"question-{question.id}.said", value=shown_value(texts, reading))


def shown_value(texts: Texts, reading: CountReading | SizeReading | BoundReading) -> str | int:
    """A number or a length as it is told: "4", "about 23 mm with a ruler"."""
    if not isinstance(reading, CountReading):
        return _measured(texts, reading)
    if reading.low == reading.high:
        return reading.low
    return texts("amount-range", low=number(texts, reading.low, 0), high=number(texts, reading.high, 0))


def _chosen(guide: Guide, texts: Texts, question: Question, choice: str) -> str:
    makers = _makers(guide, question, choice)
    return (
        texts("said-marking", makers=either(texts, makers)) if makers else texts(f"choice-{question.id}-{choice}.said")
    )


def _makers(guide: Guide, question: Question, choice: str) -> tuple[str, ...]:
    """The makers' names that stand for a choice."""
    return guide.shop.maker_labels.get(choice, ()) if question.shop_words and choice != _ANY_OTHER else ()


def makers_of(guide: Guide, reading: ChoiceReading) -> tuple[str, ...]:
    """The makers' names that an answer stands for."""
    return _makers(guide, guide.topic.questions[reading.question], reading.choice)


def label(guide: Guide, texts: Texts, question: Question, choice: str) -> str:
    """A choice as it is shown: makers' names stand in for a choice about makers' words."""
    makers = _makers(guide, question, choice)
    return texts("list-between").join(makers) if makers else texts(f"choice-{question.id}-{choice}")


def _measured(texts: Texts, reading: SizeReading | BoundReading) -> str:
    amount = _length(texts, reading)
    if reading.means == "unknown":
        return amount
    return texts("amount-by", amount=amount, means=texts(f"means-{reading.means}"))


def _length(texts: Texts, reading: SizeReading | BoundReading) -> str:
    if isinstance(reading, SizeReading):
        low, high = round(reading.mm - reading.half_width, 2), round(reading.mm + reading.half_width, 2)
        if reading.half_width and max(_decimals(low), _decimals(high)) < _decimals(reading.mm):
            return _between(texts, low, high)
        return texts("amount-about" if reading.half_width else "amount-mm", amount=number(texts, reading.mm))
    if reading.low is not None and reading.high is not None:
        return _between(texts, reading.low, reading.high)
    if reading.low is not None:
        return texts("amount-over", amount=number(texts, reading.low, 2))
    return texts("amount-under", amount=number(texts, reading.high or 0, 2))


def _between(texts: Texts, low: float, high: float) -> str:
    amount = texts("amount-range", low=number(texts, low, 2), high=number(texts, high, 2))
    return texts("amount-mm", amount=amount)


def _decimals(mm: float) -> int:
    """How many decimals it takes to write a length: 24 to 25 is rounder than the 24.5 between them, 40 than 39.5."""
    exponent = Decimal(str(round(mm, 2))).normalize().as_tuple().exponent
    return max(0, -int(exponent))


def listing(texts: Texts, clauses: Sequence[str]) -> str:
    """Clauses in a row, as the language joins them."""
    return _joined(texts, clauses, "list-last")


def either(texts: Texts, names: Sequence[str]) -> str:
    """Names of which one holds, as the language joins them."""
    return _joined(texts, names, "list-last-or")


def _joined(texts: Texts, parts: Sequence[str], end: str) -> str:
    if len(parts) < 2:
        return "".join(parts)
    return texts(end, before=texts("list-between").join(parts[:-1]), last=parts[-1])


def all_said(guide: Guide, texts: Texts, readings: Iterable[Reading]) -> str:
    """What somebody told, clause by clause in the order of the flow's questions; what one is unsure about is left out.

    Where an answer changed when it was asked for again, both are told, one after the other.
    """
    known = [r for r in dict.fromkeys(readings) if not isinstance(r, UnsureReading)]
    clauses = []
    for question in guide.topic.questions:
        own = [said(guide, texts, reading) for reading in known if reading.question == question]
        replies = [r for r in known if r.question == question and not _adds_up(r)]
        clauses += [texts("list-then", before=own[0], last=own[-1])] if len(replies) == len(own) > 1 else own
    return listing(texts, clauses)


def _adds_up(reading: Reading) -> bool:
    return isinstance(reading, BoundReading) or (isinstance(reading, ChoiceReading) and reading.denied)


def not_shown_twice(
    question: blocks.Question | None, before: Standing, new: Sequence[Event]
) -> tuple[blocks.Question, ...]:
    """The question, if there is one. One that stays open stands right below its picture, which is not shown once more:
    but to somebody who has been away, and where nothing `new` has come to the case since `before`."""
    if question is None:
        return ()
    stays = before.question == question.id and before.puzzle is None and not before.picking
    back = any(isinstance(event, Remarked) and event.what == "resume" for event in new)
    return (replace(question, picture=None) if stays and new and not back else question,)


def shown(guide: Guide, texts: Texts, case: Case) -> blocks.Question | None:
    """The open question, ready to show; None when nothing is asked."""
    if case.now.question is None:
        return None
    question = guide.topic.questions[case.now.question]
    choices = tuple(Choice(choice, label(guide, texts, question, choice)) for choice in question.choices)
    aside = [Choice(UNSURE, texts("aside-unsure")), Choice("how", texts("aside-how"))]
    aside += _hindrances(guide, texts, case, question.id)
    if case.past:
        aside.append(Choice("back", texts("aside-back")))
    return blocks.Question(
        id=question.id,
        kind=question.kind,
        text=texts(_wording(guide, texts, case, question.id)),
        choices=choices,
        unit="mm" if question.kind == "size" else None,
        picture=question.picture,
        aside=tuple(aside),
        numbers=_numbers(texts, question),
    )


def preface_to(guide: Guide, texts: Texts, case: Case, *, fresh: bool) -> str:
    """What leads over to the open question: why it is asked again, that it goes with the answer, or what to do first,
    where this turn told anything `fresh`."""
    now, topic = case.now, guide.topic
    assert now.question is not None
    if now.outcome is not None:
        return texts("one-more-thing")
    able = topic.questions[now.question].purpose == "ability"
    if now.first or able:
        ability = now.first or now.question
        text = f"ability-{ability}-{latest_choices(now.readings).get(ability)}"
        text = f"{text}.first" if now.first and texts.has(text, "first") else text
        return texts(text) if fresh and texts.has(*text.split(".")) and now.asks[ability] <= _TOLD_HOW else ""
    if now.doubted:
        at_once = sum(isinstance(event, Answered) for event in case.events) < 2
        return texts("does-not-fit-together" if at_once else "does-not-fit")
    if now.again and now.question == topic.flow.outcomes.direction and now.asks[now.question] == 1:
        return texts("decides-direction")
    return ""


def _hindrances(guide: Guide, texts: Texts, case: Case, question: str) -> list[Choice]:
    """What may be in the way of an answer ("the wheel's still in"), until something is told that settles it."""
    readings, topic = case.now.readings, guide.topic
    told = {r.question for r in readings if not isinstance(r, UnsureReading)}
    settled = told.union(*(needed(topic, each) for each in told))
    abilities = [topic.questions[name] for name in sorted(needed(topic, question) - settled)]
    named = [f"{ability.id}-{choice}" for ability in abilities for choice in ability.choices]
    return [Choice(name, texts(f"choice-{name}.aside")) for name in named if texts.has(f"choice-{name}", "aside")]


def _numbers(texts: Texts, question: Question) -> tuple[Choice, ...]:
    """The counts that are likely, and a way to another one."""
    likely = tuple(Choice(str(each), number(texts, each, 0)) for each in question.numbers)
    return (*likely, Choice(ANOTHER, texts("another-number"))) if likely else ()


def _wording(guide: Guide, texts: Texts, case: Case, question: str) -> str:
    """The text that asks: in other words when it is asked again, and never twice in a row in the same. After something
    was answered in between it is asked shortly, and nothing that was said is doubted."""
    open_now = case.now.question == question
    again = open_now and case.now.again and case.now.asks.get(question, 0) > 1  # told unasked: there are no other words
    repeats = _repeats(case) if open_now else 0
    if repeats > 0 and case.asked_in_between and not again:
        short = repeats % 2 == 1 and texts.has(f"question-{question}", "short")
        return f"question-{question}.short" if short else f"question-{question}"
    again = again or (guide.topic.questions[question].purpose == "ability" and case.now.asks[question] > _TOLD_HOW)
    again = again or (case.remarks > 0 and repeats % 2 == 0)
    short = (repeats > 0 and not again and repeats % 2 == 1) or (case.now.again and repeats % 2 == 1)
    variant = "short" if short else "again" if again else ""
    name = f"question-{question}"
    return f"{name}.{variant}" if variant and texts.has(name, variant) else name


def _repeats(case: Case) -> int:
    """How many messages in a row left the open question open: those that changed nothing, and those that told something
    else."""
    count = anew = 0
    for event in reversed(case.events):
        if isinstance(event, Concluded):
            return anew  # what was put after it was put anew
        if isinstance(event, Asked) and not event.still:
            break
        if isinstance(event, Asked):
            anew = count
        count += isinstance(event, Asked | Remarked)
    return count


def how_to(texts: Texts, question: str) -> str:
    """How to check: a short instruction."""
    return texts(f"question-{question}.how")


#: The ways to begin, one after the other.
_WAYS = ("first", "second", "third", "fourth", "fifth")


def echo(guide: Guide, texts: Texts, before: Case, facts: Sequence[Fact]) -> str:
    """The facts of a message to the case `before` it, said back."""
    readings = [fact.reading for fact in facts]
    known = latest_choices((*before.now.readings, *readings))
    kept = _without_covered(texts, readings, known)
    way = _WAYS[sum(isinstance(event, Answered) and bool(event.facts) for event in before.events) % len(_WAYS)]
    if len(kept) == 1 and kept[0].question == before.now.question and isinstance(kept[0], UnsureReading):
        return texts(f"echo-unsure.{way}")
    brief = [words for each in kept if (words := _brief(guide, texts, each, known))]
    clauses = [
        _asked(guide, texts, each) if each.question == before.now.question else said(guide, texts, each)
        for each in kept
        if not _brief(guide, texts, each, known)
    ]
    groups = [listing(texts, group) for group in (brief, clauses) if group]
    words = texts("echo-both", before=groups[0], last=groups[1]) if len(groups) == 2 else groups[0]
    name = f"echo-one.{way}" if len(kept) == 1 else f"echo-several.{way}"
    return texts(name, said=words, start=words[:1].upper() + words[1:])


def _without_covered(texts: Texts, readings: Sequence[Reading], known: dict[str, str]) -> list[Reading]:
    """The readings, without choices that another one's words tell."""
    covered = {_tells(texts, reading, known) for reading in readings if isinstance(reading, CountReading)}
    return [
        each
        for each in dict.fromkeys(readings)
        if not isinstance(each, ChoiceReading) or each.denied or each.question not in covered
    ]


def _tells(texts: Texts, reading: Reading, known: dict[str, str]) -> str | None:
    """The question whose known answer is said together with this reading ("20 splines")."""
    name = f"question-{reading.question}"
    return next((other for other in known if texts.has(name, f"with-{other}")), None)


def _brief(guide: Guide, texts: Texts, reading: Reading, known: dict[str, str]) -> str:
    """A reading in a few words without a verb; nothing where there are none."""
    if isinstance(reading, UnsureReading):
        return ""
    if isinstance(reading, ChoiceReading):
        makers = () if reading.denied else makers_of(guide, reading)
        name = "said-marking" if makers else f"choice-{reading.question}-{reading.choice}"
        if reading.denied or not texts.has(name, "brief"):
            return ""
        return texts(f"{name}.brief", **({"makers": either(texts, makers)} if makers else {}))
    name, value = f"question-{reading.question}", shown_value(texts, reading)
    if (other := _tells(texts, reading, known)) is not None:
        return texts(f"{name}.with-{other}", value=value, **{other: known[other]})
    return texts(f"{name}.brief", value=value) if texts.has(name, "brief") else ""


def _asked(guide: Guide, texts: Texts, reading: Reading) -> str:
    """A reading that answers what was just asked, as a clause."""
    if isinstance(reading, ChoiceReading) and not reading.denied:
        name = f"choice-{reading.question}-{reading.choice}"
        if texts.has(name, "echo"):
            return texts(f"{name}.echo")
    return said(guide, texts, reading)
