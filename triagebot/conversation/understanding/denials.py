"""How far a denial reaches: "no notches", "I don't think it turns", "can't do that yet, the wheel is in".

Rules of this file: which denial before a phrase denies it, and where a new statement ends its reach.
"""

from triagebot.conversation.understanding.layout import Layout, Span

#: How many words before a phrase a denial may stand: "no" close by, "not" further off.
NEAR, FAR = 2, 6


def denied_by(layout: Layout, place: int) -> int | None:
    """The span that denies the one at `place`: "no notches", "I don't think it turns", "no splines or notches"."""
    spans = layout.spans
    target = spans[place]
    if target.first != target.last and target.token.key in layout.words.handling:
        return None
    if place and _is_zero(spans[place - 1]) and spans[place - 1].clause == target.clause:
        return place - 1
    for back in range(place - 1, -1, -1):
        span = spans[back]
        if span.clause != target.clause or span.of("break") or span.of("correction"):
            return None
        distance = target.first - span.last
        if distance > FAR or span.token.key in layout.words.handling:
            return None  # "can't get the nuts off": there are nuts
        negation = span.of("negation")
        if negation is not None and (_begins_afresh(layout, back) or _answers_only(layout, back, place)):
            return None
        if negation is not None and _stands_by_itself(layout, back, place):
            return None
        if negation is not None:
            return back if distance <= (NEAR if negation.subject == "near" else FAR) else None
        if span.of("choice"):
            if not _joined(layout, back, place):
                return None
            target, place = span, back
    return None


def _is_zero(span: Span) -> bool:
    """ "Zero splines" denies them."""
    return span.token.number is not None and span.token.number.value == 0 and not span.meanings


def _begins_afresh(layout: Layout, place: int) -> bool:
    """Whether this "no" is an answer of its own with a statement behind it: "no the pedals always go round"."""
    words, span = layout.words, layout.spans[place]
    if words.alone.get(span.token.key) != "no" or span.first != span.last:
        return False
    return place + 1 < len(layout.spans) and layout.spans[place + 1].token.key in words.subjects


def _answers_only(layout: Layout, place: int, target: int) -> bool:
    """Whether this "no" answers and what follows says so again: "no, not yet", "no can't coast", "no sir it is in"."""
    words, span = layout.words, layout.spans[place]
    if words.alone.get(span.token.key) != "no" or span.first != span.last:
        return False
    first = layout.spans[target].token.key
    return first in words.subjects or first in words.denials or answers_by_itself(layout, span.first)


def answers_by_itself(layout: Layout, place: int) -> bool:
    """Whether the "no" at the token `place` begins its thought and one that tells how it is stands right behind: "no
    goes round with the cogs", "nope stands still"."""
    words, tokens = layout.words, layout.tokens
    begin = place
    while begin and tokens[begin - 1].clause == tokens[place].clause:
        begin -= 1
        if tokens[begin].key not in words.opening_fillers:
            return False
    if words.alone.get(tokens[place].key) != "no":
        return False
    behind = layout.key(place + 1) if clause_goes_on(layout, place) else ""
    only_answers = tokens[place].key not in words.denials  # nobody says "nope splines" of splines that are not there
    return only_answers or behind in words.predicates or behind in words.denials


def clause_goes_on(layout: Layout, place: int) -> bool:
    """Whether another token of the same clause stands behind the one at `place`."""
    tokens = layout.tokens
    return place + 1 < len(tokens) and tokens[place + 1].clause == tokens[place].clause


def _stands_by_itself(layout: Layout, denial: int, target: int) -> bool:
    """Whether what is denied ends before a statement with a verb of its own: "can't do that yet wheel is still in"."""
    words, span = layout.words, layout.spans[target]
    keys = [layout.key(place) for place in range(span.first, span.last + 1)]
    between = {layout.key(place) for place in range(layout.spans[denial].first, span.first)}
    if keys[0] in words.linking:
        own_verb = layout.spans[target - 1].of("name") is not None
    else:
        own_verb = not words.linking.isdisjoint(keys[1:]) or _goes_on(layout, span)
    places = range(layout.spans[denial].first, span.first)
    named = words.articles | {"my"}
    afresh = any(layout.key(at) in words.pronouns and layout.key(at + 1) in named for at in places)
    return (own_verb or afresh) and len(between) > 1 and words.opining.isdisjoint(between)


def _goes_on(layout: Layout, span: Span) -> bool:
    """Whether it tells how the thing named right before it still is: "can't do it wheel still in the bike"."""
    words, before, key = layout.words, layout.key(span.first - 1), span.token.key
    lasts = key in words.subjects and key not in words.articles and key not in words.pronouns
    little = (words.subjects, words.denials, words.fillers, words.linking)
    return lasts and (before in words.articles or not any(before in row for row in little))


def _joined(layout: Layout, before: int, after: int) -> bool:
    """Whether two phrases belong to one list: nothing but `or`, `nor`, `any` and the like between them."""
    between = layout.spans[before + 1 : after]
    return bool(between) and len(between) <= 2 and any(s.of("joint") or s.of("negation") for s in between)
