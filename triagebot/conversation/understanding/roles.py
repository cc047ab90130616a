"""Which question each number of a message belongs to.

Rules of this file (the first that fits wins): a number in front of something else (years, euros, a tyre) is not
about the part; one with a unit of length is a size; one beside a noun counts or measures that; a bare one right
after a correction takes the place of the number before it; a bare one answers the open question.
"""

from collections.abc import Iterable
from dataclasses import replace

from triagebot.conversation.understanding.joining import Quantity, Role, is_light
from triagebot.conversation.understanding.layout import SMALL, Layout, Span, looks_like_code
from triagebot.conversation.understanding.parts_of_wholes import share_of, span_at, without_some_of_them
from triagebot.conversation.understanding.phrases import longest
from triagebot.conversation.understanding.results import concluding, results, turns

#: From a noun back to its number or on to it, this many words may stand between ("splines: about 12").
REACH = 3
#: What owns a number stands at most this many words before it.
FAR = 16
#: Years, where no unit stands behind.
_YEARS = range(1900, 2100)
_CURRENCY = frozenset("$\u20ac\u00a3\u00a5")
#: More bare numbers than this in a message are not an answer.
MOST_BARE = 4
#: Beside this many words that say something else at most, a bare number answers the open question.
STRAY = 1


def with_roles(layout: Layout, found: list[Quantity]) -> list[Quantity]:
    """The numbers with their roles, and the question of those that belong to one."""
    nouns_used: set[int] = set()
    placed: list[Quantity] = []
    for index, quantity in enumerate(found):
        taken = _with_noun(layout, quantity, found, index, nouns_used)
        if taken.noun is not None:
            nouns_used.add(taken.noun)
        placed.append(taken)
    placed = [replace(q, share=share_of(layout, q)) for q in placed]
    return _bare(layout, without_some_of_them(layout, placed))


def _with_noun(layout: Layout, q: Quantity, found: list[Quantity], index: int, nouns_used: set[int]) -> Quantity:
    if q.role == "noun":
        return q
    if _is_elsewhere(layout, q) or _of_more(layout, q):
        return replace(q, role="elsewhere")
    if q.unit is not None:
        return replace(q, role="elsewhere" if _owner(layout, q) else "length")
    if q.shy and layout.key(layout.spans[q.first].first - 1) in layout.words.pointing:
        return q
    within = (at for at in range(q.first + 1, q.last) if q.either and _noun(layout, layout.spans[at]) is not None)
    if (place := next(within, None)) is not None:  # "12 splines or 13"
        return _bound(layout, q, str(_noun(layout, layout.spans[place])), place)
    stop = found[index + 1].first if index + 1 < len(found) else len(layout.spans)
    behind = _with_noun_behind(layout, q, found, min(stop, q.last + (2 if q.shy else 1 + REACH)), nouns_used)
    if behind is not None or q.shy:
        return behind or q
    if _owner(layout, q):
        return replace(q, role="elsewhere")
    return _with_noun_before(layout, q, found[index - 1].last if index else -1, nouns_used)


def _is_elsewhere(layout: Layout, q: Quantity) -> bool:
    """Whether what stands beside the number, or its size, says that it is not about the part."""
    before, after = span_at(layout, q, q.first - 1), span_at(layout, q, q.last + 1)
    if before is not None and before.token.key in _CURRENCY:
        return True
    if q.unit is None and q.value in _YEARS and q.step == 1.0:
        return True
    anothers = after is not None and not after.of("noun") and (after.of("elsewhere") or after.of("other"))
    return bool(anothers) or _asked_about(layout, q)


def _with_noun_behind(
    layout: Layout, q: Quantity, found: list[Quantity], stop: int, nouns_used: set[int]
) -> Quantity | None:
    for place in range(q.last + 1, stop):
        span = span_at(layout, q, place)
        if span is None or place in nouns_used or span.of("break") or span.of("correction"):
            return None
        if (meaning := _noun(layout, span, q.shy, q.step >= 1)) is not None:
            borrowed = not any(m.kind == "noun" and not m.when_open for m in span.meanings)
            if borrowed and (named := _noun_before(layout, q, found)) is not None:
                return replace(q, role="noun", question=named)
            if _measures(layout, meaning) and _is_of_the_next(layout, q, found, place):
                return None
            beyond = span_at(layout, q, place + 1)
            counted = _noun(layout, beyond) if beyond is not None and place + 1 not in nouns_used else None
            # "4 broad slots", "8 of them cogs"
            if counted is not None and counted != meaning and (borrowed or _measures(layout, meaning)):
                return _bound(layout, q, counted, place + 1)
            return _bound(layout, q, meaning, place)
        if _parts(layout, q, place):
            return None
    return None


