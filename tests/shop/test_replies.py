"""Canned replies: what the staff often write, in the shop's own file, which a shop may do without."""

from collections.abc import Callable
from pathlib import Path

import pytest

from triagebot.errors import DataError
from triagebot.shop import load_shop
from triagebot.topics import Topic

Edit = Callable[[str, str, str], int]

HEAD = "replies:\n  - id: bring-it\n    title: Bring the wheel\n"


def test_a_reply_is_found_in_the_language_of_its_reader(folder: Path, topic: Topic) -> None:
    texts = '    text: {en: "Bring it.", de: "Bringen Sie es."}\n'
    (folder / "replies.yaml").write_text(HEAD + texts, encoding="utf-8")
    (reply,) = load_shop(folder, topic).replies
    assert (reply.id, reply.title) == ("bring-it", "Bring the wheel")
    assert reply.in_language("de", "en") == "Bringen Sie es."
    assert reply.in_language("fr", "en") == "Bring it."
    assert reply.in_language("fr") == "Bring it."


def test_a_shop_may_have_none(folder: Path, topic: Topic, complaints: Callable[..., list[str]]) -> None:
    (folder / "replies.yaml").unlink()
    assert load_shop(folder, topic).replies == ()
    assert complaints() == []


def test_the_digest_changes_with_them(folder: Path, topic: Topic, edit: Edit) -> None:
    before = load_shop(folder, topic).digest
    edit("replies.yaml", "Your wheel is ready.", "Your wheel is done.")
    assert load_shop(folder, topic).digest != before


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("id: ready", "id: Ready Now", "should be lowercase words joined by hyphens"),
        ("id: ready", "id: photo", "'photo' stands twice (also in replies.yaml)"),
        ("      en: Your wheel", "      de: Your wheel", "'ready' has no text in the shop's own language, 'en'"),
        ("      en: Your wheel", "      English: Your wheel", "write a language like en or pt-BR"),
        ("title: It is ready", 'title: ""', "title"),
        ("title: It is ready", "titel: It is ready", "titel"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(
    folder: Path, topic: Topic, edit: Edit, old: str, new: str, said: str
) -> None:
    line = edit("replies.yaml", old, new)
    with pytest.raises(DataError) as caught:
        load_shop(folder, topic)
    problem = next(p for p in caught.value.problems if said in str(p))
    assert problem.file == str(folder / "replies.yaml")
    assert abs(problem.line - line) <= 1
