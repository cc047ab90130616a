"""Commands and small talk: the words that work at any moment, and which question they are about.

Rules of this file: a message that is a command and nothing else is that command, whatever else it might
mean; a command inside a longer message never hides the facts beside it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from triagebot.conversation.understanding.layout import Layout, Span
from triagebot.conversation.understanding.phrases import Kind, PhraseMeaning, longest
from triagebot.conversation.understanding.tokens import Token
from triagebot.conversation.understanding.words import OTHER_TRADE
from triagebot.conversation.understood import Command

#: These are said together with facts and mean something still; the others are dropped beside facts.
BESIDE_FACTS: frozenset[Command] = frozenset({"person", "how", "why"})
#: Commands that another reading of the same words goes before (a plain yes may be an answer).
SOFT: frozenset[Command] = frozenset({"yes", "no", "greeting", "thanks", "resume"})
#: Commands that may be about one question.
POINTED: frozenset[Command] = frozenset({"how", "why", "change", "help"})
#: Longest message, in words, in which a slip of the finger may hide a command.
SLIP_WORDS = 3


@dataclass(frozen=True, slots=True)
class Said:
    """A command, the question it names, and the span where it begins (-1: it is the whole message)."""

    command: Command
    target: str | None = None
    place: int = -1


def whole(layout: Layout) -> Said | None:
    """The command that the whole message is, letter for letter, fillers and a question's name aside."""
    alone = layout.alone
    tokens = [t for t in layout.tokens if t.kind != "mark"]
    if not tokens:
        marks = set(layout.plain.text) - {" "}
        command = alone.get(marks.pop()) if len(marks) == 1 else None
        return Said(command) if command else None
    if len(tokens) > 12:
        return None
    said = " ".join(t.key for t in tokens)
    if said in alone:
        return _pointed(layout, alone[said])
    if (about := _about(layout)) is not None:
        return about
    if any(span.of("unsure") for span in layout.spans):
        return None
    if any((m := span.of("choice")) and m.subject == layout.setting.open_question for span in layout.spans):
        return None  # "at the back" is an answer
    if (named := _one_phrase(layout)) is not None:
        return named
    for rest in _without_fillers(layout, tokens):
        command = alone.get(" ".join(t.key for t in rest))
        at_an_end = rest[0] is tokens[0] or rest[-1] is tokens[-1]
        says_more = command in SOFT and (not at_an_end or _says_more(layout, tokens, rest))
        asked = any(t.key in layout.words.interrogatives for t in tokens if t not in rest)
        says_more |= command == "person" and asked  # "what will you call me", "do you know what you call me"
        says_more |= command in ("yes", "no") and rest[0] is tokens[0] and not answers_first(layout)
        if command is not None and not says_more:
            return _pointed(layout, command)
    return None


def _one_phrase(layout: Layout) -> Said | None:
    """The command that the whole message is in one phrase: "are you a real human" asks for none."""
    meaning = _command_of(layout.spans[0]) if len(layout.spans) == 1 else None
    command: Command | None = meaning.subject if meaning is not None else None  # type: ignore[assignment]
    return _pointed(layout, command) if command is not None and command not in SOFT else None


def _command_of(span: Span) -> PhraseMeaning | None:
    """The command of a phrase that means nothing off-topic as well: "call someone" may ask for a telephone."""
    return None if span.of("off-topic") else span.of("command")


def _as_typed(layout: Layout, token: Token) -> bool:
    """Whether a little word was typed so, and is no name taken for it: "call me mary"."""
    return token.number is not None or layout.plain.text[token.start : token.end].replace("'", "") == token.key


def _turned(layout: Layout, tokens: list[Token], place: int) -> bool:
    """Whether a little word says the opposite of what stands behind it or puts it off: "not done", "I do it later"."""
    words, key = layout.words, tokens[place].key
    if key in words.denials and words.alone.get(key) != "no":
        return True
    return tokens[place + 1].key in words.later and key not in words.opening_fillers


