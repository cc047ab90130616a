"""Commands and small talk: the words that work at any moment, and which question they are about.

Decided here and nowhere else: a message that is a command and nothing else is that command, whatever else it might
mean; a command inside a longer message never hides the facts beside it.
"""

from dataclasses import dataclass

from rapidfuzz import process
from rapidfuzz.distance import OSA

from triagebot.conversation.understanding.scene import Scene
from triagebot.conversation.understood import Command

#: These are said together with facts and mean something still; the others are dropped beside facts.
BESIDE_FACTS: frozenset[Command] = frozenset({"person", "how", "why"})
#: Commands that another reading of the same words goes before (a plain yes may be an answer).
SOFT: frozenset[Command] = frozenset({"yes", "no", "greeting", "thanks", "resume"})
#: Longest message, in words, in which a slip of the finger may hide a command.
SLIP_WORDS = 3


@dataclass(frozen=True, slots=True)
class Said:
    """A command, the question it names, and the span where it begins (-1: it is the whole message)."""

    command: Command
    target: str | None = None
    place: int = -1


def whole(scene: Scene) -> Said | None:
    """The command that the whole message is, letter for letter, fillers and a question's name aside."""
    alone = scene.words.alone
    tokens = [t for t in scene.tokens if t.kind != "mark"]
    if not tokens:
        marks = set(scene.plain.text) - {" "}
        command = alone.get(marks.pop()) if len(marks) == 1 else None
        return Said(command) if command else None
    if len(tokens) > 12:
        return None
    said = " ".join(t.key for t in tokens)
    if said in alone:
        return Said(alone[said])
    fillers = scene.words.fillers
    first, last = 0, len(tokens)
    while first < last - 1 and tokens[first].key in fillers:
        first += 1
        if (shorter := " ".join(t.key for t in tokens[first:last])) in alone:
            return Said(alone[shorter])
    first = 0
    while first < last - 1 and tokens[last - 1].key in fillers:
        last -= 1
        if (shorter := " ".join(t.key for t in tokens[:last])) in alone:
            return Said(alone[shorter])
    return _about(scene)


def _about(scene: Scene) -> Said | None:
    """ "change spin", "how size", "why the sprockets": a command of one word and a question's name."""
    named = [(i, m.subject) for i, span in enumerate(scene.spans) if (m := span.of("name") or span.of("noun"))]
    if not named or len(scene.spans) > 6:
        return None
    rest = [
        scene.key(t)
        for i, span in enumerate(scene.spans)
        if i != named[0][0]
        for t in range(span.first, span.last + 1)
        if scene.tokens[t].kind == "word"
    ]
    while len(rest) > 1 and rest[-1] in scene.words.fillers:
        rest.pop()
    while len(rest) > 1 and rest[0] in scene.words.fillers:
        rest.pop(0)
    command = scene.words.alone.get(" ".join(rest))
    if command is None or command in SOFT or command in ("back", "stop", "restart", "person"):
        return None
    return Said(command, named[0][1])


def within(scene: Scene) -> Said | None:
    """The first command that a phrase names, wherever it stands."""
    for place, span in enumerate(scene.spans):
        meaning = span.of("command")
        if meaning:
            return Said(meaning.subject, _target(scene, place), place)  # type: ignore[arg-type]
    return None


def _target(scene: Scene, place: int) -> str | None:
    """The question named nearest behind the command, else before it: by its name, its noun, or one of its choices."""
    spans = scene.spans
    own = spans[place]
    order = [*range(place + 1, len(spans)), *range(place - 1, -1, -1)]
    for kind in ("name", "choice", "noun", "mention"):
        for at in order:
            meaning = spans[at].of(kind)  # type: ignore[arg-type]
            if meaning and meaning.subject in scene.setting.questions:
                return meaning.subject
    return _measuring(scene, own.first, own.last)


def _measuring(scene: Scene, first: int, last: int) -> str | None:
    """ "How do I measure it?": the command's own words may name the question."""
    from triagebot.conversation.understanding.phrases import longest

    for place in range(first, last + 1):
        end, meanings = longest(scene.words.root, [scene.key(place)], 0, 1, [False], None, False)
        for meaning in meanings:
            if end and meaning.kind == "name" and meaning.subject in scene.setting.questions:
                return meaning.subject
    return None


def slipped(scene: Scene) -> Said | None:
    """A short message that is one slip away from a command: "hlep", "bakc", "retsart"."""
    words = [t.key for t in scene.tokens if t.kind == "word"]
    if not words or len(words) > SLIP_WORDS or any(t.number for t in scene.tokens):
        return None
    said = " ".join(words)
    if len(said) < 3 or len(said) > 40 or (len(words) == 1 and said in scene.words.never_mended):
        return None
    if len(words) == 1 and said in scene.words.vocabulary:
        return None
    slips = 1 if len(said) < 8 else 2
    known = [k for k in scene.words.alone if abs(len(k) - len(said)) <= slips and k[0] == said[0] and len(k) > 2]
    if len(said) < 4:
        known = [k for k in known if sorted(k) == sorted(said)]
    best = process.extractOne(said, known, scorer=OSA.distance, score_cutoff=slips)
    return None if best is None else Said(scene.words.alone[best[0]])
