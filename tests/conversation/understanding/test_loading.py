"""The words files: what is wrong in them is said with its place, and a language is files alone."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml

from triagebot.conversation.understanding import Setting, Words, check_words, languages, load_words, understand
from triagebot.errors import DataError
from triagebot.identify.readings import ChoiceReading, CountReading, SizeReading
from triagebot.topics.schema import Question

TOPIC = Path(__file__).parents[3] / "flows" / "rear-sprockets"


@pytest.fixture
def topic(tmp_path: Path) -> Path:
    (tmp_path / "text").mkdir()
    shutil.copy(TOPIC / "text" / "en.words.yaml", tmp_path / "text" / "en.words.yaml")
    return tmp_path


def spoil(topic: Path, old: str, new: str) -> int:
    """Replace `old` once; the line (from 1) where it stood."""
    file = topic / "text" / "en.words.yaml"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), encoding="utf-8")
    return text[: text.index(old)].count("\n") + 1


def test_the_built_in_words_fit_the_built_in_topic(
    words: Words, questions: dict[str, Question], gauges: dict[str, float]
) -> None:
    assert check_words(words, questions, gauges) == ()
    assert "en" in languages()


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("makers: marking", "maker: marking", "maker"),
        ("choices:\n", "choices: [\n", ""),
        ("names:\n", "nouns:\n", "twice"),
        ("  spin: [spin, spinning", "  spin: {a: b}\n  fin: [spin, spinning", "tuple"),
    ],
)
def test_a_wrong_file_is_refused_with_its_place(topic: Path, old: str, new: str, message: str) -> None:
    line = spoil(topic, old, new)
    with pytest.raises(DataError) as refused:
        load_words("en", topic)
    problem = refused.value.problems[0]
    assert message in problem.message
    assert problem.file.endswith("en.words.yaml")
    assert problem.line >= line


def test_a_pattern_that_cannot_be_read_is_refused(topic: Path) -> None:
    spoil(topic, '"<m-turn>"', '"<turned> (along"')
    with pytest.raises(DataError, match="no part named 'turned'"):
        load_words("en", topic)


def test_a_code_is_refused_where_it_would_match_every_code(topic: Path) -> None:
    spoil(topic, '"tools here #"', '"m10 tools here"')
    with pytest.raises(DataError, match="has a code in it"):
        load_words("en", topic)


def test_a_missing_language_is_refused_with_both_files(topic: Path) -> None:
    with pytest.raises(DataError) as refused:
        load_words("xx", topic)
    assert len(refused.value.problems) == 2


def test_unknown_ids_are_found_with_their_line(
    topic: Path, questions: dict[str, Question], gauges: dict[str, float]
) -> None:
    lines = {
        "gauge 'eur-3'": spoil(topic, "  eur-2:", "  eur-3:"),
        "choice 'fastened'": spoil(topic, "    fixed:\n", "    fastened:\n"),
        "question 'wheels'": spoil(topic, '"no": {wheel: in,', '"no": {wheels: in,'),
    }
    problems = check_words(load_words("en", topic), questions, gauges)
    for part, line in lines.items():
        assert [p.line for p in problems if part in p.message] == [line], part
    assert any("no words for choice 'fixed'" in p.message for p in problems)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("own-counts:\n  body: {nine", "own-counts:\n  body: {ten", "question 'body' has no choice 'ten-one-narrow'"),
        ("hub: {geared: [sprockets]}", "hub: {toothed: [sprockets]}", "question 'hub' has no choice 'toothed'"),
        ("cannot:\n  spin:", "cannot:\n  spinning:", "no question 'spinning'"),
    ],
)
def test_what_second_thoughts_and_counts_are_about_exists(
    topic: Path, questions: dict[str, Question], gauges: dict[str, float], old: str, new: str, message: str
) -> None:
    spoil(topic, old, new)
    assert any(message in p.message for p in check_words(load_words("en", topic), questions, gauges))


GERMAN_PROGRAM = {
    "commands": {"help": {"alone": ["hilfe"]}, "how": {"alone": ["wie"], "within": ["wie (messe|zähle) ich"]}},
    "numbers": {"language": "de", "articles": ["ein", "eine"], "joints": ["und"], "decimal": ["komma"]},
    "units": {"mm": {"mm": "1", "written": ["mm", "Millimeter"]}},
    "hedges": {"about": ["ungefähr", "etwa"]},
    "joints": {"to": ["bis", "-"], "or": ["oder"]},
    "shapes": {},
    "means": {"calliper": ["Messschieber", "Schieblehre"]},
    "comparisons": {"just-above": ["etwas (größer|breiter) als"]},
    "negations": {"near": ["keine", "kein"], "far": ["nicht"]},
    "corrections": ["nein doch", "ich meine"],
    "unsure": ["keine Ahnung", "weiß (ich|) nicht"],
    "breaks": ["aber"],
    "elsewhere": ["Jahre"],
    "hostile": [],
    "off-topic": [],
    "fillers": ["es", "hat", "ist"],
}
GERMAN_TOPIC = {
    "choices": {
        "fitting": {"notches": {"words": ["Kerben", "Nuten"]}, "splines": {"words": ["Keilnuten", "Verzahnung"]}},
        "spin": {"stays": {"words": ["(dreht|bewegt) sich nicht (mit|)", "steht still"]}},
    },
    "nouns": {"count": {"words": ["Kerben", "Nuten"]}},
    "gauges": {"eur-1": ["(1|ein|eine) Euro (Münze|Stück|)", "eine 1 Euro Münze"]},
}


def test_a_new_language_is_two_files(tmp_path: Path, setting: Callable[..., Setting]) -> None:
    topic, program = tmp_path / "topic", tmp_path / "program"
    (topic / "text").mkdir(parents=True)
    program.mkdir()
    (program / "de.yaml").write_text(yaml.safe_dump(GERMAN_PROGRAM, allow_unicode=True), encoding="utf-8")
    (topic / "text" / "de.words.yaml").write_text(yaml.safe_dump(GERMAN_TOPIC, allow_unicode=True), encoding="utf-8")
    german = load_words("de", topic, program)
    english = setting()
    here = Setting(german, english.questions, None, (), (), {}, english.gauges, False)
    facts = understand("Es hat vier Kerben, etwa dreiundzwanzig Millimeter, dreht sich nicht mit", here).facts
    assert [fact.reading for fact in facts] == [
        CountReading("count", 4, 4),
        ChoiceReading("fitting", "notches"),
        SizeReading("size", 23.0, 0.5),
        ChoiceReading("spin", "stays"),
    ]
    assert [f.reading for f in understand("23,4 mm mit der Schieblehre", here).facts] == [
        SizeReading("size", 23.4, 0.0, "calliper")
    ]
    assert [f.reading for f in understand("etwas größer als eine 1-Euro-Münze", here).facts] == [
        SizeReading("size", 24.0, 0.75, "gauge")
    ]
    assert understand("Hilfe!", here).command == "help"
    assert [f.reading for f in understand("keine Nuten", here).facts] == [ChoiceReading("fitting", "notches", True)]
