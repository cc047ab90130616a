"""A small part of `python -m tests.fuzz`, counted in inputs: nothing raises what it should not, however odd it is; and
the fuzzing itself finds what is there to be found."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from importlib import import_module
from itertools import islice
from typing import Any

import pytest

from tests.conversation.guides import shipped_guide
from tests.effort import effort
from tests.fuzz.__main__ import fuzz, main
from tests.fuzz.mutating import MOST, ODD, corpus, inputs
from tests.fuzz.parsers import NAMES, Parser, parsers, seeds, texts
from triagebot.conversation import Message, open_case, plain, turn
from triagebot.conversation.turn import _SEVERAL
from triagebot.conversation.understanding import readable, understand
from triagebot.conversation.understanding.normalise import READ_AT_MOST
from triagebot.conversation.understanding.number_words import MOST_MENDED, MOST_TOKENS
from triagebot.counter.bench_line import MOST_MEASURED
from triagebot.counter.bench_question import _NUMBER_ASKED
from triagebot.counter.heard import _LONGEST_TIME, MOST_BLANKS, MOST_CODES, MOST_DIGITS, MOST_WORDS, without_long_runs
from triagebot.counter.heard_tools import MOST_COMPARED, MOST_LOOKED_UP
from triagebot.counter.words import staff_words

#: Beyond what every parser meets for certain. A line of staff's takes some milliseconds.
INPUTS = dict.fromkeys(NAMES, effort(250, 20_000)) | {"staff": effort(20, 5_000), "text": effort(60, 5_000)}


@pytest.fixture(scope="module")
def known() -> Iterator[dict[str, Parser]]:
    with parsers() as made:
        yield made


@pytest.mark.parametrize("name", NAMES)
def test_nothing_raises_what_it_should_not(known: dict[str, Parser], name: str) -> None:
    found = fuzz(name, known[name], len(ODD) + len(seeds(name)) + INPUTS[name], seed=1, tries=1)
    assert not found.faults, str(found)
    assert found.count == len(ODD) + len(seeds(name)) + INPUTS[name]


def test_a_fault_is_found_and_told_with_its_input() -> None:
    def fails_on_nines(data: bytes) -> None:
        int(data[-5000:]) if data.endswith(b"9" * 5000) else None

    found = fuzz("text", fails_on_nines, len(ODD), seed=1)
    assert found.faults is not None
    assert [place.partition(" ")[0] for place in found.faults] == ["ValueError"]
    assert found.bad


def test_the_same_seed_makes_the_same_inputs_and_another_one_others() -> None:
    begun = len(ODD) + len(corpus("text"))
    first, again, other = (list(islice(inputs(corpus("text"), seed), begun + 200)) for seed in (1, 1, 2))
    assert first == again
    assert first[:begun] == other[:begun]
    assert first[begun:] != other[begun:]
    assert all(len(data) <= MOST for data in first[begun:])


@pytest.mark.parametrize("name", NAMES)
def test_every_parser_has_something_to_begin_with(name: str) -> None:
    assert seeds(name)


def test_a_parser_that_is_not_there_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["photographs"])
    assert "photographs" in capsys.readouterr().err


def test_a_number_of_thousands_of_digits_is_cut() -> None:
    assert without_long_runs("lend small " + "9" * 5000 + " x") == "lend small " + "9" * MOST_DIGITS + " x"
    assert without_long_runs("lend small 2  to\nSam") == "lend small 2  to\nSam"


def test_a_gap_of_thousands_of_blanks_is_cut(known: dict[str, Parser], monkeypatch: pytest.MonkeyPatch) -> None:
    assert without_long_runs("lend" + " " * 3000 + "small") == "lend" + " " * MOST_BLANKS + "small"
    looked_at: list[str] = []
    monkeypatch.setattr("triagebot.counter.staff_message.pointed_at", lambda work, text: looked_at.append(text))
    known["staff"](b"invite" + b" " * 3000 + b"Sam")
    assert looked_at
    assert max(map(len, looked_at)) == len("inviteSam") + MOST_BLANKS


@pytest.mark.parametrize(
    ("text", "several"),
    [
        *(("12 splines", False), ("12 splines.", False), ("12...", False), ("12\n\n\n", False), ("12.\n.\n", False)),
        *(("12 ... ok", True), ("12\n\nit stays", True), ("12? ", True), ("12. (it stays", True), ("1.5", True)),
    ],
)
def test_what_else_a_message_says_is_looked_for_once_a_run_of_stops(text: str, several: bool) -> None:
    assert (_SEVERAL.search(text) is not None) is several


def test_what_a_number_is_asked_of_is_looked_for_once_a_run_of_commas() -> None:
    assert _NUMBER_ASKED.fullmatch("12 cass, , 40 nm ?")
    assert _NUMBER_ASKED.fullmatch("12 cass 40?")[1] == "12 cass"  # type: ignore[index]
    assert _NUMBER_ASKED.fullmatch(", 40?") is None


def test_a_long_word_is_not_looked_through_for_a_command_and_a_code(monkeypatch: pytest.MonkeyPatch) -> None:
    words, tried = staff_words("en"), list[str]()
    monkeypatch.setattr("triagebot.counter.words.read_code", tried.append)
    assert words.first_mended("take2" * 800) == "take2" * 800
    assert tried == []


@pytest.fixture
def work(known: dict[str, Parser], monkeypatch: pytest.MonkeyPatch) -> dict[str, int]:
    """How much is done by the dearest parts of reading, counted: the letters and tokens that are looked at, the words
    for whose like the dictionary is searched, the names of tools, times and codes that are looked up."""
    done: dict[str, int] = dict.fromkeys(
        ("letters", "tokens", "mended", "tools", "compared", "times", "words of times", "codes", "readings"), 0
    )

    def counting(place: str, what: str, size: Callable[..., int] = lambda *given: 1) -> None:
        module, _, name = place.rpartition(":")
        original = getattr(import_module(module), name)

        def counted(*given: Any, **more: Any) -> Any:
            made = original(*given, **more)
            done[what] += size(made, *given)
            return made

        monkeypatch.setattr(f"{module}.{name}", counted)

    reading = "triagebot.conversation.understanding"
    counting(f"{reading}.layout:plain", "letters", lambda made, *_: len(made.text))
    counting(f"{reading}.number_words:cut", "tokens", lambda made, *_: len(made))
    counting(f"{reading}.words:_nearest_of", "mended")
    counting("triagebot.counter.heard_tools:_mention", "tools")
    counting("triagebot.counter.heard_tools:_near", "compared")
    counting("triagebot.counter.heard:until", "times")
    counting("triagebot.counter.times:_plain", "words of times", lambda made, words, text: len(text.split()))
    counting("triagebot.counter.heard:named_case", "codes")
    counting("triagebot.counter.bench_line:understand", "readings")
    return done


#: The most that one reading may do, counted.
MOST_WORK = {"letters": READ_AT_MOST, "tokens": MOST_TOKENS, "mended": 2 * MOST_MENDED}
#: The most that a line of staff's may, which is heard up to `_TIMES` times, and read as two more lines.
_TIMES = 8
MOST_OF_A_LINE = {
    "tools": _TIMES * MOST_LOOKED_UP,
    "compared": 2 * MOST_COMPARED,
    "times": _TIMES * 6 * MOST_WORDS,
    "words of times": 2 * _LONGEST_TIME * _LONGEST_TIME * MOST_WORDS,
    "codes": _TIMES * MOST_CODES,
    "readings": _TIMES * (MOST_MEASURED + 3),
}
_HARD = (
    *ODD,
    b"no wait, 23 mm " * 300,
    b"returrhalf ned lend alf " * 200,
    " ".join(f"zq{n:b}" for n in range(900)).replace("0", "a").encode(),
)


@pytest.mark.parametrize("data", _HARD, ids=range(len(_HARD)))
def test_nothing_that_is_written_takes_more_than_so_much_work(
    known: dict[str, Parser], work: dict[str, int], data: bytes
) -> None:
    setting = shipped_guide().setting("en", "count")
    understand(readable(texts(data)), setting)
    assert {name: work[name] for name in MOST_WORK if work[name] > MOST_WORK[name]} == {}
    known["staff"](data)
    assert {name: work[name] for name in MOST_OF_A_LINE if work[name] > MOST_OF_A_LINE[name]} == {}


def test_work_is_counted(known: dict[str, Parser], work: dict[str, int]) -> None:
    understand("12 splins, blorp", shipped_guide().setting("en", "count"))
    known["staff"](b"lend the small four and a whip to Zed until friday, 12 spl 23, D27MNS")
    known["staff"](b"brought the ratchett back")
    assert all(work.values()), work


def test_what_stands_for_whole_sentences_is_read_from_its_start() -> None:
    assert len(readable("ﷺ" * 2000)) == READ_AT_MOST // 18 + 1
    assert readable("é" * READ_AT_MOST) == "é" * READ_AT_MOST
    assert len(readable("x" * 9000)) == READ_AT_MOST + 1


def test_who_writes_too_much_is_told_so(known: dict[str, Parser]) -> None:
    guide = shipped_guide()
    now = datetime(2026, 1, 5, 9, tzinfo=UTC)
    said = plain(turn(guide, open_case(guide, "AAA-111", "en", now), Message("12 splines " + "ﷺ" * 2000), now).reply)
    assert guide.language("en").texts("message-cut") in said
