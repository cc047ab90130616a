"""A small part of `python -m tests.fuzz`, counted in inputs: nothing raises what it should not, however odd it is; and
the fuzzing itself finds what is there to be found."""

from collections.abc import Iterator
from itertools import islice

import pytest

from tests.effort import effort
from tests.fuzz.__main__ import fuzz, main
from tests.fuzz.mutating import MOST, ODD, corpus, inputs
from tests.fuzz.parsers import NAMES, Parser, parsers, seeds
from triagebot.counter.heard import MOST_DIGITS, in_few_digits
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
    assert in_few_digits("lend small " + "9" * 5000 + " x") == "lend small " + "9" * MOST_DIGITS + " x"
    assert in_few_digits("lend small 2 to Sam") == "lend small 2 to Sam"


def test_a_long_word_is_not_looked_through_for_a_command_and_a_code(monkeypatch: pytest.MonkeyPatch) -> None:
    words, tried = staff_words("en"), list[str]()
    monkeypatch.setattr("triagebot.counter.words.read_code", tried.append)
    assert words.first_mended("take2" * 800) == "take2" * 800
    assert tried == []
