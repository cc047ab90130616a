"""Texts by name: the topic's before the program's, attributes, variables, and clear faults."""

import random
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from fluent.syntax import FluentParser, ast

from triagebot.errors import DataError
from triagebot.topics import Texts, built_in_topic, languages, load_texts, proved_texts
from triagebot.topics.texts import PROGRAM, LaterBundle, QuickParser, text_file


@pytest.fixture
def folders(tmp_path: Path) -> tuple[Path, Path]:
    for name in ("topic", "program"):
        (tmp_path / name / "text").mkdir(parents=True)
    return tmp_path / "topic", tmp_path / "program"


def _texts(folders: tuple[Path, Path], topic: str, program: str = "", language: str = "en") -> Texts:
    for folder, content in zip(folders, (topic, program), strict=True):
        (folder / "text" / f"{language}.ftl").write_text(content, encoding="utf-8")
    return load_texts(folders[0], language, folders[1])


TOPIC = """\
-tool = remover
spin = Does it turn?
    .how = Take the wheel out and
        spin it.
    .said = you said { $value }
count = { $number ->
    [one] { $number } notch
   *[other] { $number } notches
}
long = { spin } Use the { -tool }.
onlyattributes =
    .x = y
"""


def test_a_text_is_called_by_its_name(folders: tuple[Path, Path]) -> None:
    texts = _texts(folders, TOPIC, "help = Help me\nspin = Turn?\n")
    assert texts.language == "en"
    assert texts("spin") == "Does it turn?", "the topic's own words win over the program's"
    assert texts("help") == "Help me"
    assert texts("spin.how") == texts.attribute("spin", "how") == "Take the wheel out and\nspin it."
    assert texts("spin.said", value="yes") == texts.attribute("spin", "said", value="yes") == "you said yes"
    assert texts("count", number=1) == "1 notch"
    assert texts("count", number=4) == "4 notches"
    assert texts("long") == "Does it turn? Use the remover.", "no invisible marks round what is put in"
    assert texts.has("spin")
    assert texts.has("spin", "how")
    assert texts.has("spin.how")
    assert not texts.has("spin", "why")
    assert not texts.has("spun")
    assert not texts.has("onlyattributes")
    assert texts.has("onlyattributes.x")


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("spun", "there is no text 'spun'"),
        ("spin.why", "there is no text 'spin.why'"),
        ("onlyattributes", "there is no text 'onlyattributes'"),
        ("spin.said", "text 'spin.said': Unknown external: value"),
        ("", "there is no text ''"),
        ("-tool", "there is no text '-tool'"),
    ],
)
def test_a_text_that_cannot_be_said_is_a_fault(folders: tuple[Path, Path], name: str, message: str) -> None:
    texts = _texts(folders, TOPIC)
    with pytest.raises(DataError) as caught:
        texts(name)
    assert str(caught.value) == f"{folders[0] / 'text' / 'en.ftl'}:0:0: {message}"


def test_a_file_that_is_no_fluent_names_the_place(folders: tuple[Path, Path]) -> None:
    with pytest.raises(DataError) as caught:
        _texts(folders, "a = fine\nb oh\n", "c = { $x\n")
    rows = [str(problem) for problem in caught.value.problems]
    assert rows == [
        f'{folders[1] / "text" / "en.ftl"}:2:1: this is not Fluent: Expected token: "}}"',
        f'{folders[0] / "text" / "en.ftl"}:2:3: this is not Fluent: Expected token: "="',
    ]


def test_other_editors_line_ends_and_marks(folders: tuple[Path, Path]) -> None:
    _texts(folders, "", "")
    (folders[0] / "text" / "en.ftl").write_bytes(b"\xef\xbb\xbfa = one\r\n    two\r\nb = three\r\n")
    texts = load_texts(folders[0], "en", folders[1])
    assert texts("a") == "one\ntwo"
    assert texts("b") == "three"
    (folders[0] / "text" / "en.ftl").write_bytes(b"a = caf\xe9\n")
    with pytest.raises(DataError, match="not UTF-8"):
        load_texts(folders[0], "en", folders[1])


@pytest.mark.parametrize("language", ["fr", "", "../en", "en/../en", "EN", "en\n"])
def test_a_language_that_is_not_there_says_which_are(folders: tuple[Path, Path], language: str) -> None:
    _texts(folders, "a = b\n")
    with pytest.raises(DataError, match="there are: en"):
        load_texts(folders[0], language, folders[1])


