"""What a shop ought to hold: nothing to say about the example, and one complaint for each thing taken away from it."""

import re
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from subprocess import run

import pytest

from triagebot.shop import check_shop
from triagebot.topics import Topic

Edit = Callable[[str, str, str], int]
Complaints = Callable[..., list[str]]
NOTE = "notes/freewheel-2-notch.md"


def test_the_example_shop_is_whole(complaints: Complaints) -> None:
    assert complaints() == []


#: file, text, what it becomes, where it is told (empty: the same file), a part of what is said.
LACKING = [
    ("tools.yaml", "tool: remover-20-spline", "tool: remover-20-spline", "", None),
    ("makers.yaml", "choice: odd-freewheel", "choice: other-freewheel", "", "'odd-freewheel' has no entry"),
    (
        NOTE,
        "fastenings: [freewheel-2-notch]\nremovers: [remover-2-notch]\n",
        "",
        "notes",
        "about the fastening 'freewheel-2-notch'",
    ),
    (
        NOTE,
        "removers: [remover-2-notch]",
        "removers: [two-chain-whips]",
        "",
        "none of this note's fastenings comes off with",
    ),
    ("tools.yaml", "name: the two-prong", "name: the fork", NOTE, "never says 'the fork'"),
    (NOTE, "reviewed-on: 2026-10-06\nreviewed-by: workshop lead\n", "", "", "nobody has reviewed this note"),
    (NOTE, "2026-10-06", "2027-10-06", "", "2027-10-06 has not come yet"),
    (NOTE, "2026-10-06", "2023-10-06", "", "overdue since 2025-10-06"),
    (NOTE, "(to-the-shop.md)", "(to-a-shop.md)", "", "'to-a-shop.md' leads to no file"),
    (NOTE, "(#before-you-buy)", "(#before-you-sell)", "", "no heading of that note has the address #before-you-sell"),
    (NOTE, "to-the-shop.md#bring-it", "to-the-shop.md#send-it", "", "no heading of that note has the address #send-it"),
    (NOTE, "(to-the-shop.md)", "(../../secrets.md)", "", "leads out of the shop folder"),
    (NOTE, "(to-the-shop.md)", "(/etc/passwd)", "", "leads out of the shop folder"),
    (NOTE, "(to-the-shop.md)", "(//example.org/a)", "", "leads out of the shop folder"),
    (NOTE, "(to-the-shop.md)", f"({'a' * 300}.md)", "", "leads to no file"),
    (NOTE, "(to-the-shop.md)", "(.)", "", "'.' leads to no file"),
    (NOTE, "## You need", "![the tool](two-prong.png)\n\n## You need", "", "'two-prong.png' leads to no file"),
    (NOTE, "## You need", "You need\n--------", "", "write a heading as # signs"),
    (NOTE, "## You need", "## Take it off!\n\n## You need", "", "a second heading has the address #take-it-off"),
    (NOTE, "## You need", "## ?\n\n## You need", "", "a heading needs a letter or a digit"),
    ("notes/electric-hub.md", "answers:\n  motor: [rear-hub, elsewhere]\n  axle: [motor-cable]\n", "", "", None),
]


@pytest.mark.parametrize(("name", "old", "new", "where", "said"), LACKING)
def test_what_is_lacking_is_told_in_its_place(
    edit: Edit, complaints: Complaints, name: str, old: str, new: str, where: str, said: str | None
) -> None:
    edit(name, old, new)
    told = complaints()
    if said is None:
        assert told == []
        return
    assert any(row.startswith(f"{where or name}:") and said in row for row in told), told


def test_a_broken_link_is_told_on_its_own_line(edit: Edit, complaints: Complaints) -> None:
    line = edit(NOTE, "(electric-hub.md#take-it-off)", "(electrc-hub.md)")
    assert complaints() == [f"{NOTE}:{line}:1: 'electrc-hub.md' leads to no file"]


def test_a_note_that_cannot_be_read_is_told_once_and_not_by_all_that_lead_to_it(
    edit: Edit, complaints: Complaints
) -> None:
    edit("notes/electric-hub.md", "title: ", "title: [")
    (told,) = complaints()
    assert told.startswith("notes/electric-hub.md:")


def test_links_to_the_web_and_to_mail_are_let_be(edit: Edit, complaints: Complaints) -> None:
    edit(NOTE, "## You need", "[web](https://example.org/x#y), [mail](mailto:bench@example.org)\n\n## You need")
    assert complaints() == []


def test_a_remover_is_on_the_wall_or_declared_missing(folder: Path, edit: Edit, complaints: Complaints) -> None:
    text = (folder / "tools.yaml").read_text(encoding="utf-8")
    without = re.sub(r"  - tool: remover-20-spline\n(?:    .*\n)+", "", text)
    assert without != text
    (folder / "tools.yaml").write_text(without, encoding="utf-8")
    (row,) = complaints()
    assert row.startswith("tools.yaml:")
    assert "'remover-20-spline' of the topic is neither here nor under not-held" in row
    edit("tools.yaml", "not-held: []", "not-held: [remover-20-spline]")
    assert complaints() == []


def test_a_note_that_nothing_leads_to_is_told(folder: Path, edit: Edit, complaints: Complaints) -> None:
    lonely = folder / "notes" / "coffee.md"
    lonely.write_text(
        "---\ntitle: Coffee\nlanguage: en\nreviewed-on: 2026-10-01\nreviewed-by: treasurer\n---\n", encoding="utf-8"
    )
    assert [row.split(": ", 1)[1] for row in complaints()] == [
        "ought: nothing leads to this note: name fastenings or answers, or link it from another note"
    ]
    edit(NOTE, "## You need", "[Coffee](coffee.md)\n\n## You need")
    assert complaints() == []


def test_an_unreadable_note_is_told_once_and_not_also_as_missing(edit: Edit, complaints: Complaints) -> None:
    edit(NOTE, "language: en", "languages: en")
    assert sorted(row.split(": ", 1)[1] for row in complaints() if row.startswith(NOTE)) == [
        "language: is missing",
        "languages: is no key that is known here; did you mean language?",
    ]
    assert not any("no note is about" in row for row in complaints())


def test_all_notes_grow_stale_in_the_end(folder: Path, complaints: Complaints) -> None:
    rows = complaints(date(2030, 1, 1))
    assert len(rows) == len(list((folder / "notes").glob("*.md")))
    assert all("overdue since 2028-" in row for row in rows)


def test_faults_of_shape_and_of_substance_are_told_together(edit: Edit, complaints: Complaints) -> None:
    edit("tools.yaml", "tool: remover-20-spline", "tool: remover-21-spline")
    edit(NOTE, "2026-10-06", "2023-10-06")
    told = "\n".join(complaints())
    for said in ("did you mean 'remover-20-spline'?", "neither here nor under not-held", "overdue since"):
        assert said in told


def test_a_folder_that_is_not_there_is_told_and_nothing_is_raised(tmp_path: Path, topic: Topic) -> None:
    assert len(check_shop(tmp_path / "nowhere", topic, date(2026, 11, 25))) == 3


def test_reading_a_shop_does_not_load_the_markdown_library() -> None:
    code = "import sys, triagebot.shop as s; s.load_shop(s.built_in_shop(), None); print('markdown_it' in sys.modules)"
    done = run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