def _without_fillers(layout: Layout, tokens: list[Token]) -> Iterator[list[Token]]:
    """What is left of a message without the little words before it, without those behind it, or without either."""
    fillers = layout.words.fillers
    ahead, behind = 0, len(tokens)
    while ahead < len(tokens) - 1 and tokens[ahead].key in fillers and not _turned(layout, tokens, ahead):
        ahead += 1
        yield tokens[ahead:]
    while behind > ahead + 1 and tokens[behind - 1].key in fillers and _as_typed(layout, tokens[behind - 1]):
        behind -= 1
        yield tokens[:behind]
        yield tokens[ahead:behind]


def answers_first(layout: Layout) -> bool:
    """Whether what stands right behind the first word lets a yes or no end there: "no it ...", not "no rush"."""
    words, tokens = layout.words, layout.tokens
    if len(tokens) < 2 or tokens[1].clause != tokens[0].clause:
        return True
    behind = tokens[1].key
    opened = layout.setting.open_question
    next_to_it = [span for span in layout.spans if span.first == 1]
    joins = any(span.of("break") or span.of("negation") for span in next_to_it)
    joins |= any(meaning.subject == opened for span in next_to_it for meaning in span.meanings)
    small = words.subjects | words.denials | words.number_joints | words.opening_fillers
    return joins or behind in small or len(behind) == 1 or tokens[1].kind != "word"


def _says_more(layout: Layout, tokens: list[Token], rest: list[Token]) -> bool:
    """Whether what was left out of a message is a denial or a command of its own: "not sure", "wrong, go back"."""
    dropped = [t.key for t in tokens if t not in rest]
    return any(key in layout.words.denials for key in dropped) or " ".join(dropped) in layout.words.alone


def _pointed(layout: Layout, command: Command) -> Said:
    """The command, with the question that its own words name ("how do I measure it?")."""
    return Said(command, measuring(layout, 0, len(layout.tokens) - 1) if command in POINTED else None)


def _about(layout: Layout) -> Said | None:
    """ "change spin", "how size", "why the sprockets": a command of one word and a question's name."""
    named = [
        (i, m.subject)
        for i, span in enumerate(layout.spans)
        if (m := span.of("name") or span.of("choice") or span.of("noun"))
    ]
    if not named or len(layout.spans) > 6 or any(t.number for t in layout.tokens):
        return None
    rest = [
        layout.key(t)
        for i, span in enumerate(layout.spans)
        if i != named[0][0]
        for t in range(span.first, span.last + 1)
        if layout.tokens[t].kind == "word"
    ]
    while len(rest) > 1 and rest[-1] in layout.words.fillers:
        rest.pop()
    while len(rest) > 1 and rest[0] in layout.words.fillers:
        rest.pop(0)
    command = layout.words.alone.get(" ".join(rest))
    if command not in POINTED:
        return None
    by_name = next((m.subject for span in layout.spans if (m := span.of("name"))), None)
    return Said(command, by_name or measuring(layout, 0, len(layout.tokens) - 1) or named[0][1])


def only_a_name(layout: Layout) -> str | None:
    """The question that a message names and says nothing else, while none is open: "the spin test", "the size one"."""
    if layout.setting.open_question is not None or layout.setting.confirming or len(layout.tokens) > 8:
        return None
    named = [m.subject for span in layout.spans if (m := span.of("name"))]
    if any(span.of("choice") for span in layout.spans) and any(t.key in layout.words.linking for t in layout.tokens):
        return None
    little = layout.words.fillers | layout.words.picking
    others = (s for s in layout.spans if not (s.of("name") or s.of("hedge")))
    if len(named) != 1 or any(
        layout.key(t) not in little and not ((number := layout.tokens[t].number) and number.spelt and number.value == 1)
        for s in others
        for t in range(s.first, s.last + 1)
    ):
        return None
    return named[0] if named[0] in layout.setting.questions else None


def insists(layout: Layout) -> bool:
    """Whether somebody stands by what was said before: "I told you", "23 again, I'm sure"."""
    return any(span.of("insists") for span in layout.spans)


def withdrawn(layout: Layout) -> str | None:
    """The question whose answer is taken back without a new one: "I think I measured the locknut"."""
    subjects = (m.subject for span in layout.spans if (m := span.of("withdraw")))
    return next((subject for subject in subjects if subject in layout.setting.questions), None)