def test_a_text_file_that_cannot_be_read(folders: tuple[Path, Path]) -> None:
    _texts(folders, "a = b\n")
    with pytest.raises(DataError, match="braces too deep"):
        _texts(folders, "a = " + "{" * 100_000)
    (folders[0] / "text" / "en.ftl").unlink()
    (folders[0] / "text" / "en.ftl").mkdir()
    with pytest.raises(DataError, match=r"en\.ftl:0:0: cannot be read"):
        load_texts(folders[0], "en", folders[1])


def test_languages_are_the_text_files(folders: tuple[Path, Path]) -> None:
    for name in ("en.ftl", "de.ftl", "pt-BR.ftl", "en.words.yaml", "Notes.ftl", "backup.old.ftl"):
        (folders[0] / "text" / name).write_text("", encoding="utf-8")
    assert languages(folders[0]) == ("de", "en", "pt-BR")
    assert languages(folders[0] / "nowhere") == ()


def test_numbers_are_written_as_the_language_does(folders: tuple[Path, Path]) -> None:
    assert _texts(folders, "a = { $mm } mm\n", language="de")("a", mm=23.4) == "23,4 mm"


def test_the_topic_that_ships_speaks() -> None:
    texts = load_texts(built_in_topic(), "en")
    assert texts("topic-name")
    assert "40" in texts("refit-lockring", torque=40, kilos=14, handle=300)


def test_texts_that_are_parsed_when_wanted_are_the_same() -> None:
    whole, later = load_texts(built_in_topic(), "en"), proved_texts(built_in_topic(), "en")
    for folder in (built_in_topic(), PROGRAM):
        for entry in FluentParser().parse(text_file(folder, "en").read_text(encoding="utf-8")).body:
            if isinstance(entry, ast.Message):
                for name in (None, *(attribute.id.name for attribute in entry.attributes)):
                    assert later.has(entry.id.name, name) == whole.has(entry.id.name, name)
                    assert _said(later, entry.id.name, name) == _said(whole, entry.id.name, name)
    assert not later.has("no-such-text")


def _said(texts: Texts, message: str, attribute: str | None) -> str:
    """The text, or what is wrong with it where it wants variables."""
    try:
        return texts(message if attribute is None else f"{message}.{attribute}")
    except DataError as fault:
        return str(fault)


def test_the_quick_parser_gives_what_the_library_gives_on_whole_and_on_mangled_files() -> None:
    chance = random.Random(1)
    pieces = [
        "{",
        "}",
        "\n",
        " ",
        "a",
        "-",
        "$x",
        "->",
        "[one]",
        "*[other]",
        ".",
        "=",
        '"',
        "\\u00",
        "#",
        "é",
        "\r",
        "1",
    ]
    for folder in (built_in_topic(), PROGRAM):
        source = text_file(folder, "en").read_text(encoding="utf-8")
        assert QuickParser().parse(source).to_json() == FluentParser().parse(source).to_json()
        for _ in range(300):
            start = chance.randrange(len(source))
            mangled = source[start : start + 200]
            for _ in range(chance.randrange(1, 6)):
                place = chance.randrange(len(mangled) + 1)
                mangled = mangled[:place] + chance.choice(pieces) + mangled[place + chance.randrange(3) :]
            mangled = mangled.replace("\r\n", "\n")
            assert QuickParser().parse(mangled).to_json() == FluentParser().parse(mangled).to_json(), mangled


def test_several_threads_may_want_the_same_text_first() -> None:
    """It is parsed then, and is there for all of them all the while."""
    for _ in range(20):
        bundle = LaterBundle("en")
        bundle.add_source("".join(f"text-{number} = words\n" for number in range(200)))
        texts, go = Texts("en", bundle, Path("en.ftl")), threading.Barrier(4)

        def read(texts: Texts = texts, go: threading.Barrier = go) -> list[str]:
            go.wait()
            return [texts(f"text-{number}") for number in range(200)]

        with ThreadPoolExecutor(4) as pool:
            for read_there in [pool.submit(read) for _ in range(4)]:
                assert read_there.result() == ["words"] * 200
