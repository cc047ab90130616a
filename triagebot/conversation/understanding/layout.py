"""One message laid out for reading: its tokens, and the phrases found in them from left to right."""

import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from triagebot.conversation.understanding.dictation import heard
from triagebot.conversation.understanding.lexicon import Scope
from triagebot.conversation.understanding.normalise import Plain, goes_on, plain
from triagebot.conversation.understanding.number_words import tokenise
from triagebot.conversation.understanding.phrases import Kind, PhraseMeaning, longest
from triagebot.conversation.understanding.scope import scopes
from triagebot.conversation.understanding.tokens import Token
from triagebot.conversation.understanding.words import Words
from triagebot.conversation.understood import Command
from triagebot.topics.schema import Question

#: These said in one word say nothing more about anything.
SMALL = frozenset({"yes", "no", "greeting", "thanks"})
#: A message of at most this many words is short: one loose word may then answer the open question.
SHORT = 4
#: A word that ends a correction stands at most this many behind the "but" that begins it.
CORRECTION = 4
#: So is a clause of at most this many.
CURT = 2

#: What looks like program code or mark-up is not counting.
_CODE = frozenset("<>{}=\\")
_CALL = re.compile(r"[a-z_]\(\w*\)")


@dataclass(frozen=True, slots=True)
class Setting:
    """Where the conversation stands when a message comes in.

    `questions` by id in flow order; `choices` and `labels` as shown, numbered from 1 (empty for counts and sizes);
    `makers`: the shop's folded words for makers, each a choice of the makers' question; `gauges` in mm;
    `confirming`: a "did you mean ...?" is open; `answered`: the questions of which something is known; `begun`: a wheel
    is being spoken of, so that one at home is another ("my son's bike has 6 cogs").
    """

    words: Words
    questions: Mapping[str, Question]
    open_question: str | None
    choices: tuple[str, ...]
    labels: tuple[str, ...]
    makers: Mapping[str, str]
    gauges: Mapping[str, float]
    confirming: bool
    answered: frozenset[str] = frozenset()
    begun: bool = True

    @property
    def open_kind(self) -> str | None:
        """`choice`, `count`, `size`, or None when nothing is asked."""
        question = self.questions.get(self.open_question or "")
        return question.kind if question else None


@dataclass(frozen=True, slots=True)
class Span:
    """Tokens `first` to `last` (inclusive) and what they stand for; no meanings: a word unknown or a number alone."""

    first: int
    last: int
    clause: int
    meanings: tuple[PhraseMeaning, ...]
    token: Token

    def of(self, kind: Kind) -> PhraseMeaning | None:
        """Its first meaning of that kind."""
        for meaning in self.meanings:
            if meaning.kind == kind:
                return meaning
        return None


@dataclass(frozen=True, slots=True)
class Layout:
    """A message and its setting."""

    setting: Setting
    plain: Plain
    tokens: tuple[Token, ...]
    spans: tuple[Span, ...]
    scopes: tuple[Scope, ...]
    strange: Mapping[int, int]
    stray: Mapping[int, int]
    """By clause: words that no table knows, and words that say something but belong to no phrase."""

    @property
    def words(self) -> Words:
        return self.setting.words

    @property
    def alone(self) -> Mapping[str, Command]:
        """What is a command when it is all that is said: "ok" only where nothing is asked or to be confirmed."""
        asked = self.setting.open_question is not None and not self.setting.confirming
        return self.words.alone if asked else self.words.agreeing

    def quote(self, first: int, last: int) -> str:
        """The person's own words from token `first` to token `last`."""
        return self.plain.own_words(self.tokens[first].start, self.tokens[last].end)

    def key(self, place: int) -> str:
        """Key of the token at `place`; empty outside the message."""
        return self.tokens[place].key if 0 <= place < len(self.tokens) else ""


