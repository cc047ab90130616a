"""Numbers that are only a part of what is counted, or were told before: "6 on each half", "two of the four"."""

from dataclasses import replace

from triagebot.conversation.understanding.joining import Quantity
from triagebot.conversation.understanding.layout import Layout, Span
from triagebot.conversation.understanding.results import turns


def span_at(layout: Layout, q: Quantity, place: int) -> Span | None:
    """The span at `place`, if it stands in the quantity's clause."""
    spans = layout.spans
    if not 0 <= place < len(spans) or spans[place].clause != spans[q.first].clause:
        return None
    return spans[place]


def share_of(layout: Layout, q: Quantity) -> int:
    """How many such parts the whole has: "6 on each half", "half way round is 10"."""
    beside = [q.last + 1, q.first - 1, *([q.noun + 1] if q.noun is not None else [])]
    for place in beside:
        span = span_at(layout, q, place)
        if span is None:
            continue
        meaning = span.of("share") or (span.of("lone-share") if place == q.last + 1 else None)
        if meaning is not None:
            return int(meaning.subject)
    return 1


def without_some_of_them(layout: Layout, placed: list[Quantity]) -> list[Quantity]:
    """Without what is only some of what is counted ("two of the four", "four, but two of them are gone"), or was told
    before."""
    spans = layout.spans
    kept: list[Quantity] = []
    for at, q in enumerate(placed):
        ahead = [s.token.key for s in spans[q.last + 1 : q.last + 2] if not s.meanings]
        later = placed[at + 1] if at + 1 < len(placed) else None
        of_more = ahead == ["of"] and later is not None and later.first <= q.last + 3
        before = placed[at - 1] if at else None
        some = (
            before is not None
            and q.noun is not None
            and layout.key(spans[q.noun].first) in layout.words.number_joints
            and before.low > q.low
            and before.unit is None
            and not any(turns(layout, i) for i in range(before.last + 1, q.first))
        )
        some = some or (before is not None and before.low > q.low and _says_more_of_it(layout, before, q))
        some = some or (before is not None and before.unit is None and _was_told(layout, q))
        kept.append(replace(q, role="elsewhere", noun=None, question=None) if of_more or some else q)
    return kept


def _was_told(layout: Layout, q: Quantity) -> bool:
    """Whether it is a number that was told before and is put right in front: "actually 8, sorry, I said 7"."""
    first = layout.spans[q.first].first
    told, who = layout.key(first - 1), layout.key(first - 2)
    return q.unit is None and q.noun is None and told in layout.words.earlier and who in layout.words.subjects


def _says_more_of_it(layout: Layout, before: Quantity, q: Quantity) -> bool:
    """ "12 and 1 is broken": a smaller number alone that a verb follows."""
    if q.role != "loose" or q.unit is not None or before.unit is not None:
        return False
    after = span_at(layout, q, q.last + 1)
    verb = after is not None and after.token.key in layout.words.linking
    return verb and not any(turns(layout, i) for i in range(before.last + 1, q.first))
