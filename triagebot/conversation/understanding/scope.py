"""What each part of a message speaks of, and in which mood: this wheel, or something that is no news of it.

Rules of this file: a message is cut into statements: at punctuation and dashes, before words like "but", and where
"and" begins a new one. What a statement speaks of is told by the phrases in it, of which a longer one goes before
those inside it. A statement that asks, wishes, plans, supposes, quotes, remembers, chats or speaks of another thing
gives no reading; nor does the next one of the same sentence while it has no subject of its own. Some statements tell
what the one before them spoke of: "..., which I sold", "circlip, you mean?", "yes, I'll look". The wheel of
somebody at home is this one where nothing is asked yet ("my son's bike has 7 cogs"). What is only guessed or
ends with a question mark is `tentative`: likely, and asked back.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from triagebot.conversation.understanding.lexicon import Scope
from triagebot.conversation.understanding.normalise import Plain
from triagebot.conversation.understanding.phrases import Root, longest
from triagebot.conversation.understanding.tokens import Token
from triagebot.conversation.understanding.words import Words

#: What a pronoun behind goes on about: "the tool I bought is cheap. It has 20 splines".
_GOES_ON = frozenset({"other", "memory"})
#: These hold for their own statement alone.
_BRIEF = frozenset({"tentative", "front", "chat", "own"})
#: What "own" words do not undo: "I can see the tool has 20". Of the others, what is said first holds.
_SURELY_NOT = frozenset({"other", "memory", "question", "about", "trailing", "chat"})
#: A statement keeps the first of these that it has: a supposition stands behind what is asked.
_STRENGTH: tuple[Scope, ...] = (
    "trailing", "chat", "about", "other", "hearsay", "memory", "question", "if", "wish", "plan", "belief", "front",
)  # fmt: skip
#: A yes in front of a plan only says that the question was heard: "yes, I'll look". A no there is an answer.
_HEARD: Mapping[str, frozenset[Scope]] = {"yes": frozenset({"plan", "chat"}), "no": frozenset({"chat"})}
#: A question that begins without a mark before it is told by at most so many words.
_ANEW = 4
#: A sentence of at most so many words tells what the one before it spoke of: "... for the postman. Not mine".
_CURT = 2
#: Before one of these, praise and consent answer nothing.
_AFTER_HEARD = frozenset[Scope]({"plan", "chat"})
#: From so many words on, a statement that begins like a question and ends with a question mark asks.
_ASKS_FROM = 4
#: What is carried on from those that tell of the statement before them.
_CARRIED: Mapping[Scope, Scope] = {"about": "question", "trailing": "other"}
_SENTENCE_ENDS = frozenset(".!?;\n")
_DASHES = (" - ", " -- ", "\u2013", "\u2014")


@dataclass(frozen=True, slots=True)
class _Statement:
    """Tokens `first` to `last` (inclusive); `begins` a sentence; `asked`: a question mark stands behind; `begun`: the
    message answers a question; `wanted`: it tells what is to be done, to whosoever's wheel."""

    keys: tuple[str, ...]
    numbers: tuple[bool, ...]
    first: int
    last: int
    begins: bool
    asked: bool
    begun: bool
    wanted: bool

    @property
    def own_keys(self) -> tuple[str, ...]:
        return self.keys[self.first : self.last + 1]


def scopes(tokens: Sequence[Token], text: Plain, words: Words, begun: bool = True) -> tuple[Scope, ...]:
    """The scope of each token; `begun`: something is being asked."""
    statements = list(_statements(tokens, text, words, begun))
    spoken = _of_the_one_before(statements, _carried_on(statements, words), words)
    return tuple(scope for s, scope in zip(statements, spoken, strict=True) for _ in range(s.first, s.last + 1))


# --- statements ---------------------------------------------------------------------------------------------------


def _statements(tokens: Sequence[Token], text: Plain, words: Words, begun: bool) -> Iterator[_Statement]:
    keys = tuple(token.key for token in tokens)
    numbers = tuple(token.number is not None for token in tokens)
    gaps = ["\n", *(text.text[a.end : b.start] for a, b in pairwise(tokens))]
    gaps.append(text.text[tokens[-1].end :] if tokens else "")
    cuts = [place for place in range(1, len(tokens)) if _begins(tokens, place, gaps[place], words)]
    wanted = not begun and any(_tells_the_job(words, keys, numbers, place) for place in range(len(keys)))
    for first, end in zip([0, *cuts], [*cuts, len(tokens)], strict=True) if tokens else ():
        begins = any(mark in _SENTENCE_ENDS for mark in gaps[first])
        yield _Statement(keys, numbers, first, end - 1, begins, "?" in gaps[end], begun, wanted)