def lay_out(text: str, setting: Setting) -> Layout:
    """Tokens and phrases of a message: a longer phrase goes before one that begins earlier. Never raises."""
    words = setting.words
    folded = plain(text)
    tokens = tuple(tokenise(folded, words))
    if tokens and goes_on(folded, tokens[-1].end):
        folded = replace(folded, cut=True)
    ends = clause_ends(tokens)
    tokens = _with_numbers_heard(tokens, ends, setting)
    keys = [token.key for token in tokens]
    numbers = [token.number is not None for token in tokens]
    spoken = scopes(tokens, folded, words, setting.begun and setting.open_question is not None)
    short = _short_clauses(tokens, spoken)
    behind = _behind_corrections(tokens, ends, words)
    beside = words.beside.get(setting.open_question or "", frozenset())
    hidden = words.covers.get(setting.open_question or "", frozenset())
    apart = {word for question in hidden for word in words.uncovers.get(question, ())}
    most = words.covers_most.get(setting.open_question or "", math.inf)
    named_apart = {t.clause for t in tokens if t.key in apart or (t.number is not None and t.number.value > most)}
    found: dict[int, tuple[int, tuple[PhraseMeaning, ...]]] = {}

    def up_to(place: int, end: int) -> tuple[int, tuple[PhraseMeaning, ...]]:
        alone = tokens[place].clause in short or place in behind or _led(tokens, place, setting)
        alone = alone or _corrects(tokens, ends, place, words)
        if tokens[place].clause in named_apart:
            return longest(words.root, keys, place, end, numbers, None, alone)
        opened = setting.open_question
        return longest(words.root, keys, place, end, numbers, opened, alone, beside=beside, hidden=hidden)

    def at(place: int) -> tuple[int, tuple[PhraseMeaning, ...]]:
        if place not in found:
            found[place] = _maker(tokens, place, setting) or up_to(place, ends[place])
        return found[place]

    spans: list[Span] = []
    place = 0
    while place < len(tokens):
        end, meanings = at(place)
        if any(at(inner)[0] - inner > end - place for inner in range(place + 1, end)):
            end, meanings = up_to(place, place + 1)  # what is left of it is read by itself
        end = max(end, place + 1)
        spans.append(Span(place, end - 1, tokens[place].clause, meanings, tokens[place]))
        place = end
    strange, stray = _strangers(tokens, spans, words)
    return Layout(setting, folded, tokens, tuple(spans), spoken, strange, stray)


def _short_clauses(tokens: tuple[Token, ...], spoken: tuple[Scope, ...]) -> frozenset[int]:
    """The clauses in which one loose word may answer the open question: all of a short message, else the shortest of
    one that speaks of nothing but this wheel."""
    words = Counter(token.clause for token in tokens if token.kind != "mark")
    whole = words.total() <= SHORT
    own = all(scope in ("own", "tentative") for scope in spoken)
    first = tokens[0].clause if tokens else 0
    leads = all(s == "own" for t, s in zip(tokens, spoken, strict=True) if t.clause == first)
    return frozenset(
        clause for clause, count in words.items() if whole or (count <= CURT and (own or (leads and clause == first)))
    )


def _with_numbers_heard(tokens: tuple[Token, ...], ends: list[int], setting: Setting) -> tuple[Token, ...]:
    words = setting.words
    if not any(token.key in words.heard for token in tokens):
        return tokens
    keys = [token.key for token in tokens]
    numbers = [token.number is not None for token in tokens]

    def phrase_at(place: int) -> tuple[PhraseMeaning, ...]:
        return longest(words.root, keys, place, ends[place], numbers, setting.open_question, False)[1]

    return heard(tokens, words, setting.open_kind == "count", phrase_at)


def _led(tokens: tuple[Token, ...], place: int, setting: Setting) -> bool:
    """Whether the token is a number or stands right behind one, or behind a denial of what may be counted: "4 gaps",
    "no teeth"."""
    if tokens[place].number is not None:
        return True
    before = tokens[place - 1] if place else None
    if before is None or before.clause != tokens[place].clause:
        return False
    denied = setting.open_question in setting.words.counted and _denied_before(tokens, place, setting.words)
    return before.number is not None or denied


