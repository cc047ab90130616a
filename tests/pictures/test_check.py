"""`check_pictures` finds what could not be drawn before anybody needs it."""

import sys
from pathlib import Path
from subprocess import run

from triagebot.pictures import check_pictures
from triagebot.topics import Topic, load_topic


def edit(file: Path, old: str, new: str) -> int:
    """Replace the first occurrence; returns the line on which it stood."""
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), encoding="utf-8")
    return text[: text.index(old)].count("\n") + 1


def test_the_topic_that_ships_can_be_drawn(topic: Topic) -> None:
    assert check_pictures(topic) == ()


def test_a_picture_that_nobody_can_draw_is_named_with_its_place(folder: Path) -> None:
    line = edit(folder / "flow.yaml", "picture: fitting-kinds", "picture: a-rainbow")
    (problem,) = check_pictures(load_topic(folder))
    assert (problem.file, problem.line) == (str(folder / "flow.yaml"), line)
    assert "questions[fitting].picture" in problem.message
    assert "a-rainbow" in problem.message
    assert "measure-across" in problem.message


def test_a_text_that_is_lacking_is_named(folder: Path) -> None:
    edit(folder / "text" / "en.ftl", "picture-wire-ring =", "picture-wire =")
    (problem,) = check_pictures(load_topic(folder))
    assert "picture-wire-ring" in problem.message


def test_letters_that_the_font_lacks_are_named(folder: Path) -> None:
    with (folder / "text" / "en.ftl").open("a", encoding="utf-8") as file:
        file.write("\nlabel-axle = 軸\n")
    problems = check_pictures(load_topic(folder))
    assert problems
    assert {problem.file for problem in problems} == {str(folder / "text" / "en.ftl")}
    assert all("軸" in problem.message for problem in problems)


def test_looking_for_pictures_loads_neither_renderer_nor_font() -> None:
    """Starting a conversation must stay quick."""
    code = "import sys, triagebot.pictures; print(sorted({'fontTools', 'resvg_py'} & set(sys.modules)))"
    assert run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"