def _is_of_the_next(layout: Layout, q: Quantity, found: list[Quantity], noun: int) -> bool:
    """Whether a noun leads to the number behind it: "12, and the size on the calliper is 21.8"."""
    later = next((each for each in found if each.first > noun), None)
    if later is not None and later.first == noun + 1:
        return later.unit is not None  # "12 and it measures 23 mm"
    spans = [] if later is None else [span_at(layout, q, place) for place in range(noun + 1, later.first)]
    return any(span is not None and span.token.key in layout.words.linking for span in spans) and all(
        span is not None and not (span.of("break") or span.of("correction") or span.of("noun")) for span in spans
    )


def _with_noun_before(layout: Layout, q: Quantity, floor: int, nouns_used: set[int]) -> Quantity:
    for place in range(q.first - 1, max(q.first - 2 - REACH, floor), -1):
        span = span_at(layout, q, place)
        if span is None or place in nouns_used or span.of("break") or span.of("correction"):
            break
        if (meaning := _noun(layout, span) or _name(layout, span)) is not None:
            borrowed = all(m.when_open for m in span.meanings if m.kind == "noun")
            if borrowed and floor >= 0 and any(floor < start <= place for start in results(layout)):
                break  # "I told you 8 sprockets but it's 9"
            if _measures(layout, meaning) and _is_counted(layout, q):
                continue  # "miscounted the splines, it's 20"
            return _bound(layout, q, meaning, place)
        if span.meanings and not (span.of("hedge") or span.of("joint") or span.of("choice")):
            break
    return q


def _is_counted(layout: Layout, q: Quantity) -> bool:
    """Whether the number stands where something was counted."""
    clause = layout.spans[q.first].clause
    said = {token.key for token in layout.tokens if token.clause == clause}
    return q.step >= 1 and q.unit is None and not layout.words.counting.isdisjoint(said)


def _measures(layout: Layout, question: str) -> bool:
    return layout.setting.questions[question].kind == "size"


def _asked_about(layout: Layout, q: Quantity) -> bool:
    """ "Is 12 normal?": a question word, the number, and more than what is counted behind."""
    before = span_at(layout, q, q.first - 1)
    if before is None or before.token.key not in layout.words.asking or before.first != before.last:
        return False
    lead = span_at(layout, q, q.first - 2)
    joints = layout.words.number_joints  # "... and is 24 mm" goes on
    beginning = layout.words.opening_fillers - joints
    if lead is not None and (lead.meanings or lead.token.key not in beginning):
        return False
    after = span_at(layout, q, q.last + 1)
    return (
        after is not None
        and not after.meanings
        and after.token.kind == "word"
        and (after.token.key not in layout.words.number_joints)
    )


def _of_more(layout: Layout, q: Quantity) -> bool:
    """Whether it is only a part of the number behind it: "3 of the 12 splines"."""
    of, article, number = (span_at(layout, q, q.last + step) for step in (1, 2, 3))
    if of is None or article is None or of.token.key != "of":
        return False
    return article.token.number is not None or (number is not None and number.token.number is not None)


def _parts(layout: Layout, q: Quantity, place: int) -> bool:
    """Whether the span at `place` parts the number from a noun behind it."""
    span = layout.spans[place]
    if span.meanings and not any(span.of(kind) for kind in ("hedge", "joint", "choice", "counter")):
        return True
    if span.of("joint") and span.token.key not in layout.words.fillers:
        return True
    linked = layout.spans[place - 1].token.key in layout.words.number_joints
    return span.token.kind == "word" and not span.meanings and place > q.last + 1 and not linked


def _owner(layout: Layout, q: Quantity) -> bool:
    """Whether the number is another thing's: "the box has 12", "my wheel nuts are 15 mm"."""
    linked = False
    for place in range(q.first - 1, max(q.first - 1 - FAR, -1), -1):
        span = span_at(layout, q, place)
        if span is None or span.of("break") or span.of("correction"):
            return False
        key = span.token.key
        if span.of("other") or span.of("ignore") or (linked and span.of("gauge")):
            return True  # "a 1 euro coin is 23.25 mm"
        if key in layout.words.linking:
            linked = True
        elif key in layout.words.subjects or (span.meanings and not (span.of("hedge") or span.of("joint"))):
            return False
        elif not span.meanings and span.token.kind == "word" and key not in layout.words.fillers:
            return linked and key not in layout.words.vocabulary
    return False


