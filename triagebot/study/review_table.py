"""A review as tables, one section after another: the text for a terminal, and what the page shows beneath its plots."""

from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass

from triagebot.study.learning import Estimate
from triagebot.study.review import Band, Review


@dataclass(frozen=True, slots=True)
class Section:
    """A table with its title; `about` names the part of the review that it shows."""

    about: str
    title: str
    head: tuple[str, ...]
    rows: Sequence[Sequence[object]]
    note: str = ""


def summary(review: Review) -> list[str]:
    """What the review is made from, a line each."""
    said = [
        f"{review.topic}, edition {review.edition}: {_of(review.runs, 'conversation')}, {review.closed} of them closed"
    ]
    if review.elsewhere:
        said.append(f"{_of(review.elsewhere, 'closed case')} had been answered by another edition")
    if review.misfits:
        said.append(f"{_of(review.misfits, 'time')} the right remover was named and did not fit: was it worn?")
    return said


def sections(review: Review) -> Iterator[Section]:
    """Every table that has something to show."""
    if review.closed:
        verdicts = ("right", "look-alike", "wrong", "person", "no outcome", "not judged")
        rows = [(name, *astuple(tally)) for name, tally in (*review.fastenings, ("all", review.tally))]
        yield Section(
            "fastenings", "What it turned out to be, and what had been answered", ("fastening", *verdicts), rows
        )
    bands = (
        ("bands", "How certain answers were, and how often they were right", "band", review.bands),
        ("bins", "Every outcome by the share of what led, and how often that was right", "share", review.bins),
    )
    for about, title, name, found in bands:
        if found:
            yield Section(about, title, (name, "cases", "stated", "came true", "95 %"), [_band(band) for band in found])
    if review.questions:
        asked = [
            (q.question, q.asked, q.answered, _share(q.unsure, q.answered), q.taken_back, q.judged,
             _share(q.contradicted, q.judged))
            for q in review.questions
        ]  # fmt: skip
        yield Section(
            "questions",
            "What people made of the questions",
            ("question", "asked", "answered", "unsure", "taken back", "judged", "contradicted"),
            asked,
            "judged: first answers with a known truth; contradicted: ruled out by it",
        )
    if review.given_up:
        left = [(row.question or "between questions", row.left, row.stopped) for row in review.given_up]
        yield Section("given_up", "Where people gave up", ("at the question", "left", "said stop"), left)
    learned = (
        ("priors", "How common each fastening is", review.priors, "cases"),
        ("slips", "How often a wrong choice is given", review.slips, "wrong"),
    )
    for about, title, estimates, counted in learned:
        if any(row.of for row in estimates):
            yield Section(
                about,
                title,
                ("", "topic", "in use", "suggested", "95 %", counted, "of", "alone", "95 %"),
                [_estimate(row) for row in estimates],
                "topic: as it ships; suggested: with what was seen; alone: only what was seen",
            )


def review_table(review: Review) -> str:
    """Everything in a review as plain text."""
    lines = summary(review)
    for section in sections(review):
        lines += ["", f"{section.title}{f' ({section.note})' if section.note else ''}:"]
        cells = [section.head, *([str(cell) for cell in row] for row in section.rows)]
        first, *widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
        for name, *others in cells:
            padded = [cell.rjust(width) for cell, width in zip(others, widths, strict=True)]
            lines.append("  ".join([f"  {name.ljust(first)}", *padded]).rstrip())
    return "\n".join(lines) + "\n"


def _of(number: int, what: str) -> str:
    return f"{number} {what}" + ("" if number == 1 else "s")


def _band(band: Band) -> tuple[object, ...]:
    return band.name, band.cases, f"{band.stated:.1%}", f"{band.true:.1%}", _between(band)


def _estimate(row: Estimate) -> tuple[object, ...]:
    shares = (f"{share:.1%}" for share in (row.shipped, row.used, row.suggested))
    counted = f"{row.seen:.4g}", f"{row.of:.4g}"
    alone = "-" if row.raw is None else f"{row.raw:.1%}"
    return row.name, *shares, _between(row), *counted, alone, f"{row.raw_low:.1%}–{row.raw_high:.1%}"


def _between(row: Band | Estimate) -> str:
    return f"{row.low:.1%}–{row.high:.1%}"


def _share(part: int, of: int) -> str:
    return f"{part} ({part / of:.0%})" if of else "-"