def _tells_the_job(words: Words, keys: Sequence[str], numbers: Sequence[bool], place: int) -> bool:
    """Whether a phrase of the job begins at `place`: "what tool do I need"."""
    return any(
        meaning.subject == "job" for meaning in longest(words.scopes, keys, place, len(keys), numbers, None, True)[1]
    )


def _begins(tokens: Sequence[Token], place: int, gap: str, words: Words) -> bool:
    """Whether a statement begins with the token at `place`."""
    token, before = tokens[place], tokens[place - 1]
    if before.clause != token.clause or (token.key in words.turning and before.key not in words.adding):
        return True
    between_numbers = token.number is not None and before.number is not None
    if any(dash in gap for dash in _DASHES) and not between_numbers:
        return True
    behind = tokens[place + 1].key if place + 1 < len(tokens) else ""
    if f"{token.key} {behind}" in words.turning:
        return True
    if before.key not in words.asked_by and _asks_anew(tokens, place, words):
        return True
    said = token.key in words.opening_fillers and words.alone.get(token.key) == "yes"
    if said and before.key not in words.opening_fillers and before.key not in words.turning:
        return True  # "let me see yes 12"
    return token.key in words.adding and behind in words.beginning


def _asks_anew(tokens: Sequence[Token], place: int, words: Words) -> bool:
    """Whether a question begins here without a mark before it: "it is still in should i take it out"."""
    keys = [token.key for token in tokens[place : place + _ANEW]]
    before = [t.key for t in tokens[max(0, place - _ANEW + 1) : place] if t.clause == tokens[place].clause]
    if not words.interrogatives.isdisjoint(before):
        return False  # "which tool do I need"
    return any(" ".join(keys[:length]) in words.asking_anew for length in range(2, len(keys) + 1))


# --- one statement ------------------------------------------------------------------------------------------------


def _scope(statement: _Statement, words: Words) -> Scope:
    """What a statement speaks of by its own words."""
    named = _named(statement, words)
    if "job" in named:
        return "own"
    if _asks(statement, words):
        named["question"] = statement.first
    likely: Scope = "tentative" if statement.asked else "own"
    own = named.pop("own", None)
    if own is not None:
        named = {scope: start for scope, start in named.items() if scope in _SURELY_NOT or start < own}
        named.pop("tentative", None)
    return next((scope for scope in _STRENGTH if scope in named), "tentative" if "tentative" in named else likely)


def _named(statement: _Statement, words: Words) -> dict[str, int]:
    """The scopes that the phrases of a statement tell, and where first; a phrase inside a longer one tells nothing."""
    first, last = statement.first, statement.last
    found = [_phrase(words.openings, statement, place) for place in {first, _opening(statement, words)}]
    found += [_phrase(words.scopes, statement, place) for place in range(first, last + 1)]
    spans = [(start, end) for start, end, subjects in found if subjects]
    named: dict[str, int] = {}
    for start, end, subjects in (row for row in found if row[2]):
        if not any(a <= start and end <= b and b - a > end - start for a, b in spans):
            named |= {subject: min(start, named.get(subject, start)) for subject in subjects}
    theirs = named.pop("theirs", None)
    if theirs is not None and named.get("other", -1) >= theirs:
        del named["other"]
    return named


def _phrase(root: Root, statement: _Statement, place: int) -> tuple[int, int, tuple[str, ...]]:
    end, meanings = longest(root, statement.keys, place, statement.last + 1, statement.numbers, None, True)
    subjects = (meaning.subject for meaning in meanings)
    return place, end, tuple(_whose(subject, statement) for subject in subjects)


def _whose(subject: str, statement: _Statement) -> str:
    """Somebody's at home is this wheel where nothing is asked yet; a friend's, if the message says what is wanted."""
    if subject == "theirs" and statement.begun:
        return "other"
    if subject == "friends":
        return "theirs" if statement.wanted else "other"
    return subject


def _opening(statement: _Statement, words: Words) -> int:
    """Where a statement begins behind words like "well" and "ok"."""
    place = statement.first
    while place < statement.last and (statement.keys[place] in words.opening_fillers or not statement.keys[place]):
        place += 1
    return place


def _asks(statement: _Statement, words: Words) -> bool:
    """ "Is it the thick one with the lever?"; shorter, it may be an answer: "is fixed?"."""
    start = _opening(statement, words)
    return statement.asked and statement.keys[start] in words.asking and statement.last - start + 1 >= _ASKS_FROM