def _noun(layout: Layout, span: Span, shy: bool = False, whole: bool = True) -> str | None:
    """What a number beside the span counts; a `shy` one needs the open question for nouns that hold only then, and one
    that is not whole counts nothing."""
    opened = layout.setting.open_question
    nouns = [m for m in span.meanings if m.kind == "noun" and not (shy and m.when_open and m.subject != opened)]
    if not whole:
        nouns = [m for m in nouns if m.subject in layout.setting.questions and _measures(layout, m.subject)] or nouns
    meaning = next((m for m in nouns if m.subject == opened), nouns[0] if nouns else None)
    return meaning.subject if meaning and meaning.subject in layout.setting.questions else None


def _name(layout: Layout, span: Span) -> str | None:
    named = [m for m in span.meanings if m.kind == "name"]
    meaning = next((m for m in named if m.subject == layout.setting.open_question), named[0] if named else None)
    question = layout.setting.questions.get(meaning.subject) if meaning else None
    return question.id if question and question.kind != "choice" else None


def _bound(layout: Layout, q: Quantity, question: str, place: int) -> Quantity:
    keys = {layout.key(t) for t in range(layout.spans[place].first, layout.spans[place].last + 1)}
    total = bool(keys & layout.words.totals.get(question, frozenset()))
    return replace(q, role="noun", question=question, noun=place, total=total)


def _bare(layout: Layout, placed: list[Quantity]) -> list[Quantity]:
    setting = layout.setting
    corrections = [i for i, span in enumerate(layout.spans) if span.of("correction")]
    corrections += results(layout)
    answers_open = setting.open_kind in ("count", "size") and not looks_like_code(layout)
    taken = (
        sum(q.role == "loose" for q in placed) > MOST_BARE
        or any(q.question == setting.open_question for q in placed)
        or (setting.open_kind == "size" and any(q.role == "length" for q in placed))
    )
    if setting.open_kind == "size":
        placed = _decimal_first(placed)
    result: list[Quantity] = []
    for q in placed:
        before = result[-1] if result else None
        corrected = before is not None and any(before.last < c <= q.first for c in corrections)
        if q.role != "loose" or (q.shy and not (_is_whole_thought(layout, q) or _corrects_alone(layout, q, before))):
            result.append(q)
        elif corrected and before is not None and before.role in ("length", "noun", "bare"):
            role: Role = "length" if before.role == "length" else "noun"
            result.append(replace(q, role=role, question=before.question, unit=before.unit, total=before.total))
        elif (noun := _noun_before(layout, q, placed)) not in (None, setting.open_question) and _more_behind(layout, q):
            result.append(replace(q, role="noun", question=noun))
        elif answers_open and (not taken or corrected) and _stray(layout, q) <= STRAY:
            result.append(replace(q, role="bare", question=setting.open_question))
        elif (noun := _noun_before(layout, q, placed)) is not None:
            result.append(replace(q, role="noun", question=noun))
        else:
            result.append(q)
    # A number before a correction belongs to the noun behind the one that corrects it: "12 no wait 11 splines".
    for at, q in enumerate(result[:-1]):
        later = result[at + 1]
        if (
            q.role in ("loose", "bare")
            and later.noun is not None
            and any(q.last < c < later.first for c in corrections)
        ):
            result[at] = replace(q, role="noun", question=later.question)
        side_by_side = later.first - q.last == 2 and is_light(layout, q.last + 1)
        if q.role in ("loose", "bare") and later.role == "length" and side_by_side:
            result[at] = replace(q, role="length", unit=later.unit)
    return result


def _decimal_first(placed: list[Quantity]) -> list[Quantity]:
    """ "fw 12 22.5": of two numbers alone the one with a decimal is the size."""
    loose = [q for q in placed if q.role == "loose"]
    if len(loose) != 2 or (loose[0].step < 1) == (loose[1].step < 1):
        return placed
    return [replace(q, role="elsewhere") if q in loose and q.step >= 1 else q for q in placed]


