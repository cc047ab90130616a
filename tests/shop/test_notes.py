"""Procedure notes: sections and their addresses, which are shown, where they lead, and the worth of the examples."""

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from triagebot.errors import DataError
from triagebot.shop import Note, Shop, built_in_shop, load_shop, notes_for, overdue, review_due
from triagebot.shop.notes import read_note, sections_of
from triagebot.topics import Topic

Edit = Callable[[str, str, str], int]
HEADINGS = ["Recognise it", "You need", "Take it off", "If it will not move", "Put it back", "Before you buy"]
ANCHORS = ["recognise-it", "you-need", "take-it-off", "if-it-will-not-move", "put-it-back", "before-you-buy"]


@pytest.fixture(scope="module")
def shop(topic: Topic) -> Shop:
    return load_shop(built_in_shop(), topic)


def note_file(path: Path, head: str, body: str = "") -> Note:
    path.write_text(f"---\n{head}\n---\n{body}", encoding="utf-8")
    return read_note(path, path.name)[0]


# --- sections -----------------------------------------------------------------------------------------------------


def test_sections_have_addresses_depths_and_lines() -> None:
    text = (
        "intro\n\n# One\n\n## If it *will not* move? ##\n```\n# no heading\n```\n   ### Größe: 23 mm\n#no\n    # code\n"
    )
    assert [(s.slug, s.depth, s.line) for s in sections_of(text, 9)] == [
        ("one", 1, 11),
        ("if-it-will-not-move", 2, 13),
        ("grosse-23-mm", 3, 17),
    ]


@given(st.lists(st.sampled_from(["# A b", "## C", "text", "", "```", "~~~~", "    # code", "- item", "#y", "### E #"])))
def test_sections_are_the_headings_that_markdown_sees(lines: list[str]) -> None:
    text = "\n".join(lines)
    tokens = MarkdownIt("commonmark").parse(text)
    seen = [t.map[0] + 1 for t in tokens if t.type == "heading_open" and t.map and t.level == 0]
    assert [s.line for s in sections_of(text)] == seen


def test_the_body_begins_below_the_head(tmp_path: Path) -> None:
    note = note_file(tmp_path / "Old hub.md", "title: Old\nlanguage: en", "\nHello\n\n## Part\n")
    assert (note.slug, note.body, note.body_line) == ("old-hub", "\nHello\n\n## Part\n", 5)
    assert [(s.slug, s.line) for s in note.sections] == [("part", 8)]