def within(layout: Layout) -> Said | None:
    """The first command that a phrase names, wherever it stands."""
    for place, span in enumerate(layout.spans):
        meaning = _command_of(span)
        if meaning:
            command: Command = meaning.subject  # type: ignore[assignment]
            return Said(command, _target(layout, place) if command in POINTED else None, place)
    return None


def _target(layout: Layout, place: int) -> str | None:
    """The question named nearest behind the command, else before it: by its name, by the command's own words
    ("how do I count"), by one of its choices, its noun or a mention."""
    spans = layout.spans
    own = spans[place]
    order = [*range(place + 1, len(spans)), *range(place - 1, -1, -1)]

    def named(kind: Kind) -> str | None:
        subjects = (meaning.subject for at in order if (meaning := spans[at].of(kind)))
        return next((subject for subject in subjects if subject in layout.setting.questions), None)

    own_words = measuring(layout, own.first, own.last)
    return named("name") or own_words or named("choice") or named("noun") or named("mention")


def measuring(layout: Layout, first: int, last: int) -> str | None:
    """ "How do I measure it?": the command's own words may name the question."""
    for place in range(first, last + 1):
        end, meanings = longest(layout.words.root, [layout.key(place)], 0, 1, [False], None, False)
        named = [m.subject for m in meanings if m.kind == "name" and m.subject in layout.setting.questions]
        if end and named:
            opened = layout.setting.open_question
            return opened if opened in named else named[0]
    return None


def of_other_trades(layout: Layout) -> bool:
    """Whether the business of another trade is named: nobody of this shop can help with a flight."""
    return any(m.value == OTHER_TRADE for span in layout.spans for m in span.meanings if m.kind == "off-topic")


def of_a_clause(layout: Layout) -> Said | None:
    """The command that one clause of a longer message is: "that's enough, bye"; greetings last."""
    clauses: dict[int, list[str]] = {}
    for token in layout.tokens:
        if token.kind != "mark":
            clauses.setdefault(token.clause, []).append(token.key)
    runs = [run for keys in clauses.values() for run in _runs(layout, keys) if run not in layout.words.whole_only]
    found = [layout.words.alone[run] for run in runs if run in layout.words.alone]
    found = [command for command in found if command not in ("yes", "no")]
    told = [c for c in found if c not in SOFT] or found
    # "wrong button, start over": going back is what the mishap alone asks for
    command = next((c for c in told if c != "back"), told[0] if told else None)
    return None if command is None else Said(command)


def _runs(layout: Layout, keys: list[str]) -> list[str]:
    """A clause as it is, and without fillers behind it or a plain yes before it ("ok bye then")."""
    short = keys[1:] if layout.words.agreeing.get(keys[0]) in SOFT else keys
    while len(short) > 1 and short[-1] in layout.words.fillers:
        short = short[:-1]
    return [" ".join(keys), " ".join(short)]


def slipped(layout: Layout) -> Said | None:
    """A short message that is one slip away from a command: "hlep", "bakc", "retsart"."""
    words = [t.key for t in layout.tokens if t.kind == "word"]
    if not words or len(words) > SLIP_WORDS or any(t.number for t in layout.tokens):
        return None
    said = " ".join(words)
    if any(word in layout.words.denials for word in words):
        return None  # "i can't" is no slip of "i can"
    if len(said) < 3 or len(said) > 40 or (len(words) == 1 and layout.words.common(said)):
        return None
    if len(words) == 1 and said in layout.words.vocabulary:
        return None
    slips = 1 if len(said) < 8 else 2
    known = [k for k in layout.words.alone_with(said[0]) if abs(len(k) - len(said)) <= slips and len(k) > 2]
    if len(said) < 4:
        known = [k for k in known if sorted(k) == sorted(said)]
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    best = process.extractOne(said, known, scorer=OSA.distance, score_cutoff=slips)
    meant = str(best[0]).split() if best is not None else []
    apart = len(meant) == len(words) and any(OSA.distance(*pair) > 1 for pair in zip(words, meant, strict=True))
    if best is None or apart:
        return None  # "call home" is no slip of "call me"
    return Said(layout.words.alone[str(best[0])])
