"""The English texts of the rear-sprocket topic: all there, none left over, and in words that a child of 11 reads.

The reading grade is Flesch-Kincaid's (Kincaid and others, 1975): 0.39 words a sentence + 11.8 syllables a word − 15.59.
"""

import re
from collections.abc import Iterator
from difflib import SequenceMatcher
from itertools import combinations
from statistics import fmean
from typing import Any

import pytest
from fluent.runtime import FluentBundle, FluentResource
from fluent.syntax import FluentParser, ast
from fluent.syntax.visitor import Visitor

from triagebot.topics import EXITS, built_in_topic, load_topic
from triagebot.topics.enquiries import enquiry_texts, optional_enquiry_texts

TOPIC = load_topic(built_in_topic())
SOURCE = (TOPIC.folder / "text" / "en.ftl").read_text(encoding="utf-8")

#: Values like those that the program puts in.
ARGUMENTS: dict[str, Any] = {
    "value": "23.4 mm, with a calliper",
    "fitting": "splines",
    "shop": "At the shop.",
    "contact": "Call us.",
    "torque": 40.0,
    "kilos": 14,
    "handle": 300.0,
}

#: Numbers and lengths said back in a few words, with the variables of these texts.
SAID_BACK = {f"question-{q.id}.brief": {"value"} for q in TOPIC.flow.questions if q.kind != "choice"} | {
    f"question-{q.id}.with-{other.id}": {"value", other.id}
    for q in TOPIC.flow.questions
    for other in TOPIC.flow.questions
    if q.kind != "choice" and other.kind == "choice"
}

BUTTON = 45
SENTENCES = 3
GRADE = 7.0

BANNED = ("invalid", "error", "user", "please enter", "wrong answer", "you failed", "simply", "obviously")
NOT_BRITISH = ("caliper", "counterclockwise", "counter-clockwise", "wrench", "tire", "color", "center", "gray")


def _texts() -> dict[str, str]:
    """Every text by id (attributes as `id.attribute`), formatted as a person would read it."""
    bundle = FluentBundle(["en"], use_isolating=False)
    bundle.add_resource(FluentResource(SOURCE))
    found: dict[str, str] = {}
    for entry in FluentParser().parse(SOURCE).body:
        if not isinstance(entry, ast.Message):
            continue
        message = bundle.get_message(entry.id.name)
        patterns = {f".{name}": pattern for name, pattern in message.attributes.items()}
        if message.value:
            patterns[""] = message.value
        for suffix, pattern in patterns.items():
            text, errors = bundle.format_pattern(pattern, ARGUMENTS)
            assert not errors, (entry.id.name + suffix, errors)
            found[entry.id.name + suffix] = str(text)
    return found


TEXTS = _texts()


def _needed() -> Iterator[str]:
    """The ids that the topic's files call for."""
    flow, catalogue = TOPIC.flow, TOPIC.catalogue
    yield from ("topic-name", "topic-purpose")
    for question in flow.questions:
        name = f"question-{question.id}"
        yield from (name, f"{name}.short", f"{name}.again", f"{name}.how", f"{name}.name")
        if question.kind != "choice":
            yield f"{name}.said"
        if question.picture:
            yield f"picture-{question.picture}"
        for choice in question.choices:
            yield from (f"choice-{question.id}-{choice}", f"choice-{question.id}-{choice}.said")
            if question.purpose == "ability":
                yield f"ability-{question.id}-{choice}"
    for referral in (*flow.referrals, *flow.shop_referrals):
        yield f"referral-{referral.question}-{referral.choice}"
    for fastening in catalogue.fastenings:
        yield from (f"fastening-{fastening.id}", f"fastening-{fastening.id}.short", f"direction-{fastening.direction}")
        yield from (f"advice-{advice}" for advice in fastening.advice)
        if fastening.remover is None and not fastening.broad:
            yield f"advice-{fastening.advice[0]}.short"  # why staff are named no tool
        if fastening.refitting:
            yield fastening.refitting.text
            if fastening.refitting.torque is None:
                yield f"{fastening.refitting.text}.short"
    for caution in catalogue.cautions:
        yield from (f"caution-{caution.id}", f"caution-{caution.id}.short", f"signal-{caution.signal}")
    yield from (f"remover-{remover.id}" for remover in catalogue.removers)
    yield from (f"exit-{each}" for each in EXITS)
    for procedure in TOPIC.procedures:
        for step in procedure.steps:
            name = f"procedure-{procedure.id}-{step.id}"
            yield from () if step.refit else (name, f"{name}.watch")
            exits = (*step.exits.values(), *step.also.values(), *procedure.also.values())
            yield from (f"help-{each}" for helps in exits for each in helps)
    yield from (f"accessory-{accessory.id}" for accessory in catalogue.accessories)
    yield from (f"step-{step}" for step in catalogue.steps)
    yield from (f"look-alike-{pair.check}" for pair in catalogue.look_alikes)