def _denied_before(tokens: tuple[Token, ...], place: int, words: Words) -> bool:
    """Whether a denial stands before the token, with nothing but little words between: "I don't see any teeth"."""
    for back in range(place - 1, max(place - 1 - CORRECTION, -1), -1):
        if tokens[back].clause != tokens[place].clause:
            return False
        if tokens[back].key in words.denials:
            return True
        if tokens[back].key not in words.fillers:
            return False
    return False


def _corrects(tokens: tuple[Token, ...], ends: list[int], place: int, words: Words) -> bool:
    """Whether the token ends what stands in the place of something said or thought before: "I said coasts but no its
    fixed"."""
    if ends[place] - place > 1:
        return False
    near = range(place, max(place - CORRECTION, 0) - 1, -1)
    begin = next((at for at in near if tokens[at].key in words.turning), None)
    return begin is not None and any(token.key in words.earlier for token in tokens[:begin])


def _behind_corrections(tokens: tuple[Token, ...], ends: list[int], words: Words) -> frozenset[int]:
    """The tokens of the few words that stand right behind a correction: "in, sorry, I mean out, ready to go"."""
    keys = [token.key for token in tokens]
    numbers = [token.number is not None for token in tokens]
    behind: set[int] = set()
    place = 0
    while place < len(tokens):
        end, _ = longest(words.corrections, keys, place, ends[place], numbers, None, False)
        if end == place:
            place += 1
            continue
        while end < len(tokens) and words.alone.get(keys[end]) == "no" and ends[end] == end + 1:
            end += 1  # "hang on, no, removed"
        if end < len(tokens) and ends[end] - end <= CURT:
            behind.update(range(end, ends[end]))
        place = end
    return frozenset(behind)


def _strangers(
    tokens: tuple[Token, ...], spans: list[Span], words: Words
) -> tuple[Mapping[int, int], Mapping[int, int]]:
    strange: dict[int, int] = {}
    stray: dict[int, int] = {}
    for span in spans:
        if span.meanings:
            continue
        for place in range(span.first, span.last + 1):
            token = tokens[place]
            if token.kind not in ("word", "junk"):
                continue
            strange[span.clause] = strange.get(span.clause, 0) + (token.key not in words.vocabulary)
            little = token.key in words.fillers or token.key in words.subjects or words.agreeing.get(token.key) in SMALL
            stray[span.clause] = stray.get(span.clause, 0) + (not little)
    return strange, stray


def clause_ends(tokens: tuple[Token, ...]) -> list[int]:
    """Where the clause of each token ends."""
    ends = [0] * len(tokens)
    end = len(tokens)
    for place in range(len(tokens) - 1, -1, -1):
        if place + 1 < len(tokens) and tokens[place + 1].clause != tokens[place].clause:
            end = place + 1
        ends[place] = end
    return ends


def _maker(tokens: tuple[Token, ...], place: int, setting: Setting) -> tuple[int, tuple[PhraseMeaning, ...]] | None:
    """The longest of the shop's words for makers that begins at `place`."""
    if setting.words.makers is None or not setting.makers or tokens[place].kind == "mark":
        return None
    phrase, best = "", None
    for end in range(place, min(place + 4, len(tokens))):
        phrase = f"{phrase} {tokens[end].key}".strip()
        choice = setting.makers.get(phrase)
        if choice is not None:
            best = (end + 1, (PhraseMeaning("choice", setting.words.makers, choice),))
    if best is None and setting.open_question == setting.words.makers:
        known = setting.words.slip_of(tokens[place].key, setting.makers)
        if known is not None:
            best = (place + 1, (PhraseMeaning("choice", setting.words.makers, setting.makers[known]),))
    return best


def looks_like_code(layout: Layout) -> bool:
    text = layout.plain.text
    return sum(c in _CODE for c in text) > 1 or "--" in text or _CALL.search(text) is not None
