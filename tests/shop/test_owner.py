"""What an owner reads who begins with little, and who slips where nearly everybody does."""

from collections.abc import Callable
from pathlib import Path

import pytest

from triagebot.cli import app
from triagebot.shop import load_shop
from triagebot.topics import Topic

Edit = Callable[[str, str, str], int]
Complaints = Callable[..., list[str]]
NOTE = "notes/freewheel-2-notch.md"


@pytest.fixture
def checked(folder: Path, capsys: pytest.CaptureFixture[str]) -> Callable[[], tuple[int, list[str]]]:
    """Runs the command on the copy; gives how it ended, and what it printed."""

    def run() -> tuple[int, list[str]]:
        try:
            app(["check", "--shop", str(folder)], result_action="return_value")
            code = 0
        except SystemExit as end:
            code = int(end.code or 0)
        return code, capsys.readouterr().out.splitlines()

    return run


def test_a_shop_with_three_notes_and_no_services_can_be_used(
    folder: Path, topic: Topic, checked: Callable[[], tuple[int, list[str]]]
) -> None:
    kept = sorted((folder / "notes").glob("*.md"))[:3]
    for note in (folder / "notes").glob("*.md"):
        if note in kept:
            head, _, _ = note.read_text(encoding="utf-8").partition("\n## ")
            note.write_text("\n".join(line for line in head.splitlines() if "](" not in line) + "\n", encoding="utf-8")
        else:
            note.unlink()
    (folder / "services.yaml").unlink()
    (folder / "links.yaml").unlink(missing_ok=True)
    code, rows = checked()
    *rows, last = rows
    assert code == 0, rows
    assert all(": ought: " in row for row in rows)
    assert any("no service is listed" in row for row in rows)
    assert any("no note is about the fastening" in row for row in rows)
    assert last.endswith("can be used as they are")
    assert load_shop(folder, topic).services == ()


def test_a_list_of_services_may_be_empty(folder: Path, complaints: Complaints) -> None:
    (folder / "services.yaml").write_text("services: []\n", encoding="utf-8")
    assert complaints() == [
        "services.yaml:0:0: ought: no service is listed, so nobody is told that you do it yourselves, or for how much"
    ]


def test_what_must_be_mended_stands_before_what_ought_to_be(
    edit: Edit, checked: Callable[[], tuple[int, list[str]]]
) -> None:
    edit("tools.yaml", "name: the two-prong", "name: the big four")
    edit(NOTE, "2026-10-06", "2019-10-06")
    code, rows = checked()
    weights = [": ought: " in row for row in rows]
    assert code == 1
    assert weights == sorted(weights)
    assert {True, False} == set(weights)


#: file, text, what it becomes, what is said of it.
SLIPS = [
    ("services.yaml", "price: 6.00", "price: 6,00", "write 6.00"),
    ("services.yaml", "price: 6.00", "price: £6", "write an amount like 11.90, not '£6'"),
    ("shop.yaml", "hours:", "hour:", "hour: is no key that is known here; did you mean hours?"),
    ("tools.yaml", "    hangs: wall", "    hang: wall", "did you mean hangs?"),
    ("services.yaml", "    minutes: 15", "    minute: 15", "did you mean minutes?"),
    ("services.yaml", "    minutes: 15", "\tminutes: 15", "there is a tab here: indent with spaces"),
    (NOTE, "reviewed-on: 2026-10-06", "reviewed-on: 6.10.2026", "write a date as year-month-day, like 2026-12-24"),
    (NOTE, "reviewed-on: 2026-10-06", "reviewed-on: 2026-13-06", "write a date as year-month-day, like 2026-12-24"),
    ("tools.yaml", "name: the two-prong", "name: The Big  Four", "'the big four' stands twice"),
    (NOTE, "## You need", "<b>Careful</b>\n\n## You need", "'<b>' is HTML"),
    (NOTE, "## You need", "Look:<br/>\n\n## You need", "'<br/>' is HTML"),
    (NOTE, "## You need", "<!-- later\n\n## You need", "'<!-- later' is HTML"),
]


@pytest.mark.parametrize(("file", "text", "instead", "said"), SLIPS, ids=[row[2] for row in SLIPS])
def test_a_slip_is_explained(edit: Edit, complaints: Complaints, file: str, text: str, instead: str, said: str) -> None:
    edit(file, text, instead)
    (told,) = [row for row in complaints() if ": ought: " not in row and said in row]
    assert told.startswith(f"{file}:")


@pytest.mark.parametrize("words", ["a < b and b > a", "`<b>`", "<https://example.org/a>", "```\n<b>\n```", "5 <6> 7"])
def test_what_only_looks_like_html_is_none(edit: Edit, complaints: Complaints, words: str) -> None:
    edit(NOTE, "## You need", f"{words}\n\n## You need")
    assert not [row for row in complaints() if "HTML" in row]


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.webp", "a.gif", "a.svg"])
def test_a_text_named_like_a_picture_is_none(folder: Path, edit: Edit, complaints: Complaints, name: str) -> None:
    (folder / "notes" / name).write_text("not a picture", encoding="utf-8")
    edit(NOTE, "## You need", f"![the tool]({name})\n\n## You need")
    (told,) = complaints()
    assert f"{name!r} holds no {name[2:]}: save it as one once more" in told


def test_a_real_picture_is_one(folder: Path, edit: Edit, complaints: Complaints) -> None:
    (folder / "notes" / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(50))
    edit(NOTE, "## You need", "![the tool](a.png)\n\n## You need")
    assert complaints() == []