def _starting(prefix: str, ending: str = "") -> dict[str, str]:
    """The texts whose id starts and ends so; with no ending, attributes are left out."""
    return {i: t for i, t in TEXTS.items() if i.startswith(prefix) and (i.endswith(ending) if ending else "." not in i)}


def _sentences(text: str) -> list[str]:
    """Sentences and list lines; the number that starts a line is no sentence."""
    unnumbered = re.sub(r"(?m)^\d+\. ", "", text)
    parts = re.split(r"(?<=[.?!])\)?\s+|\n+", unnumbered)
    return [part for part in parts if re.search(r"\w", part)]


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z]+(?:’[a-z]+)?", text.lower())


def _syllables(word: str) -> int:
    """Groups of vowels, less a silent e or ed at the end; at least one."""
    bare = re.sub(r"(?<=[^aeioulr])(?:es|ed|e)$|(?<=[aeiou][lr])e$", "", word.replace("’", ""))
    return max(1, len(re.findall(r"[aeiouy]+", bare)))


def _grade(text: str) -> float:
    words = _words(text)
    return 0.39 * len(words) / len(_sentences(text)) + 11.8 * fmean(map(_syllables, words)) - 15.59


class _Variables(Visitor):
    def __init__(self) -> None:
        self.names: set[str] = set()

    def visit_VariableReference(self, node: ast.VariableReference) -> None:  # noqa: N802 - the visitor's own spelling
        self.names.add(node.id.name)


def _variables() -> dict[str, set[str]]:
    """Variables by text id, for the texts that have any."""
    found: dict[str, set[str]] = {}
    for entry in FluentParser().parse(SOURCE).body:
        if isinstance(entry, ast.Message):
            parts = {entry.id.name: entry.value} | {f"{entry.id.name}.{a.id.name}": a.value for a in entry.attributes}
            for name, pattern in parts.items():
                seen = _Variables()
                if pattern:
                    seen.visit(pattern)
                if seen.names:
                    found[name] = seen.names
    return found


def test_file_parses_whole_and_names_each_message_once() -> None:
    body = FluentParser().parse(SOURCE).body
    assert [entry.content for entry in body if isinstance(entry, ast.Junk)] == []
    names = [entry.id.name for entry in body if isinstance(entry, ast.Message)]
    assert [name for name in names if names.count(name) > 1] == []