def _is_whole_thought(layout: Layout, q: Quantity) -> bool:
    """Whether nothing but words that introduce a number stands beside it: "there's one", "just the one"."""
    clause = layout.spans[q.first].clause
    if layout.key(layout.spans[q.first].first - 1) in layout.words.pointing:
        return False
    rest = [s for i, s in enumerate(layout.spans) if s.clause == clause and not q.first <= i <= q.last]
    return all(s.of("hedge") or s.token.key in layout.words.introducing for s in rest)


def _corrects_alone(layout: Layout, q: Quantity, before: Quantity | None) -> bool:
    """Whether it ends a thought that corrects the number before it: "two, sorry, I mean one", "I said two but it's
    one"."""
    spans, clause = layout.spans, layout.spans[q.first].clause
    if before is None or any(s.clause == clause for s in spans[q.last + 1 : q.last + 2]):
        return False
    told = any(token.key in layout.words.earlier for token in layout.tokens[: spans[q.first].first])
    for span in reversed(spans[before.last + 1 : q.first]):
        if span.of("correction") or (told and span.token.key in layout.words.turning):
            return True
        if span.clause == clause and span.token.key not in layout.words.introducing:
            return False
    return False


def _stray(layout: Layout, q: Quantity) -> int:
    """How many words that say something else stand beside the number, up to where another thought begins."""
    words, spans = layout.words, layout.spans

    def strays(places: Iterable[int]) -> int:
        count = 0
        for place in places:
            span = spans[place]
            if span.clause != spans[q.first].clause or span.of("break") or turns(layout, place):
                break
            if place > q.last and span.token.key in words.adding and layout.key(span.last + 1) in words.beginning:
                break  # "counted 20 and she's got better eyes"
            key = span.token.key
            if (
                span.meanings
                or span.token.kind not in ("word", "junk")
                or key in words.fillers
                or key in words.introducing
                or key in words.units
            ):
                continue
            count += key not in words.subjects and words.alone.get(key) not in SMALL
        return count

    before = range(q.first - 1, -1, -1)
    if any(i < q.first for i in concluding(layout)):
        return strays(before)
    behind = range(q.last + 1, len(spans))
    leading = words.opening_fillers | words.pronouns | words.linking
    if all(not spans[i].meanings and spans[i].token.key in leading for i in range(q.first)):
        # "twelve i put a bit of tape where i started", "12 with my reading glasses on"
        tells = behind and spans[behind[0]].token.key in words.tellers | words.circumstances
        behind = range(0) if tells else behind
    return strays(before) + strays(behind)


def _more_behind(layout: Layout, q: Quantity) -> bool:
    """Whether little words follow the number: "splines, 12 of them"."""
    after = span_at(layout, q, q.last + 1)
    return after is not None and after.token.kind == "word"


def _noun_before(layout: Layout, q: Quantity, placed: list[Quantity]) -> str | None:
    """What a number alone in its clause counts: the noun of the clause before ("fine splines, about 20")."""
    if q.value % 1:
        return None
    clause = layout.spans[q.first].clause
    for place, span in enumerate(layout.spans):
        if span.clause == clause and place > q.last and span.token.key in layout.words.adding:
            break  # "7 of them and the wheel is out already"
        if span.clause == clause and not q.first <= place <= q.last:
            borrowed = span.of("noun") is not None and all(m.kind == "noun" and m.when_open for m in span.meanings)
            little = (
                borrowed
                or span.of("counter") is not None
                or (not span.meanings and span.token.key in layout.words.fillers)
            )
            if not little and not span.of("hedge") and not span.of("means"):
                return None
    nouns = [s for s in layout.spans[: q.first] if s.clause == clause - 1]
    named = [noun for span in nouns if (noun := _noun(layout, span) or _noun_at_the_end(layout, span)) is not None]
    if len(set(named)) != 1 or any(other.question == named[0] for other in placed):
        return None
    return None if any(s.of("negation") or s.of("unsure") for s in nouns) else named[0]


def _noun_at_the_end(layout: Layout, span: Span) -> str | None:
    """What is counted in a longer phrase, the last of it: "take off my rear sprockets", "get the cogs off my", "the
    sprockets are worn out"."""
    if (span.of("mention") is None and span.of("ignore") is None) or span.first == span.last:
        return None
    keys = [layout.key(place) for place in range(span.last, span.first - 1, -1)]
    opened = layout.setting.open_question
    named = (m for key in keys for m in longest(layout.words.root, [key], 0, 1, [False], opened, False)[1])
    return next((m.subject for m in named if m.kind == "noun" and m.subject in layout.setting.questions), None)
