"""What the staff's words mean, a language: `words/<language>.yaml` beside this file, or English where there is none.

The longest words that begin a message and name a command are the command; what stands behind them is kept as it was
written.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from triagebot.conversation.enquiries.clock import ClockWords, clock_words
from triagebot.messages.codes import read_code
from triagebot.messages.words import by_phrase, folded, words_beside
from triagebot.shop import fold

#: No command is longer than so many words.
_LONGEST = 5
#: A shorter word is not mended.
#: A command and a code in one word have so many letters at most.
_LONGEST_GLUED = 40
_MENDED_FROM = 4


@dataclass(frozen=True, slots=True)
class Order:
    """A command, and what is said behind it."""

    command: str
    rest: str


@dataclass(frozen=True, eq=False)
class StaffWords:
    """All that the staff may write in one language; every phrase is folded."""

    commands: Mapping[str, str]
    fits_endings: Collection[str]
    articles: Collection[str]
    abbreviations: Mapping[str, str]
    whole: Collection[str]
    fitted: Collection[str]
    not_fitted: Collection[str]
    not_so: Collection[str]
    still_has: Collection[str]
    still_good: Collection[str]
    not_tried: Collection[str]
    unlisted: Collection[str]
    lent_to: Collection[str]
    lent_until: Collection[str]
    owned_by: Collection[str]
    until_alone: Collection[str]
    traits: Mapping[str, Mapping[str, str]]
    traits_beside: Collection[str]
    traits_of_splines: Collection[str]
    denies: Collection[str]
    so_it_is: Collection[str]
    kept_for: Collection[str]
    somebody: Collection[str]
    oneself: Collection[str]
    returned_from: Collection[str]
    times: Mapping[str, Collection[str]]
    times_said: Mapping[str, str]
    clock: ClockWords
    weekdays: Sequence[Collection[str]]
    numbers: Mapping[str, int]
    of_them: Collection[str]
    of_a_wheel: Collection[str]
    everything: Collection[str]
    is_back: Collection[str]
    asks: Mapping[str, Collection[str]]
    asks_endings: Collection[str]
    asking: Collection[str]
    wanted_by: Collection[str]
    glued: Mapping[str, str]
    phrases: Mapping[str, str]
    not_of_a_wheel: Collection[str]
    shorthand: Mapping[str, str]
    at_a_number: Mapping[str, str]
    plain: Mapping[str, str]
    repaired: Mapping[str, str]
    no_bench_words: Collection[str]
    bench_fillers: Collection[str]
    rewrites: Sequence[tuple[re.Pattern[str], str]]
    line_rewrites: Sequence[tuple[re.Pattern[str], str]]
    senses: Mapping[str, str]
    said_as: Mapping[str, str]
    tool_words: Mapping[str, str]
    tool_endings: Collection[str]
    weak_tool_words: Collection[str]
    tool_names: Mapping[str, str]
    parts: Collection[str]
    can: Collection[str]
    no_kind: Collection[str]
    never_tools: Collection[str]
    kinds: Collection[str]
    pegs: Collection[str]
    before_a_time: Collection[str]
    behind_a_time: Collection[str]
    no_time_alone: Collection[str]
    agrees: Collection[str]
    of_a_case: Mapping[str, str]
    of_the_queue: Mapping[str, str]
    queue_fillers: Collection[str]
    desk_words: Mapping[str, Collection[str]]
    desk_lines: Sequence[tuple[str, tuple[str, ...]]]
    desk_soft: Collection[str]
    excludes: Collection[str]
    inquires: Collection[str]
    wants: Collection[str]
    first_words: Mapping[str, str]
    tells: Collection[str]
    told: Collection[str]
    case_fillers: Collection[str]
    duty_from: Collection[str]
    duty_until: Collection[str]
    before_codes: Collection[str]
    that_clause: Collection[str]
    after_a_name: Collection[str]
    off_between: Collection[str]
    corrects: Collection[str]
    holidays: Collection[str]
    how_words: Mapping[str, Collection[str]]
    compares: Collection[str]
    asks_with: Collection[str]
    one_of_them: Collection[str]
    bike_ready: Collection[str]
    bike_nouns: Collection[str]
    other_parts: Collection[str]
    any_ring: Collection[str]
    it_words: Collection[str]
    asked_elsewhere: Collection[str]
    ordinals: Mapping[str, int]
    small_talk: Mapping[str, Collection[str]]
    small_words: Collection[str]
    owner_lines: Mapping[str, Sequence[re.Pattern[str]]]
    all_cautions: Collection[str]
    asks_kept: Collection[str]
    explained: Mapping[str, str]
    not_done: Collection[str]
    needs_lines: Sequence[re.Pattern[str]]
    seen_lines: Sequence[re.Pattern[str]]
    fits_lines: Sequence[re.Pattern[str]]
    jobs: Mapping[str, str]
    job_parts: Collection[str]
    job_fillers: Collection[str]
    job_general: Collection[str]

    def first_mended(self, text: str) -> str:
        """The text with a mistyped first word as it is meant."""
        first, _, rest = text.partition(" ")
        glued = len(first) <= _LONGEST_GLUED
        length = next((n for n in range(len(first) - 5, 2, -1) if self._code_behind(first, n)), 0) if glued else 0
        if length:
            return f"{first[:length]} {first[length:]} {rest}".strip()
        return f"{self.first_words[fold(first)]} {rest}".strip() if fold(first) in self.first_words else text

    def _code_behind(self, word: str, place: int) -> bool:
        """Whether a command ends here in a word, and a code begins."""
        code = word[place:]
        digits = any(letter.isdigit() for letter in code) and not code[0].isdigit()
        return fold(word[:place]) in self.commands and digits and read_code(code) is not None

    def order(self, text: str) -> Order | None:
        """The command that a message begins with; None where it begins with none."""
        words = text.split()
        for length in range(min(_LONGEST, len(words)), 0, -1):
            command = self.commands.get(fold(" ".join(words[:length])))
            if command is not None:
                return Order(command, " ".join(words[length:]))
        return self._mended(words)

    def _mended(self, words: Sequence[str]) -> Order | None:
        """A command of one longer word that was mistyped by one slip, with a case's code behind it."""
        coded = len(words) > 1 and read_code(words[1]) is not None and fold(words[1]) not in self.senses
        said = fold(words[0]) if coded else ""
        if len(said) < _MENDED_FROM:
            return None
        from rapidfuzz.distance import OSA  # late: see `answering`

        near = [
            each
            for each in self.commands
            if len(each) >= _MENDED_FROM and " " not in each and OSA.distance(said, each) == 1
        ]
        meant = {self.commands[each] for each in near}
        return Order(meant.pop(), " ".join(words[1:])) if len(meant) == 1 else None