def test_every_text_that_the_data_calls_for_is_there_and_no_other() -> None:
    needed = set(_needed())
    needed |= enquiry_texts(TOPIC.folder, "en")
    assert needed - set(TEXTS) == set(), "missing"
    parts = ("touched", "called", "later", "beforehand")
    optional = {f"question-{question.id}.{part}" for question in TOPIC.flow.questions for part in parts}
    optional |= optional_enquiry_texts(TOPIC.folder, "en", TOPIC.questions)
    optional |= {f"fastening-{name}.glance" for name in TOPIC.fastenings}
    optional |= {f"caution-{row.id}.{part}" for row in TOPIC.catalogue.cautions for part in ("glance", "tool")}
    steps = [f"procedure-{procedure.id}-{step.id}" for procedure in TOPIC.procedures for step in procedure.steps]
    optional |= {f"{step}.{each}" for step in steps for each in (*EXITS, "check")}
    variants = re.compile(r"(direction|look-alike|remover)-[a-z0-9-]+\.(short|tried)")
    optional |= {name for name in TEXTS if variants.fullmatch(name)}
    optional |= {f"family-{name.partition('-')[0]}" for name in TOPIC.fastenings}
    optional |= {f"choice-{q.id}-{choice}.denied" for q in TOPIC.flow.questions for choice in q.choices}
    optional |= {
        f"choice-{q.id}-{c}.{each}" for q in TOPIC.flow.questions for c in q.choices for each in ("brief", "echo")
    }
    optional |= {f"question-{question.id}.why" for question in TOPIC.flow.questions}
    abilities = [question for question in TOPIC.flow.questions if question.purpose == "ability"]
    optional |= {f"choice-{q.id}-{c}.aside" for q in abilities for c in q.choices}
    optional |= {f"ability-{q.id}-{c}.first" for q in abilities for c in q.choices}
    optional |= SAID_BACK.keys()
    assert set(TEXTS) - needed <= optional, "left over"


def test_no_text_is_blank_or_badly_spaced() -> None:
    for name, text in TEXTS.items():
        assert text == text.strip() != "", name
        assert not re.search(r" {2,}| \n|\n | [,.;:?!]", text), (name, text)
        assert "'" not in text, f"{name}: write ’"
        assert '"' not in text, f"{name}: write “ and ”"


def test_variables_are_those_that_the_program_fills_in() -> None:
    counted = {f"question-{q.id}.said": {"value"} for q in TOPIC.flow.questions if q.kind != "choice"}
    tightened = {
        fastening.refitting.text: {"torque", "kilos", "handle"}
        for fastening in TOPIC.catalogue.fastenings
        if fastening.refitting and fastening.refitting.torque
    }
    asked = {name: names for name, names in _variables().items() if name.startswith("enquiry-")}
    assert set().union(*asked.values()) <= {"shop", "contact"}
    back = {name: names for name, names in SAID_BACK.items() if name in TEXTS}
    assert _variables() == counted | tightened | asked | back


def test_a_torque_reads_as_whole_numbers() -> None:
    assert "40 N·m" in TEXTS["refit-lockring"]
    assert "14 kilos of pull at the end of a 300 mm handle" in TEXTS["refit-lockring"]


def test_buttons_are_short_and_tell_the_choices_apart() -> None:
    for question in TOPIC.flow.questions:
        labels = [TEXTS[f"choice-{question.id}-{choice}"] for choice in question.choices]
        assert [label for label in labels if len(label) > BUTTON] == []
        assert len({label.lower() for label in labels}) == len(labels)
        for one, other in combinations(labels, 2):
            assert SequenceMatcher(None, one.lower(), other.lower()).ratio() < 0.9, (one, other)


def test_clauses_fit_inside_a_sentence() -> None:
    clauses = _starting("choice-", ".said") | _starting("question-", ".said") | _starting("question-", ".name")
    for name, clause in clauses.items():
        assert clause[0].islower(), name
        assert clause[-1] not in ".?!:;", name
        assert len(_sentences(clause)) == 1, name


def test_names_of_fastenings_and_tools_fit_inside_a_sentence() -> None:
    for prefix in ("fastening-", "remover-", "accessory-"):
        for name, text in (_starting(prefix) | _starting(prefix, ".short")).items():
            assert text[0].islower() or text[0].isdigit(), name
            assert text[-1] not in ".?!:;", name
    shorts = _starting("fastening-", ".short").values()
    assert len(set(shorts)) == len(TOPIC.fastenings)
    assert max(map(len, shorts)) <= BUTTON


def test_questions_ask_and_are_at_most_three_sentences() -> None:
    for question in TOPIC.flow.questions:
        for name in (f"question-{question.id}", f"question-{question.id}.short", f"question-{question.id}.again"):
            sentences = _sentences(TEXTS[name])
            assert len(sentences) <= SENTENCES, name
            assert max(len(_words(sentence)) for sentence in sentences) <= 30, name
            assert "?" in TEXTS[name] or question.kind == "size", name