# --- one after the other ------------------------------------------------------------------------------------------


def _carried_on(statements: Sequence[_Statement], words: Words) -> list[Scope]:
    """The scope of each statement, that of the one before where it goes on about it."""
    spoken: list[Scope] = []
    carried: Scope = "own"
    for statement in statements:
        if statement.begins and carried not in _GOES_ON:
            carried = "own"
        scope = _scope(statement, words)
        if carried == "plan" and _corrects(statement, words):
            carried = "own"  # "off, I'll get on with it, no wait, still in"
        if scope == "hearsay" and _an_instrument_says(statement, words):
            scope = "own"
        if scope == "own" and carried != "own" and _continues(statement, words, carried):
            scope = carried
        elif scope == "own" and carried in _GOES_ON and not statement.begins and _of_either(statement, words):
            scope = "tentative"
        elif scope not in _BRIEF or scope == "own":
            carried = _CARRIED.get(scope, scope)
        spoken.append(scope)
    return spoken


def _corrects(statement: _Statement, words: Words) -> bool:
    """Whether a statement is nothing but a correction: "no wait"."""
    return _phrase(words.corrections, statement, statement.first)[1] > statement.last


def _an_instrument_says(statement: _Statement, words: Words) -> bool:
    """ "Found the callipers, they say 21.6"."""
    said = statement.own_keys[0] in words.pronouns and any(statement.numbers[statement.first : statement.last + 1])
    return said and not words.instruments.isdisjoint(statement.keys[: statement.first])


def _continues(statement: _Statement, words: Words, carried: Scope) -> bool:
    """Whether a statement with nothing of its own goes on with what the one before spoke of."""
    key = statement.own_keys[0]
    if key in words.turning or key in words.mine or statement.own_keys[-1] in words.mine:
        return False
    if key in words.adding or key in words.opening_fillers:
        key = statement.own_keys[1] if len(statement.own_keys) > 1 else ""
    if carried in _GOES_ON:
        return key in words.pronouns or key not in words.subjects
    answers = words.alone.get(statement.own_keys[0]) in ("yes", "no")
    return key not in words.subjects and key not in words.mine and not answers


def _of_either(statement: _Statement, words: Words) -> bool:
    """Whether it may go on about another thing or be of this wheel: "the last bike I had, the middle stayed"."""
    begins = statement.own_keys[0] in words.subjects - words.pronouns
    return begins and words.mine.isdisjoint(statement.own_keys)


def _of_the_one_before(statements: Sequence[_Statement], spoken: list[Scope], words: Words) -> list[Scope]:
    """What a statement says of the one before it in the same sentence, from the last to the first."""
    for place in range(len(statements) - 1, 0, -1):
        before, statement, scope = statements[place - 1], statements[place], spoken[place]
        if spoken[place - 1] not in ("own", "tentative"):
            continue
        if scope in _AFTER_HEARD and _only_heard(before, words):
            spoken[place - 1] = scope
        elif (answer := _only_answer(before, words)) is not None:
            if scope in _HEARD[answer] and not _adds(statement, words):
                spoken[place - 1] = scope
        elif scope == "trailing" and (not statement.begins or len(statement.own_keys) <= _CURT):
            spoken[place - 1] = scope
        elif statement.begins:
            continue
        elif scope == "about" and not any(key in words.subjects or key in words.linking for key in before.own_keys):
            spoken[place - 1] = "tentative"
    return spoken


def _only_answer(statement: _Statement, words: Words) -> str | None:
    """The yes or no that is all of a statement."""
    said = [key for key in statement.own_keys if key not in words.opening_fillers or words.alone.get(key) == "no"]
    answers = {words.agreeing.get(key) for key in statement.own_keys} & {"yes", "no"}
    only = all(words.agreeing.get(key) in answers for key in said) and len(answers) == 1
    return answers.pop() if only else None


def _only_heard(statement: _Statement, words: Words) -> bool:
    """Whether a statement is nothing but praise or consent: "good, I'll look"."""
    said = [key for key in statement.own_keys if key not in words.opening_fillers or key in words.said_heard]
    return bool(said) and words.said_heard.issuperset(said)


def _adds(statement: _Statement, words: Words) -> bool:
    """Whether a statement begins with a word like "and" or "but"."""
    key = statement.own_keys[0]
    return key in words.adding or (key in words.turning and key not in words.mine)