@lru_cache(maxsize=32)
def staff_words(language: str) -> StaffWords:
    """The words of a language. Raises DataError for a file that cannot be read."""
    data = words_beside(__file__, language)
    return StaffWords(
        commands=by_phrase(data["commands"]),
        fits_endings=folded(data["fits-endings"]),
        articles=folded(data["articles"]),
        abbreviations={str(short): str(long) for short, long in data["abbreviations"].items()},
        whole=folded(data["whole"]),
        fitted=folded(data["fitted"]),
        not_fitted=folded(data["not-fitted"]),
        not_so=folded(data["not-so"]),
        still_has=folded(data["still-has"]),
        still_good=folded(data["still-good"]),
        not_tried=folded(data["not-tried"]),
        unlisted=folded(data["unlisted"]),
        lent_to=folded(data["lent-to"]),
        lent_until=folded(data["lent-until"]),
        owned_by=folded(data["owned-by"]),
        until_alone=folded(data["until-alone"]),
        traits={str(word): {str(q): str(c) for q, c in said.items()} for word, said in data["traits"].items()},
        traits_beside=folded(data["traits-beside"]),
        traits_of_splines=folded(data["traits-of-splines"]),
        denies=folded(data["denies"]),
        so_it_is=folded(data["so-it-is"]),
        kept_for=folded(data["kept-for"]),
        somebody=folded(data["somebody"]),
        oneself=folded(data["oneself"]),
        returned_from=folded(data["returned-from"]),
        times={kind: folded(phrases) for kind, phrases in data["times"].items()},
        clock=clock_words(language),
        times_said={str(word): str(meant) for word, meant in data["times-said"].items()},
        weekdays=[folded(names) for names in data["weekdays"]],
        numbers={str(name): int(number) for name, number in data["numbers"].items()},
        of_them=folded(data["of-them"]),
        of_a_wheel=tuple(data["of-a-wheel"]),
        everything=folded(data["everything"]),
        is_back=folded(data["is-back"]),
        asks={kind: folded(phrases) for kind, phrases in data["asks"].items()},
        asks_endings=folded(data["asks-endings"]),
        asking=folded(data["asking"]),
        wanted_by=folded(data["wanted-by"]),
        glued={str(short): str(long) for short, long in data["glued"].items()},
        phrases={fold(short): str(long) for short, long in data["phrases"].items()},
        not_of_a_wheel=folded(data["not-of-a-wheel"]),
        shorthand={str(phrase): kind for kind, phrases in data["shorthand"].items() for phrase in phrases},
        at_a_number=data["at-a-number"],
        plain=data["plain"],
        repaired={str(word): kind for kind, each in data["repaired"].items() for word in each},
        no_bench_words=folded(data["no-bench-words"]),
        bench_fillers=folded(data["bench-fillers"]),
        senses={fold(str(phrase)): sense for sense, phrases in data["senses"].items() for phrase in phrases},
        said_as={str(word): str(meant) for word, meant in data["said-as"].items()},
        tool_words={str(word): str(meant or "") for word, meant in data["tool-words"].items()},
        tool_endings=folded(data["tool-endings"]),
        weak_tool_words=folded(data["weak-tool-words"]),
        tool_names={str(said): str(name) for said, name in data["tool-names"].items()},
        parts=folded(data["parts"]),
        can=folded(data["can"]),
        no_kind=folded(data["no-kind"]),
        never_tools=folded(data["never-tools"]),
        kinds=folded(data["kinds"]),
        pegs=folded(data["pegs"]),
        before_a_time=folded(data["before-a-time"]),
        behind_a_time=folded(data["behind-a-time"]),
        no_time_alone=folded(data["no-time-alone"]),
        agrees=folded(data["agrees"]),
        of_a_case=by_phrase(data["of-a-case"]),
        of_the_queue=by_phrase(data["of-the-queue"]),
        queue_fillers=folded(data["queue-fillers"]),
        desk_words={word: frozenset(folded(data["desk-words"][word])) for word in map(str, data["desk-words"])},
        desk_soft=tuple(data["desk-soft"]),
        excludes=folded(data["excludes"]),
        inquires=folded(data["inquires"]),
        wants=folded(data["wants"]),
        tells=folded(data["tells"]),
        told=folded(data["told"]),
        first_words={str(said): str(meant) for said, meant in data["first-words"].items()},
        desk_lines=[
            (str(command), tuple(each.replace('"', "").split()))
            for command, lines in data["desk-lines"].items()
            for each in lines
        ],
        case_fillers=folded(data["case-fillers"]),
        duty_from=folded(data["duty-from"]),
        duty_until=folded(data["duty-until"]),
        before_codes=folded(data["before-codes"]),
        that_clause=folded(data["that-clause"]),
        after_a_name=folded(data["after-a-name"]),
        off_between=tuple(sorted(folded(data["off-between"]), key=len, reverse=True)),
        corrects=folded(data["corrects"]),
        holidays=folded(data["holidays"]),
        how_words={str(question): folded(each) for question, each in data["how-words"].items()},
        compares=folded(data["compares"]),
        asks_with=tuple(map(str, data["asks-with"])),
        one_of_them=folded(data["one-of-them"]),
        bike_ready=folded(data["bike-ready"]),
        bike_nouns=folded(data["bike-nouns"]),
        other_parts=folded(data["other-parts"]),
        any_ring=folded(data["any-ring"]),
        it_words=folded(data["it-words"]),
        asked_elsewhere=folded(data["asked-elsewhere"]),
        ordinals={str(word): int(place) for word, place in data["ordinals"].items()},
        small_talk={kind: folded(phrases) for kind, phrases in data["small-talk"].items()},
        small_words=folded(data["small-words"]),
        owner_lines={
            kind: [re.compile(pattern, re.IGNORECASE) for pattern in patterns]
            for kind, patterns in data["owner-lines"].items()
        },
        all_cautions=folded(data["all-cautions"]),
        asks_kept=folded(data["asks-kept"]),
        explained=by_phrase(data["explained"]),
        not_done=folded(data["not-done"]),
        needs_lines=_whole(data["needs-lines"]),
        seen_lines=_whole(data["seen-lines"]),
        fits_lines=_whole(data["fits-lines"]),
        jobs=by_phrase(data["jobs"]),
        job_parts=folded(data["job-parts"]),
        job_fillers=folded(data["job-fillers"]),
        job_general=folded(data["job-general"]),
        rewrites=_patterns(data["rewrites"]),
        line_rewrites=_patterns(data["line-rewrites"]),
    )


def _whole(patterns: Sequence[str]) -> tuple[re.Pattern[str], ...]:
    return tuple(re.compile(pattern, re.IGNORECASE) for pattern in patterns)


def _patterns(rewrites: Mapping[str, str]) -> tuple[tuple[re.Pattern[str], str], ...]:
    return tuple((re.compile(pattern, re.IGNORECASE), meant) for pattern, meant in rewrites.items())
