"""A review as plain text for a terminal: what whoever runs the shop reads first."""

from collections.abc import Iterator, Sequence

from triagebot.study.learning import Estimate
from triagebot.study.review import Band, Review, Tally

_VERDICTS = ("right", "look-alike", "wrong", "person", "none", "unknown")


def review_table(review: Review) -> str:
    """Everything in a review, one table after another."""
    return "\n".join(_lines(review)) + "\n"


def _lines(review: Review) -> Iterator[str]:
    runs = _of(review.runs, "conversation")
    yield f"{review.topic}, edition {review.edition}: {runs}, {review.closed} of them closed"
    if review.elsewhere:
        yield f"{_of(review.elsewhere, 'closed case')} had been answered by another edition"
    if review.misfits:
        yield f"{_of(review.misfits, 'time')} the right remover was named and did not fit: was it worn?"
    if review.closed:
        yield from ("", "What it turned out to be, and what had been answered:")
        rows = [(name, *_tally(tally)) for name, tally in review.fastenings]
        yield from _table(("fastening", *_VERDICTS), [*rows, ("all", *_tally(review.tally))])
    if review.bands:
        yield from ("", "How certain answers were, and how often they were right:")
        yield from _table(("band", "cases", "stated", "came true", "95 %"), [band_cells(band) for band in review.bands])
        yield from ("", "Every outcome by the share of what led (reliability):")
        yield from _table(("share", "cases", "stated", "came true", "95 %"), [band_cells(band) for band in review.bins])
    if review.questions:
        yield from ("", "What people made of the questions (judged: first answers where it is known what was true):")
        yield from _table(
            ("question", "asked", "answered", "unsure", "taken back", "judged", "contradicted"),
            [
                (q.question, q.asked, q.answered, _share(q.unsure, q.answered), q.taken_back, q.judged,
                 _share(q.contradicted, q.judged))
                for q in review.questions
            ],
        )  # fmt: skip
    if review.given_up:
        yield from ("", "Where people gave up:")
        rows = [(row.question or "between questions", row.left, row.stopped) for row in review.given_up]
        yield from _table(("at the question", "left", "said stop"), rows)
    for name, estimates, counted in (
        ("How common each fastening is", review.priors, "cases"),
        ("How often a wrong choice is given", review.slips, "wrong"),
    ):
        if any(row.of for row in estimates):
            yield from ("", f"{name} (topic: as it ships; suggested: with what was seen, and its 95 % interval):")
            head = ("", "topic", "in use", "suggested", "95 %", counted, "of")
            yield from _table(head, [estimate_cells(row) for row in estimates])


def _of(number: int, what: str) -> str:
    return f"{number} {what}" + ("" if number == 1 else "s")


def _tally(tally: Tally) -> tuple[int, ...]:
    return tuple(getattr(tally, verdict.replace("-", "_")) for verdict in _VERDICTS)


def band_cells(band: Band) -> tuple[object, ...]:
    """A band in a row: its name, cases, what was stated, what came true, and the interval."""
    return band.name, band.cases, _percent(band.stated), _percent(band.true), _between(band)


def estimate_cells(row: Estimate) -> tuple[object, ...]:
    """An estimate in a row: its name, the topic's share, the one in use, the suggested one, the interval, seen, of."""
    shares = (_percent(row.shipped), _percent(row.used), _percent(row.suggested))
    return row.name, *shares, _between(row), f"{row.seen:.4g}", f"{row.of:.4g}"


def _between(row: Band | Estimate) -> str:
    return f"{_percent(row.low)}–{_percent(row.high)}"


def _share(part: int, of: int) -> str:
    return f"{part} ({part / of:.0%})" if of else "-"


def _percent(share: float) -> str:
    return f"{share:.1%}"


def _table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> Iterator[str]:
    cells = [list(head), *([str(cell) for cell in row] for row in rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(head))]
    for first, *others in cells:
        padded = [cell.rjust(width) for cell, width in zip(others, widths[1:], strict=True)]
        yield "  ".join([f"  {first.ljust(widths[0])}", *padded]).rstrip()
