"""README and DEVELOPERS say what the code does: what is made from it is the same, and every command named exists."""

import re

import pytest

from tests.documents import PARTS, ROOT, with_part
from triagebot.cli import app, topics


@pytest.mark.parametrize(("file", "name"), [(file, name) for file, parts in PARTS.items() for name in parts])
def test_made_parts_are_fresh(file: str, name: str) -> None:
    text = (ROOT / file).read_text(encoding="utf-8")
    assert with_part(text, name, PARTS[file][name]()) == text, "run: python -m tests.documents"


def test_the_readme_is_short_enough_to_be_read() -> None:
    assert len((ROOT / "README.md").read_text(encoding="utf-8").split()) <= 900


def test_every_command_is_in_the_page_about_running_it() -> None:
    text = (ROOT / "deploy/README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`triagebot ([a-z]+(?: show)?)", text))
    known = {name for name in app if not name.startswith("-")} - {"topics"}
    assert named == known | {f"topics {name}" for name in topics if not name.startswith("-")}


@pytest.mark.parametrize("file", [*PARTS, "deploy/example-shop/README.md", "triagebot/counter/README.md"])
def test_what_a_page_links_to_is_there(file: str) -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", (ROOT / file).read_text(encoding="utf-8"))
    assert [link for link in links if not (ROOT / file).parent.joinpath(link).exists()] == []