def test_asking_again_uses_really_other_words() -> None:
    for question in TOPIC.flow.questions:
        first, again = (_sentences(TEXTS[f"question-{question.id}{end}"]) for end in ("", ".again"))
        assert not set(first) & set(again), question.id
        first_words, again_words = set(_words(" ".join(first))), set(_words(" ".join(again)))
        assert len(first_words & again_words) / len(first_words | again_words) < 0.5, question.id


def test_how_to_check_is_a_handful_of_short_steps() -> None:
    for name, text in _starting("question-", ".how").items():
        assert 2 <= len(text.splitlines()) <= 5, name
        assert max(len(_words(sentence)) for sentence in _sentences(text)) <= 20, name
        numbers = [int(n) for n in re.findall(r"(?m)^(\d+)\. ", text)]
        assert numbers == list(range(1, len(numbers) + 1)), name


def test_cautions_and_advice_are_one_to_three_sentences_without_the_signal_word() -> None:
    signals = [text.lower() for text in _starting("signal-").values()]
    for name, text in (_starting("caution-") | _starting("advice-") | _starting("referral-")).items():
        assert 1 <= len(_sentences(text)) <= SENTENCES, name
        assert not text.lower().startswith(tuple(signals)), name


def test_a_step_and_what_helps_are_one_to_four_short_sentences() -> None:
    for name, text in (_starting("procedure-") | _starting("help-")).items():
        sentences = _sentences(text)
        assert 1 <= len(sentences) <= SENTENCES + 1, name
        assert max(len(_words(sentence)) for sentence in sentences) <= 25, name
    buttons = {name: text for name, text in TEXTS.items() if name.startswith(("procedure-", "exit-"))}
    labels = {n: t for n, t in buttons.items() if n.startswith("exit-") or n.rpartition(".")[2] in EXITS}
    assert {name: text for name, text in labels.items() if len(text) > BUTTON} == {}


def test_signal_words_are_those_of_the_standard() -> None:
    """ISO 3864-2 and ANSI Z535 (secondary sources)."""
    assert _starting("signal-") == {
        "signal-warning": "WARNING",
        "signal-caution": "CAUTION",
        "signal-notice": "NOTICE",
    }


def test_the_left_hand_ring_is_told_to_turn_the_other_way() -> None:
    ring = TOPIC.fastenings["fixed-notched-ring"]
    assert re.search(r"\bring unscrews clockwise\b.*left-hand", TEXTS[f"direction-{ring.direction}"])
    assert ring.refitting is not None
    assert re.search(r"left-hand ring on anticlockwise", TEXTS[ring.refitting.text])
    assert " clockwise" not in TEXTS["direction-anticlockwise"]


def test_no_word_blames_talks_down_or_comes_from_across_the_sea() -> None:
    for name, text in TEXTS.items():
        for word in BANNED + NOT_BRITISH:
            assert not re.search(rf"\b{word}s?\b", text, re.IGNORECASE), (name, word)


@pytest.mark.parametrize(
    ("word", "syllables"),
    [
        *(("wheel", 1), ("hole", 1), ("wire", 1), ("spline", 1), ("splines", 1), ("stamped", 1)),
        *(("sprocket", 2), ("middle", 2), ("locknut", 2), ("innermost", 3), ("anticlockwise", 4)),
    ],
)
def test_syllables_are_counted_as_spoken(word: str, syllables: int) -> None:
    assert _syllables(word) == syllables


def test_grade_tells_plain_words_from_long_ones() -> None:
    assert _grade("The cat sat on the mat.") < 1
    assert _grade("Identification necessitates unambiguous characterisation of the mechanical interface.") > 20


def test_questions_and_instructions_read_at_the_age_of_eleven() -> None:
    """A grade of 5 to 6 is the age of 11; the average may not pass 7, nor any one text 9."""
    grades = {
        name: _grade(text) for end in ("", ".again", ".how") for name, text in _starting("question-", end).items()
    }
    assert fmean(grades.values()) <= GRADE
    assert {name: round(grade, 1) for name, grade in grades.items() if grade > GRADE + 2} == {}
