"""The reviews of several branches as one table: a column each, and one for their sum."""

from collections.abc import Mapping
from dataclasses import astuple

from triagebot.study.review import Review

_VERDICTS = ("right", "look-alike", "wrong", "person", "no outcome", "not judged")


def side_by_side(reviews: Mapping[str, Review]) -> str:
    """As plain text: how many conversations there were, how they ended, and how often people said that they do not know
    an answer or left."""
    rows: dict[str, list[str]] = {
        "conversations": [str(each.runs) for each in reviews.values()],
        "closed": [str(each.closed) for each in reviews.values()],
    }
    for place, verdict in enumerate(_VERDICTS):
        rows[f"  {verdict}"] = [_share(astuple(each.tally)[place], each.tally.cases) for each in reviews.values()]
    rows["did not fit"] = [str(each.misfits) for each in reviews.values()]
    rows["answers"] = [str(sum(q.answered for q in each.questions)) for each in reviews.values()]
    rows["  unsure"] = [
        _share(sum(q.unsure for q in each.questions), sum(q.answered for q in each.questions))
        for each in reviews.values()
    ]
    rows["gave up"] = [str(sum(row.left + row.stopped for row in each.given_up)) for each in reviews.values()]
    cells = [("", *reviews), *((name, *row) for name, row in rows.items())]
    first, *widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    lines = (
        "  ".join([name.ljust(first), *(cell.rjust(width) for cell, width in zip(row, widths, strict=True))]).rstrip()
        for name, *row in cells
    )
    return "".join(f"{line}\n" for line in lines)


def _share(part: int, of: int) -> str:
    return f"{part} ({part / of:.0%})" if of else str(part)
