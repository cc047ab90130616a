"""A line of nothing but the bench's shorthand ("20/22/stays/7"), as the plain words that it stands for.

Rules of this file:
- a line counts only if each of its words is shorthand; any other is read as sentences are;
- a number belongs to the unit that stands at it, with no comma between; of those with none, one that is a count of the
  topic's is the count, where that is missing, and the others are the width or the number of sprockets, by how large
  they are; where that leaves a choice, the line is no shorthand;
- nothing is said twice otherwise: two counts, or both ways to spin, make no shorthand.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise, zip_longest

from rapidfuzz.distance import OSA

from triagebot.counter.words import StaffWords

#: How many splines there are, and how many sprockets.
_BOTH = 2
#: A number, and letters after it or before it, are words of their own.
_TOKEN = re.compile(r"\d+(?:[.,]\d+)?|[^\W\d_]+")
#: No shorter word is mended.
_MENDED_FROM = 5
#: What stands between the tokens of a line of shorthand, and nothing else does.
_BETWEEN = re.compile(r"[\s?/,.;:!+()–-]*")
#: No phrase of it has more words than this.
_LONGEST = 5
#: There are no more sprockets than so many, and no more splines or notches.
_MOST_SPROCKETS, _MOST_COUNT = 13, 24
#: A bare number between these and this is a count: no width is so small.
_NO_COUNT_FROM = 19
#: The numbers behind whose words another one is added.
_TENS = (20, 30, 40, 50)
_KINDS, _SPINS = ("splines", "notches", "outer", "none"), ("turns", "stays")
#: What it is called, and how that spins where nobody says.
_SAYS_SPIN = {"says-cassette": "turns", "says-freewheel": "stays"}
_COUNTED = ("splines", "notches", "outer")
#: The units of numbers, as what is counted or measured.
_UNITS = {"size": "size", "sprockets": "sprockets", "count": "count"}


@dataclass(frozen=True, slots=True)
class Plain:
    """A line in plain words; `count` is how many there are of what the line does not say, None where it says."""

    text: str
    count: int | None = None


@dataclass(frozen=True, slots=True)
class _Token:
    """What a word of shorthand says; `apart` where a comma or the like stands before it."""

    kind: str
    said: str
    apart: bool
    spelt: bool = False
    letter: bool = False

    @property
    def number(self) -> float:
        return float(self.said)


@dataclass
class _Line:
    """What a line says so far; `numbers` are those without a unit."""

    kind: str = ""
    spin: str = ""
    likely: str = ""
    worn: str = ""
    given: dict[str, float] = field(default_factory=dict)
    numbers: list[float] = field(default_factory=list)
    beside: list[str] = field(default_factory=list)

    def gives(self, slot: str, number: float) -> bool:
        """Takes a number for what it measures or counts; false where another one is known already."""
        return self.given.setdefault(slot, number) == number

    def hears(self, kind: str) -> bool:
        """Takes what a word says; false where it contradicts what was said before."""
        if kind in _KINDS:
            both = {self.kind, kind} == {"outer", "notches"}
            fits = self.kind in ("", kind) or both
            self.kind = "outer" if both else kind
            return fits
        if kind in _SPINS:
            fits = self.spin in ("", kind)
            self.spin = kind
            return fits
        if kind in _SAYS_SPIN:
            fits = self.likely in ("", _SAYS_SPIN[kind])
            self.likely = _SAYS_SPIN[kind]
            return fits
        self.worn = kind if kind == "worn" else self.worn
        return self.gives("sprockets", 1) if kind == "single" else True


@dataclass(frozen=True, slots=True)
class Known:
    """What the topic knows: how many splines or notches there can be where it has a remover, how many there are of one
    kind alone, and of which (as shorthand calls it), all counts that it knows, and from which width to which, mm."""

    counts: Collection[int]
    kinds: Mapping[int, str]
    all_counts: Collection[int]
    widths: tuple[float, float]


def in_plain_words(words: StaffWords, known: Known, text: str, *, loose: bool = False) -> Plain | None:
    """The line in plain words; None where it is no shorthand, or may mean several things. `loose`: words that are none
    are passed over, unless they deny, ask, or speak of something else than a wheel."""
    line = _read(_tokens(words, as_meant(words, text.lower()), loose=loose), known)
    if line is None or not _placed(line, known) or not (line.given or line.kind):
        return None
    low, high = known.widths
    if line.beside and line.given.get("size", low) < low:  # that of an axle
        del line.given["size"]
    return _said(words, line) if low <= line.given.get("size", low) <= high else None


def as_meant(words: StaffWords, text: str) -> str:
    """The text with what was put right in it, or left open, as it is meant: "16 not 20 splines" is "16 splines"."""
    text = _compounds(words).sub(lambda m: str(sum(int(words.shorthand[said.lower()]) for said in m.groups())), text)
    for pattern, meant in words.rewrites:
        text = pattern.sub(meant, text)
    return text


@lru_cache(maxsize=8)
def _compounds(words: StaffWords) -> re.Pattern[str]:
    """Two words that are one number: "twenty four", but not the "twenty one" of "twenty, one cog"."""
    first: dict[int, str] = {}
    for said, kind in words.shorthand.items():
        if kind.isdecimal() and said.isalpha():
            first.setdefault(int(kind), said)
    tens = "|".join(first[number] for number in _TENS if number in first)
    ones = "|".join(said for number, said in first.items() if number < _TENS[0] // 2)
    sprockets = "|".join(re.escape(said) for said, kind in words.shorthand.items() if kind == "sprockets")
    return re.compile(rf"\b({tens})[ -]({ones})\b(?! (?:{sprockets})\b)", re.IGNORECASE)


def _tokens(words: StaffWords, text: str, *, loose: bool) -> list[_Token]:
    """The tokens of a line; none where one of its words is not known."""
    found = [(part, match.start(), match.end()) for match in _TOKEN.finditer(text) for part in _parts(words, match[0])]
    between = [text[one[2] : other[1]] for one, other in pairwise(found)]
    outside = (text[: found[0][1]], text[found[-1][2] :]) if found else ()
    if not loose and any(_BETWEEN.fullmatch(each) is None or " ?" in each for each in (*between, *outside)):
        return []
    tokens: list[_Token] = []
    place, apart = 0, False
    while place < len(found):
        glued = place > 0 and found[place][1] == found[place - 1][2] and found[place - 1][0][0].isdecimal()
        length, kind = _longest(words, [part for part, _, _ in found[place : place + _LONGEST]], glued=glued)
        if not length and loose and glued:
            return []
        if not length and (not loose or found[place][0] in (*words.no_bench_words, *words.not_of_a_wheel)):
            return []
        beside = not length and found[place][0] not in words.bench_fillers
        ahead = beside and _next_kind(words, [part for part, _, _ in found[place + 1 : place + _LONGEST]])
        if (
            beside
            and ahead not in _COUNTED
            and tokens
            and tokens[-1].kind == "number"
            and not between[place - 1].strip()
        ):
            tokens.pop()  # how many there are of something else
        length, kind = length or 1, kind or "filler"
        said = found[place][0].replace(",", ".") if kind == "number" else kind if kind.isdecimal() else ""
        apart = apart or (place > 0 and bool(between[place - 1].strip(" -")))  # "12-speed" is one thing
        if kind != "filler":
            said_so = " ".join(part for part, _, _ in found[place : place + length])
            tokens.append(
                _Token(
                    "number" if said else kind,
                    said or words.abbreviations.get(said_so, said_so),
                    apart,
                    kind.isdecimal(),
                    said_so == "s",
                )
            )
            apart = False
        place += length
    once = [t for before, t in zip((None, *tokens), tokens, strict=False) if not _says_again(before, t)]
    return [t for t, after in zip_longest(once, once[1:]) if t is not None and not _is_a_noun(t, after)]


def _next_kind(words: StaffWords, parts: Sequence[str]) -> str:
    """What the next word says, past one that says nothing: "twenty little splines" are splines."""
    length, kind = _longest(words, parts, glued=False) if parts else (0, "")
    return kind if length else ""


def _says_again(before: _Token | None, token: _Token) -> bool:
    """Whether a word says what the one right before it said: "4 dogs notches 24"."""
    return before is not None and before.kind == token.kind and token.kind in _COUNTED and not token.apart


def _is_a_noun(token: _Token, after: _Token | None) -> bool:
    """Whether "one" stands for a thing, as in "the old one", and counts none."""
    return token.kind == "number" and token.said == "1" and token.spelt and (after is None or after.kind not in _UNITS)


def _longest(words: StaffWords, parts: Sequence[str], *, glued: bool) -> tuple[int, str]:
    """How many of the next words are one phrase, and what it says; a letter `glued` to a number has a sense of its
    own."""
    if glued and parts[0] in words.at_a_number:
        return 1, words.at_a_number[parts[0]]
    for length in range(len(parts), 0, -1):
        kind = words.shorthand.get(" ".join(parts[:length]))
        if kind is not None:
            return length, kind
    return (1, "number") if parts[0][0].isdecimal() else (0, "")


def _parts(words: StaffWords, run: str) -> tuple[str, ...]:
    """ "splineturns" is two words; a run that is known, or that has no such parts, is one."""
    if run[0].isdecimal() or run in _single_words(words):
        return (run,)
    if (meant := _mended(words, run)) is not None:
        return (meant,)
    for end in range(len(run) - 2, 0, -1):
        first, rest = run[:end], run[end:]
        if words.shorthand.get(first, "filler") != "filler" and words.shorthand.get(rest, "filler") != "filler":
            return (first, rest)
    return (run,)


@lru_cache(maxsize=8)
def _single_words(words: StaffWords) -> frozenset[str]:
    """All words of all phrases of shorthand."""
    return frozenset(word for phrase in words.shorthand for word in phrase.split())


@lru_cache(maxsize=1024)
def _mended(words: StaffWords, run: str) -> str | None:
    """The word of shorthand that a longer one is a slip away from, where they all say one thing."""
    if len(run) < _MENDED_FROM:
        return None
    near = [each for each in words.shorthand if abs(len(each) - len(run)) <= 1 and OSA.distance(run, each) == 1]
    return near[0] if len({words.shorthand[each] for each in near}) == 1 and len(near[0]) >= _MENDED_FROM else None


def _read(tokens: Sequence[_Token], known: Known) -> _Line | None:
    """What the tokens say, with the numbers at their units; None where they say two things, or nothing."""
    tokens = _first_s_meant(_s_meant(_sp_meant(tokens, known), known), known)
    line, taken = _Line(), _at_their_units(tokens)
    alone = not any(token.kind in _COUNTED for token in tokens)
    for place, token in enumerate(tokens):
        if token.kind == "teeth":
            return None
        if token.kind == "beside":
            line.beside.append(token.said)
        elif token.kind != "number":
            if not line.hears("splines" if token.kind == "s" and alone else token.kind):
                return None
        elif place not in taken:
            line.numbers.append(token.number)
        elif not line.gives(taken[place], token.number):
            return None
    return line if len(tokens) > 1 or not line.numbers else None


def _sp_meant(tokens: Sequence[_Token], known: Known) -> list[_Token]:
    """The tokens with each "sp" as what it stands for: sprockets, or splines where these are not said otherwise and
    the number at it is too large for sprockets, or the sprockets have another one."""
    kinds = [token.kind for token in tokens]
    pairs = list(pairwise(tokens))
    behind = [t.number for before, t in pairs if t.kind == "number" and before.kind != "number"]
    numbers = [t.number for t, after in pairs if after.kind == "sp" and t.kind == "number"]
    free = [number for number in behind if number <= _MOST_SPROCKETS and number not in numbers]
    others = "sprockets" in kinds or "single" in kinds or (bool(free) and not any(kind in _COUNTED for kind in kinds))
    large = any(number > _MOST_SPROCKETS for number in numbers)
    common = any(known.kinds.get(int(number)) == "splines" for number in numbers)
    splines = not any(kind in _COUNTED for kind in kinds) and (large or (others and common))
    return [replace(t, kind="splines" if splines else "sprockets") if t.kind == "sp" else t for t in tokens]


def _s_meant(tokens: Sequence[_Token], known: Known) -> list[_Token]:
    """The tokens, where two numbers have an "s" and one of them alone is how many splines there can be: that one has
    these, and the other the sprockets ("10s 12s")."""
    at = [place for place in range(1, len(tokens)) if tokens[place].kind == "s" and tokens[place - 1].kind == "number"]
    splined = [place for place in at if known.kinds.get(int(tokens[place - 1].number)) == "splines"]
    if len(at) != _BOTH or len(splined) != 1 or any(token.kind in _COUNTED for token in tokens):
        return list(tokens)
    meant = {place: "splines" if place in splined else "sprockets" for place in at}
    return [replace(token, kind=meant.get(place, token.kind)) for place, token in enumerate(tokens)]


def _first_s_meant(tokens: Sequence[_Token], known: Known) -> list[_Token]:
    """The tokens, where a line that begins with "s" and how many splines there can be says elsewhere how it spins:
    these are splines ("s 12 23.5 t")."""
    begins = len(tokens) > 1 and tokens[0].kind == "stays" and tokens[0].letter and tokens[1].kind == "number"
    elsewhere = {token.kind for token in tokens[1:]}
    if (
        begins
        and known.kinds.get(int(tokens[1].number)) == "splines"
        and elsewhere & {*_SPINS}
        and not elsewhere & {*_KINDS}
    ):
        return [replace(tokens[0], kind="splines"), *tokens[1:]]
    return list(tokens)


def _at_their_units(tokens: Sequence[_Token]) -> dict[int, str]:
    """What each number at a unit measures or counts, by its place: the number behind "size" and "count", else the one
    before the unit, else the one behind it."""
    taken: dict[int, str] = {}
    counted = any(token.kind in _COUNTED for token in tokens)

    def free(place: int) -> bool:
        return 0 <= place < len(tokens) and tokens[place].kind == "number" and place not in taken

    for place, token in enumerate(tokens):
        of_sprockets = token.kind == "count-is" and [t.kind for t in tokens[place + 2 : place + 3]] == ["sprockets"]
        if token.kind in ("size-is", "count-is") and free(place + 1) and not of_sprockets:
            taken[place + 1] = token.kind.removesuffix("-is")
        elif token.kind == "number" and not token.number.is_integer():
            taken[place] = "size"
    for behind in (True, False) if _labelled(tokens) else (False, True):
        for place, token in enumerate(tokens):
            slot = _UNITS.get(token.kind, "count" if token.kind in _COUNTED else "")
            slot = ("sprockets" if counted else "count") if token.kind == "s" else slot
            if token.kind.endswith("-is") and place + 1 not in taken:
                slot = token.kind.removesuffix("-is")
            at, apart = place - 1, token.apart
            if behind:
                at, apart = place + 1, place + 1 < len(tokens) and tokens[place + 1].apart
            has = behind and taken.get(place - 1) == slot and not token.apart
            if behind and token.kind == "outer" and _is_one_sprocket(tokens, at):
                continue  # "outer notches, 1 cog"
            if slot and not apart and not has and free(at) and _can_be(slot, tokens[at].number):
                taken[at] = slot
    return taken


def _is_one_sprocket(tokens: Sequence[_Token], place: int) -> bool:
    """Whether "1 cog" stands there, and no number behind it."""
    kinds = [token.kind for token in tokens[place : place + 3]]
    return kinds[:2] == ["number", "sprockets"] and kinds[2:] != ["number"] and tokens[place].number == 1


def _labelled(tokens: Sequence[_Token]) -> bool:
    """Whether each number stands behind its unit ("sprockets 7 splines 12")."""
    units = {*_UNITS, *_COUNTED, "size-is", "count-is"}
    numbers = [place for place, token in enumerate(tokens) if token.kind == "number"]
    counted = [place for place, token in enumerate(tokens) if token.kind in ("sprockets", *_COUNTED)]
    last = counted and max(counted) + 1 not in numbers  # "i count 11 sprockets and 12 splines"
    return bool(numbers) and not last and all(place and tokens[place - 1].kind in units for place in numbers)


def _can_be(slot: str, number: float) -> bool:
    most = {"count": _MOST_COUNT, "sprockets": _MOST_SPROCKETS}.get(slot)
    return most is None or number <= most


def _placed(line: _Line, known: Known) -> bool:
    """Finds what each number without a unit is; whether that leaves no choice."""
    low, _ = known.widths
    left = list(line.numbers)
    if "count" not in line.given and line.kind != "none":
        common = next((number for number in left if number in known.counts), None)
        common = common or next((n for n in left if _MOST_SPROCKETS < n < _NO_COUNT_FROM), None)
        if common is not None:
            left.remove(common)
            line.given["count"] = common
        elif any(number < low and _may_be_counted(line, known, number) for number in left):
            return False
    line.kind = line.kind or known.kinds.get(int(line.given.get("count", 0)), "")
    return all(line.gives("size" if number >= low else "sprockets", number) for number in left) and (
        line.given.get("sprockets", 1) <= _MOST_SPROCKETS
    )


def _may_be_counted(line: _Line, known: Known, number: float) -> bool:
    """Whether a number that nothing stands at may be how many splines or notches there are, and not sprockets."""
    if line.kind == "splines":
        return number > max((n for n, kind in known.kinds.items() if kind == "splines"), default=0)
    return bool(line.kind) or number in known.all_counts


def _said(words: StaffWords, line: _Line) -> Plain:
    plain, count = words.plain, line.given.get("count")
    parts = [plain[line.kind]] if line.kind and count is None else []
    if line.kind and count is not None:
        parts.append(plain[f"{line.kind}-so-many"].format(number=f"{count:g}"))
    for slot in ("size", "sprockets"):
        if slot in line.given:
            name = "sprocket" if slot == "sprockets" and line.given[slot] == 1 else slot
            parts.append(plain[name].format(number=f"{line.given[slot]:g}"))
    parts += [plain[each] for each in (line.spin or line.likely, line.worn) if each]
    return Plain(", ".join([*parts, *line.beside]), int(count) if count is not None and not line.kind else None)