def test_windows_line_ends_and_a_byte_order_mark_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "a.md"
    path.write_bytes(b"\xef\xbb\xbf---\r\ntitle: A\r\nlanguage: en\r\n---\r\n## B\r\n")
    note = read_note(path, "a.md")[0]
    assert (note.title, [s.slug for s in note.sections]) == ("A", ["b"])


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "a note starts with its head"),
        (b"# Title\n", "a note starts with its head"),
        (b"---\ntitle: A\n", "a note starts with its head"),
        (b"---\n---\n", "the head must hold keys"),
        (b"---\n- a\n---\n", "the head must hold keys"),
        (b"---\ntitle: [\n---\n", "this is not YAML"),
        (b"---\ntitle: \x00\n---\n", "this is not YAML"),
        (b"---\ntitle: \xff\n---\n", "not UTF-8"),
        (b"---\na: &x [b]\nc: *x\n---\n", "anchors (&) and aliases (*)"),
        (b"---\na: &x [*x]\n---\n", "anchors (&) and aliases (*)"),
        (b"---\na: " + b"[" * 50 + b"]" * 50 + b"\n---\n", "nested more than 40 deep"),
        (b"---\ntitle: " + b"x" * 5000 + b"\n---\n", "longer than 4000 characters"),
        (b"---\ntitle: A\nlanguage: en\n---\n" + b"x" * 1_000_001, "larger than 1 MB"),
        (b"---\ntitle: A\nlanguage: en\nfastenings: one\n---\n", "fastenings: should be a list"),
        (b"---\ntitle: A\nlanguage: en\nfastenings: [One]\n---\n", "fastenings[1]"),
    ],
)
def test_a_head_that_is_none_is_refused(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "a.md"
    path.write_bytes(content)
    with pytest.raises(DataError) as caught:
        read_note(path, "a.md")
    assert said in str(caught.value)
    assert all(problem.file == str(path) for problem in caught.value.problems)


def test_a_note_that_cannot_be_read_says_so(tmp_path: Path) -> None:
    (tmp_path / "a.md").mkdir()
    with pytest.raises(DataError, match="cannot be read"):
        read_note(tmp_path / "a.md", "a.md")


# --- which notes, and where ---------------------------------------------------------------------------------------


def test_without_an_address_a_note_is_a_file(shop: Shop) -> None:
    (link,) = notes_for(shop, "freewheel-2-notch", section="take-it-off")
    assert link.title == "Freewheel with 2 notches: the two-prong"
    assert link.url == (built_in_shop() / "notes" / "freewheel-2-notch.md").resolve().as_uri()


def test_with_an_address_a_note_is_a_page_and_a_section_an_anchor(folder: Path, topic: Topic, edit: Edit) -> None:
    edit(
        "shop.yaml",
        "# notes-address: https://lantern-and-ratchet.example.org/notes",
        "notes-address: https://example.org/n/",
    )
    shop = load_shop(folder, topic)
    plain, anchored, unknown = (
        notes_for(shop, "freewheel-2-notch", section=section)[0].url
        for section in (None, "take-it-off", "no-such-part")
    )
    assert plain == unknown == "https://example.org/n/freewheel-2-notch"
    assert anchored == "https://example.org/n/freewheel-2-notch#take-it-off"


def test_every_fastening_leads_to_a_note_of_its_own(shop: Shop, topic: Topic) -> None:
    titles = {f: [link.title for link in notes_for(shop, f)] for f in topic.fastenings}
    assert all(len(found) == 1 for found in titles.values()), titles
    assert titles["freewheel-12-spline-small"] == titles["unlisted"] == ["When to take it to the shop"]
    assert notes_for(shop, None) == notes_for(shop, "teapot") == ()


def test_answers_add_their_notes_after_those_of_the_fastening(shop: Shop) -> None:
    found = notes_for(shop, "cassette-12-spline", answers={"motor": "rear-hub", "condition": "worn", "wheel": "out"})
    assert [link.title for link in found] == [
        "Cassette with the common 12-spline lockring: the everyday twelve",
        "Electric bikes and motors in the hub",
        "When to take it to the shop",
    ]
    assert len(notes_for(shop, "unlisted", answers={"condition": "worn"})) == 1, "a note stands once"


def test_the_note_about_fewest_fastenings_comes_first(folder: Path, topic: Topic) -> None:
    note_file(
        folder / "notes" / "all-notches.md",
        "title: All notches\nlanguage: en\nfastenings: [freewheel-2-notch, freewheel-4-notch-24]",
    )
    titles = [link.title for link in notes_for(load_shop(folder, topic), "freewheel-2-notch")]
    assert titles == ["Freewheel with 2 notches: the two-prong", "All notches"]


def test_a_note_in_the_person_s_language_takes_the_place_of_the_others(folder: Path, topic: Topic) -> None:
    note_file(
        folder / "notes" / "zwei-nuten.md",
        "title: Zwei Nuten\nlanguage: de\nfastenings: [freewheel-2-notch]",
    )
    shop = load_shop(folder, topic)
    assert [x.title for x in notes_for(shop, "freewheel-2-notch", language="de-AT")] == ["Zwei Nuten"]
    for language in (None, "en", "fr"):
        (link,) = notes_for(shop, "freewheel-2-notch", language=language)
        assert link.title == "Freewheel with 2 notches: the two-prong"
    (only,) = notes_for(shop, "freewheel-4-notch-24", language="de")
    assert only.title == "Freewheel with 4 notches, 24 mm: the small four"


# --- reviews ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reviewed", "months", "due"),
    [
        ("2026-01-31", 1, date(2026, 2, 28)),
        ("2027-11-30", 3, date(2028, 2, 29)),
        ("2026-12-15", 24, date(2028, 12, 15)),
        ("2026-06-01", 7, date(2027, 1, 1)),
    ],
)
def test_a_review_counts_for_so_many_months(tmp_path: Path, reviewed: str, months: int, due: date) -> None:
    note = note_file(tmp_path / "a.md", f"title: A\nlanguage: en\nreviewed-on: {reviewed}\nreviewed-by: workshop lead")
    assert review_due(note, months) == due


def test_a_note_is_overdue_from_the_day_after(shop: Shop) -> None:
    dues = [due for note in shop.notes if (due := review_due(note, shop.about.review_months))]
    assert len(dues) == len(shop.notes)
    first = min(dues)
    assert overdue(shop, first) == ()
    late = overdue(shop, first.replace(day=first.day + 1))
    assert {review_due(n, shop.about.review_months) for n in late} == {first}


def test_a_note_without_a_review_is_always_overdue(folder: Path, topic: Topic, edit: Edit) -> None:
    edit("notes/electric-hub.md", "reviewed-on: 2026-10-27\nreviewed-by: workshop lead\n", "")
    late = overdue(load_shop(folder, topic), date(2026, 10, 28))
    assert [note.slug for note in late] == ["electric-hub"]


# --- the example's notes are good enough for the bench ------------------------------------------------------------


def procedures() -> list[Note]:
    return [note for note in load_shop(built_in_shop(), None).notes if note.head.removers]


