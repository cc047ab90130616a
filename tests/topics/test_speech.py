"""What simulated people say, as a file: what it must hold, and where each fault is told."""

import shutil
from pathlib import Path

import pytest

from tests.topics.conftest import Bench
from triagebot.errors import DataError
from triagebot.topics import built_in_topic, load_speech, load_topic
from triagebot.topics.load import digest
from triagebot.topics.speech import speech_file


@pytest.fixture
def speaking(bench: Bench) -> Bench:
    shutil.copy(speech_file(built_in_topic(), "en"), speech_file(bench.topic, "en"))
    return bench


def test_the_bank_that_ships_has_words_for_every_answer() -> None:
    topic = load_topic(built_in_topic())
    speech = load_speech(topic, "en")
    for question in topic.flow.questions:
        for choice in () if question.shop_words else question.choices:
            assert len(speech.answers[question.id][choice]) >= 20


def test_no_case_depends_on_it(speaking: Bench) -> None:
    before = digest(speaking.topic)
    speech_file(speaking.topic, "en").unlink()

    assert digest(speaking.topic) == before


#: name: what to replace, what by (the mark § stands where the fault is told), and words of the message.
FAULTS = {
    "a choice that is none": ("    out:\n", "    §outside:\n", "no such choice"),
    "no words for a choice": ("    coasts:\n", "    fixed-too:\n", "no words for choice 'coasts'"),
    "a question that is none": ("  wire-ring: [wire]", "  §wire: [wire]", "no question 'wire'"),
    "no number": ('- "{n} of them"', '- §"some of them"', "should hold {n} or {word}"),
    "no length": ('- "{mm} mm"', '- §"a few mm"', "should hold {mm}"),
    "a correction that corrects nothing": ('"{wrong}? no, {right}"', '§"{wrong}? no"', "should hold {right}"),
    "a slot that nobody fills": ('- "hmm"', '- §"hmm {n}"', "cannot stand here"),
    "no phrases at all": ('joiners: [", ", ". ", ", and "]', "joiners: §[]", "at least 1"),
    "no number words": ("tens: [twenty, ", "tens: §[", "at least 8"),
    "a way to measure that is none": ("  calliper: [", "  §callipers: [", "nobody measures with"),
    "nothing that stands alone": ("  torque: [torque, nm]", "  torque: §[xyz]", "no phrase for 'yes'"),
    "an unknown key": ("joiners:", "§jokes: [a]\njoiners:", "no key that is known"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_told_with_its_place(speaking: Bench, name: str) -> None:
    old, new, message = FAULTS[name]
    file = speech_file(speaking.topic, "en")
    text = file.read_text(encoding="utf-8")
    assert old in text, f"the bank no longer holds {old!r}"
    edited = text.replace(old, new, 1)
    at = edited.find("§")
    file.write_text(edited.replace("§", ""), encoding="utf-8")

    with pytest.raises(DataError) as raised:
        load_speech(load_topic(speaking.topic), "en")
    told = [problem for problem in raised.value.problems if message in problem.message]
    assert told, raised.value
    assert told[0].file == str(file)
    assert told[0].line > 0
    if at >= 0:
        assert told[0].line == edited.count("\n", 0, at) + 1
    assert set(raised.value.problems) <= set(speaking.problems())


def test_a_language_in_which_nobody_speaks(tmp_path: Path) -> None:
    with pytest.raises(DataError, match=r"xx\.speech\.yaml:0:0: cannot be read"):
        load_speech(load_topic(built_in_topic()), "xx")
