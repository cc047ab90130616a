"""Where in a message a number takes the place of those before it.

Rules of this file: behind words that lead to a result, behind a "no" between two numbers, and behind what was said or
thought at first.
"""

from triagebot.conversation.understanding.layout import Layout


def results(layout: Layout) -> list[int]:
    """Spans where a number begins to take the place of those before: behind "so" or a lone "no", and behind what was
    said or thought at first."""
    words, spans = layout.words, layout.spans
    starts = concluding(layout) + lone_noes(layout)
    told = numbered = False
    for place, span in enumerate(spans):
        ends = place > 0 and (spans[place - 1].clause != span.clause or span.of("break") is not None)
        ends |= numbered and span.token.key in words.stating
        if ends and told and numbered:
            starts.append(place)
            told = False
        told = told or any(token.key in words.earlier for token in layout.tokens[span.first : span.last + 1])
        numbered = numbered or span.token.number is not None
    return starts


def concluding(layout: Layout) -> list[int]:
    """Spans behind which a result stands: "6 and 6, so 12", "21 / 3 = 7"."""
    numbered = [i for i, span in enumerate(layout.spans) if span.token.number is not None]
    if len(numbered) < 2:
        return []
    return [
        i
        for i, span in enumerate(layout.spans)
        if span.token.key in layout.words.concluding and numbered[0] < i < numbered[-1]
    ]


def lone_noes(layout: Layout) -> list[int]:
    """Spans of a "no" between two numbers: "6 no 7"."""
    spans, words = layout.spans, layout.words
    return [
        i
        for i in range(1, len(spans) - 1)
        if words.alone.get(spans[i].token.key) == "no"
        and spans[i].first == spans[i].last
        and _numbered(layout, i - 1)
        and spans[i + 1].token.number is not None
    ]


def _numbered(layout: Layout, place: int) -> bool:
    """Whether a number stands at the span `place`, or before a hedge or correction there: "11 I think", "11. Sorry"."""
    while place and (layout.spans[place].of("hedge") or layout.spans[place].of("correction")):
        place -= 1
    return layout.spans[place].token.number is not None


def turns(layout: Layout, place: int) -> bool:
    """Whether what stands behind takes the place of what stands before."""
    span = layout.spans[place]
    return span.of("correction") is not None or span.token.key in layout.words.concluding