@pytest.mark.parametrize("note", procedures(), ids=lambda note: note.slug)
class TestProcedure:
    def test_has_the_headings_that_links_rely_on(self, note: Note) -> None:
        assert [s.title for s in note.sections] == HEADINGS
        assert [s.slug for s in note.sections] == ANCHORS

    def test_is_about_the_topic_s_facts(self, note: Note, topic: Topic) -> None:
        (fastening,) = (topic.fastenings[f] for f in note.head.fastenings)
        assert note.head.removers == (fastening.remover,)
        recognise, take_off, back = (" ".join(part(note, n).split()) for n in (0, 2, 4))
        count = fastening.answers.get("count")
        if isinstance(count, str):
            assert re.search(rf"\*\*{count}( notches)?\*\*", recognise)
        size = fastening.answers.get("size")
        if size is not None and not isinstance(size, str | dict) and size.mm is not None:
            assert f"{size.mm:g} mm" in recognise
        if fastening.direction != "none":
            assert re.search(rf"\*\*{fastening.direction}, seen from the sprocket side", take_off)
        if fastening.refitting is not None and fastening.refitting.torque is not None:
            assert f"{fastening.refitting.torque:g} N·m" in back
            assert "133 N" in back

    def test_numbers_its_steps_from_one_in_one_list(self, note: Note) -> None:
        for part_number in (2, 4):
            tokens = MarkdownIt("commonmark", {"html": False}).parse(part(note, part_number))
            lists = [t for t in tokens if t.type == "ordered_list_open" and t.level == 0]
            assert len(lists) == 1
            assert "start" not in lists[0].attrs
            items = sum(t.type == "list_item_open" and t.level == 1 for t in tokens)
            assert items >= 4

    def test_every_caution_has_a_signal_word_and_stands_in_its_step(self, note: Note) -> None:
        quotes = [line.strip() for line in note.body.split("\n") if line.strip().startswith("> **")]
        assert len(quotes) >= 3
        assert all(re.match(r"> \*\*(WARNING|CAUTION|NOTICE): ", quote) for quote in quotes), quotes
        assert "check" in part(note, 4)
        assert "qualified mechanic" in " ".join(part(note, 4).replace(">", " ").split())

    def test_warns_of_what_the_topic_warns_of(self, note: Note, topic: Topic) -> None:
        fastening = topic.fastenings[note.head.fastenings[0]]
        text = " ".join(note.body.replace(">", " ").split())
        for caution in fastening.cautions:
            signal = topic.cautions[caution].signal.upper()
            assert re.search(rf"\*\*{signal}: {WORDED[caution]}", text), caution

    def test_a_clamp_comes_off_after_the_quarter_turn_and_before_unscrewing(self, note: Note, topic: Topic) -> None:
        fastening = topic.fastenings[note.head.fastenings[0]]
        if "clamp-off" not in fastening.cautions:
            return
        text = part(note, 2)
        order = [text.index(words) for words in ("Clamp the tool lightly", "a quarter turn", "take the clamp off now")]
        assert order == sorted(order)
        assert text.index("**With the clamp off**, unscrew") > order[-1]

    def test_says_when_to_stop_and_where_to_go(self, note: Note) -> None:
        stuck = part(note, 3)
        assert "**Stop**" in stuck
        assert "to-the-shop.md#bring-it" in stuck


#: How the notes' cautions begin, by the topic's caution.
WORDED = {
    "tool-slips": "(the (tool|hook|tool or the whip)|a whip) can slip",
    "teeth-cut": "sprocket teeth cut.",
    "clamp-off": "take the clamp off now.",
    "worn-fitting": "a worn fitting lets the tool jump out.",
    "face-ring": "leave the freewheel's own face ring alone.",
    "wrong-lockring-tool": "(the wrong one|a tool that is not fully home|the wrong twelve)",
    "ring-flies": "the wire ring flies.",
    "fixed-unscrews": "a fixed sprocket without its left-hand ring can unscrew",
    "check-before-riding": "a wheel or brake that is put together wrongly",
}


def part(note: Note, number: int) -> str:
    """The text below the heading of that number."""
    lines = note.body.split("\n")
    starts = [s.line - note.body_line for s in note.sections] + [len(lines)]
    return "\n".join(lines[starts[number] + 1 : starts[number + 1]])


def test_hand_force_in_the_notes_is_torque_over_radius() -> None:
    for note in procedures():
        text = " ".join(note.body.split())
        for push, kilograms, handle, torque in re.findall(
            r"push of (\d+) N, about the weight of ([\d½]+) kg, .{0,40}?(0\.\d+) m .{0,20}?(\d+) N·m", text
        ):
            assert float(push) == round(float(torque) / float(handle))
            assert float(kilograms.replace("½", ".5")) == pytest.approx(float(push) / 9.81, abs=0.25)
