"""Readings, questions and reasons in words. The sentences are in the Fluent files and are put together here."""

from collections.abc import Sequence

from babel.numbers import format_decimal

from triagebot.conversation.case import Case
from triagebot.conversation.guide import UNSURE, Guide
from triagebot.conversation.reply import Choice, Shown
from triagebot.identify import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.topics import Texts

#: A range narrower than this (half of it, mm) is told as one number.
_MERE_READING = 0.6


def number(texts: Texts, value: float, digits: int = 1) -> str:
    """A number as this language writes it, with at most `digits` decimals."""
    return str(format_decimal(round(value, digits), locale=texts.language, group_separator=False))


def said(guide: Guide, texts: Texts, reading: Reading) -> str:
    """A reading as a clause: "the middle stayed still", "you counted 4 on the fitting"."""
    question = guide.topic.questions[reading.question]
    if isinstance(reading, UnsureReading):
        return texts("said-unsure", name=texts(f"question-{question.id}.name"))
    if isinstance(reading, ChoiceReading):
        label = guide.label(texts, question, reading.choice)
        if reading.denied:
            return texts("said-denied", label=label)
        if question.shop_words and guide.shop.maker_labels.get(reading.choice):
            return texts("said-marking", label=label)
        return texts(f"choice-{question.id}-{reading.choice}.said")
    return texts(f"question-{question.id}.said", value=_amount(texts, reading))


def _amount(texts: Texts, reading: CountReading | SizeReading | BoundReading) -> str:
    if isinstance(reading, CountReading):
        low, high = number(texts, reading.low, 0), number(texts, reading.high, 0)
        return low if reading.low == reading.high else texts("amount-range", low=low, high=high)
    amount = _length(texts, reading)
    return (
        amount
        if reading.means == "unknown"
        else texts("amount-by", amount=amount, means=texts(f"means-{reading.means}"))
    )


def _length(texts: Texts, reading: SizeReading | BoundReading) -> str:
    if isinstance(reading, SizeReading):
        low, high = number(texts, reading.mm - reading.half_width), number(texts, reading.mm + reading.half_width)
        plain = reading.half_width < _MERE_READING
        amount = number(texts, reading.mm) if plain else texts("amount-range", low=low, high=high)
        return texts("amount-mm", amount=amount)
    if reading.low is not None and reading.high is not None:
        low, high = number(texts, reading.low, 2), number(texts, reading.high, 2)
        return texts("amount-mm", amount=texts("amount-range", low=low, high=high))
    if reading.low is not None:
        return texts("amount-over", amount=number(texts, reading.low, 2))
    return texts("amount-under", amount=number(texts, reading.high or 0, 2))


def listing(texts: Texts, clauses: Sequence[str]) -> str:
    """Clauses in a row, as the language joins them."""
    if len(clauses) < 2:
        return "".join(clauses)
    return texts("list-last", before=texts("list-between").join(clauses[:-1]), last=clauses[-1])


def shown(guide: Guide, texts: Texts, case: Case) -> Shown | None:
    """The open question, ready to show; None when nothing is asked."""
    if case.now.question is None:
        return None
    question = guide.topic.questions[case.now.question]
    reworded = case.now.again and texts.has(f"question-{question.id}", "again")
    choices = tuple(Choice(choice, guide.label(texts, question, choice)) for choice in question.choices)
    aside = [Choice(UNSURE, texts("aside-unsure")), Choice("how", texts("aside-how"))]
    if case.past:
        aside.append(Choice("back", texts("aside-back")))
    return Shown(
        id=question.id,
        kind=question.kind,
        text=texts(f"question-{question.id}.again" if reworded else f"question-{question.id}"),
        choices=choices,
        unit="mm" if question.kind == "size" else None,
        picture=question.picture,
        aside=tuple(aside),
    )


def how_to(texts: Texts, question: str) -> str:
    """How to check: a short instruction."""
    return texts(f"question-{question}.how")
