"""Notes that are kept elsewhere: the table of links, where a note's own links lead, and what a note may hand out."""

from collections.abc import Callable
from pathlib import Path

import pytest

from triagebot.errors import DataError
from triagebot.shop import load_shop, notes_for
from triagebot.topics import Topic

Edit = Callable[[str, str, str], int]
Complaints = Callable[..., list[str]]
NOTE = "notes/freewheel-2-notch.md"
HERE = "https://shop.example.org/notes"


@pytest.fixture
def table(folder: Path) -> Callable[[str], None]:
    def write(rows: str) -> None:
        (folder / "links.yaml").write_text(f"links:\n{rows}", encoding="utf-8")

    return write


def urls(folder: Path, topic: Topic, fastening: str, section: str | None = None) -> list[str]:
    return [link.url for link in notes_for(load_shop(folder, topic).read_at(HERE), fastening, section=section)]


def test_the_section_comes_before_the_fastening_and_the_note(
    folder: Path, topic: Topic, table: Callable[[str], None]
) -> None:
    table(
        "  freewheel-2-notch: https://example.org/two\n"
        "  freewheel-2-notch#put-it-back: https://example.org/two#back\n"
        '  electric-hub: {title: "Motors", address: "https://example.org/motors"}\n'
    )
    assert urls(folder, topic, "freewheel-2-notch") == ["https://example.org/two"]
    assert urls(folder, topic, "freewheel-2-notch", "put-it-back") == ["https://example.org/two#back"]
    assert urls(folder, topic, "freewheel-2-notch", "take-it-off") == ["https://example.org/two"]
    assert urls(folder, topic, "freewheel-20-spline") == [f"{HERE}/freewheel-20-spline"]
    shop = load_shop(folder, topic)
    found = notes_for(shop, "freewheel-2-notch", answers={"motor": "rear-hub"})
    assert [(link.title, link.url) for link in found[1:]] == [("Motors", "https://example.org/motors")]


def test_a_fastening_without_a_note_here_is_described_elsewhere(
    folder: Path, topic: Topic, edit: Edit, complaints: Complaints, table: Callable[[str], None]
) -> None:
    edit(NOTE, "fastenings: [freewheel-2-notch]\nremovers: [remover-2-notch]\n", "answers: {wheel: [in]}\n")
    edit(NOTE, "title:", "slug: two-notches\ntitle:")
    assert any("no note is about the fastening 'freewheel-2-notch'" in row for row in complaints())
    table('  freewheel-2-notch: {title: "Two notches", address: "https://example.org/two"}\n')
    assert complaints() == []
    (link,) = notes_for(load_shop(folder, topic), "freewheel-2-notch")
    assert (link.title, link.url) == ("Two notches", "https://example.org/two")


def test_a_note_names_the_part_that_is_about_one_of_its_fastenings(folder: Path, topic: Topic) -> None:
    assert urls(folder, topic, "freewheel-12-spline-small") == [f"{HERE}/to-the-shop#bring-it"]
    assert urls(folder, topic, "unlisted") == [f"{HERE}/to-the-shop"]


def test_a_shop_that_says_where_its_notes_are_keeps_to_it(folder: Path, topic: Topic, edit: Edit) -> None:
    edit("shop.yaml", "# notes-address: https://lantern-and-ratchet.example.org/notes", f"notes-address: {HERE}")
    shop = load_shop(folder, topic)
    assert shop.read_at("https://other.example.org") is shop


def test_a_shop_without_a_table_of_links_has_none(folder: Path, topic: Topic, complaints: Complaints) -> None:
    (folder / "links.yaml").unlink()
    assert load_shop(folder, topic).elsewhere == {}
    assert complaints() == []


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("freewheel-2-notches: https://example.org/", "did you mean 'freewheel-2-notch'?"),
        ("freewheel-2-notch#put-back: https://example.org/", "did you mean 'put-it-back'?"),
        ("tea#pot: https://example.org/", "'tea' is no note here"),
        ("two notches: https://example.org/", "write a note, a note and its section"),
        ("freewheel-2-notch: javascript:alert(1)", "write an address like"),
        ("freewheel-2-notch: 'https://example.org/\"onclick=x'", "write an address like"),
        ("freewheel-2-notch: {title: Two}", "address: is missing"),
        ("freewheel-2-notch: [https://example.org/]", "links.freewheel-2-notch"),
        ("freewheel-2-notch: {address: https://example.org/, colour: red}", "is no key that is known here"),
    ],
)
def test_a_table_that_leads_nowhere_is_refused_with_its_line(
    folder: Path, topic: Topic, table: Callable[[str], None], row: str, said: str
) -> None:
    table(f"  {row}\n")
    with pytest.raises(DataError) as caught:
        load_shop(folder, topic)
    (problem,) = caught.value.problems
    assert problem.file == str(folder / "links.yaml")
    assert problem.line == 2
    assert said in str(problem)


def test_a_fastening_that_is_only_described_elsewhere_needs_a_title(
    folder: Path, topic: Topic, edit: Edit, table: Callable[[str], None]
) -> None:
    edit(NOTE, "fastenings: [freewheel-2-notch]\nremovers: [remover-2-notch]\n", "slug: two\n")
    table("  freewheel-2-notch: https://example.org/two\n")
    with pytest.raises(DataError, match="so give a title"):
        load_shop(folder, topic)


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ("sections: {freewheel-2-notch: take-of}", "did you mean 'take-it-off'?"),
        ("sections: {freewheel-20-spline: take-it-off}", "is not among this note's fastenings"),
    ],
)
def test_a_part_that_a_note_does_not_have_is_refused(
    folder: Path, topic: Topic, edit: Edit, head: str, said: str
) -> None:
    edit(NOTE, "removers: [remover-2-notch]", f"removers: [remover-2-notch]\n{head}")
    with pytest.raises(DataError) as caught:
        load_shop(folder, topic)
    assert said in str(caught.value)
    assert NOTE in str(caught.value)


@pytest.mark.parametrize(
    ("name", "size", "markdown", "said"),
    [
        ("two.png", 100, "![the tool](two.png)", None),
        ("plan.pdf", 100, "[the plan](plan.pdf)", None),
        ("two.png", 2_000_001, "![the tool](two.png)", "is larger than 2 MB"),
        ("two.bmp", 100, "![the tool](two.bmp)", "is not of a kind that pages show"),
        ("plan.pdf", 100, "![the plan](plan.pdf)", "is not of a kind that pages show"),
        ("x.html", 100, "[a page](x.html)", "is not of a kind that pages show"),
        ("two.png", 100, "![the tool](https://example.org/two.png)", "lies elsewhere"),
        ("two.png", 100, "[the tools](../tools.yaml)", "is not of a kind that pages show"),
    ],
)
def test_what_a_note_shows_and_hands_out(
    folder: Path, edit: Edit, complaints: Complaints, name: str, size: int, markdown: str, said: str | None
) -> None:
    begins = {".png": b"\x89PNG\r\n\x1a\n", ".pdf": b"%PDF-1.7\n"}.get(Path(name).suffix, b"")
    (folder / "notes" / name).write_bytes(begins + b"x" * (size - len(begins)))
    line = edit(NOTE, "## You need", f"{markdown}\n\n## You need")
    told = complaints()
    if said is None:
        assert told == []
    else:
        (row,) = told
        assert row.startswith(f"{NOTE}:{line}:1: ")
        assert said in row
