"""README and DEVELOPERS say what the code does: what is made from it is the same, and every command named exists."""

import re
from pathlib import Path

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
    named = set(re.findall(r"`triagebot ([a-z][a-z-]*(?: show)?)", text))
    known = {name for name in app if not name.startswith("-")} - {"topics"}
    assert named == known | {f"topics {name}" for name in topics if not name.startswith("-")}


#: Every page but the notes of a shop, whose links `triagebot check` proves.
PAGES = sorted(
    str(page.relative_to(ROOT))
    for start in ("*.md", "deploy/**/*.md", "tests/**/*.md", "triagebot/**/*.md")
    for page in ROOT.glob(start)
    if "notes" not in page.parts
)


def headings(page: Path) -> set[str]:
    """The addresses of a page's headings."""
    found = re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in found}


@pytest.mark.parametrize("file", PAGES)
def test_what_a_page_links_to_is_there(file: str) -> None:
    broken = []
    for link, _, place in re.findall(r"\]\(([^)#:]*)(#([^):]+))?\)", (ROOT / file).read_text(encoding="utf-8")):
        target = (ROOT / file).parent / link if link else ROOT / file
        if not target.exists() or (place and place not in headings(target)):
            broken.append(f"{link}#{place}")
    assert broken == []


def test_the_guide_leads_to_every_page_of_a_room() -> None:
    """A page that nothing leads to is not found; DEVELOPERS.md or README.md names each."""
    linked = {
        (ROOT / link).resolve()
        for page in ("DEVELOPERS.md", "README.md")
        for link in re.findall(r"\]\(([^)#:]+)", (ROOT / page).read_text(encoding="utf-8"))
    }
    assert {page for page in PAGES if (ROOT / page).resolve() not in linked} <= {"DEVELOPERS.md", "README.md"}


def test_the_guide_is_short_enough_to_be_read() -> None:
    assert len((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()) <= 450


NAMED = re.compile(r"`((?:triagebot|tests|deploy|flows|text)/[\w/.<>*-]+\.[a-z]+)`")


@pytest.mark.parametrize("file", PAGES)
def test_every_file_that_a_page_names_is_there(file: str) -> None:
    named = NAMED.findall((ROOT / file).read_text(encoding="utf-8"))
    topic = ROOT / "flows/rear-sprockets"
    paths = [re.sub(r"<language>", "en", re.sub(r"<[^>]+>", "*", name.replace("<language>", "en"))) for name in named]
    assert [path for path in paths if not any([*ROOT.glob(path), *topic.glob(path)])] == []
