"""How a reply is laid out: marked up so that it reads the same, split so that it fits."""

import re
from html import unescape

from hypothesis import given
from hypothesis import strategies as st

from tests.conversation.guides import shipped_guide
from triagebot.channels.telegram.limits import MOST_CAPTION, MOST_TEXT
from triagebot.channels.telegram.sending import MarkedLine, length, marked_up, sheet, split
from triagebot.conversation import Choice, Question, Reply, told
from triagebot.conversation.blocks import Hazard, NoteLinks, Remark
from triagebot.shop import NoteLink

TEXTS = shipped_guide().language("en").texts
ASIDE = (Choice("unsure", "I don’t know"), Choice("how", "How do I check?"))

PLAIN = st.text(st.characters(codec="utf-8", exclude_characters="\n\r", exclude_categories=("Cs", "Cc")), max_size=200)
LINES = st.lists(st.builds(MarkedLine, PLAIN, st.sampled_from(["", "b", "i"]), st.booleans()), max_size=30)


def reply(text: str = "Understood.", question: Question | None = None) -> Reply:
    return told(text, question=question)


def asked(picture: str | None = None, *labels: str, text: str = "What is it?") -> Question:
    choices = tuple(Choice(f"c{n}", label) for n, label in enumerate(labels))
    return Question("fitting", "choice", text, choices, None, picture, ASIDE)


def bare(html: str) -> str:
    """What is left when the marks have been read."""
    return unescape(re.sub(r"</?(?:b|i|a)(?: [^>]*)?>", "", html))


@given(LINES)
def test_marks_change_no_word(lines: list[MarkedLine]) -> None:
    gaps = [("\n" if line.gap and place else "") + line.text for place, line in enumerate(lines)]
    assert bare(marked_up(lines)) == unescape("\n".join(gaps).replace("&", "&amp;").replace("<", "&lt;"))


@given(LINES, st.integers(10, 400))
def test_parts_fit_and_hold_every_word_in_order(lines: list[MarkedLine], most: int) -> None:
    parts = split(lines, most)
    assert all(length(bare(marked_up(part))) <= most for part in parts)
    whole = "".join("".join(line.text for line in part) for part in parts)
    assert re.sub(r"\s", "", whole) == re.sub(r"\s", "", "".join(line.text for line in lines))


def measured_anew(lines: list[MarkedLine], most: int) -> list[list[MarkedLine]]:
    """The rule as it reads, measuring a growing part again for each line: pieces of a part that does not fit are taken
    off its beginning until the rest does."""
    parts: list[list[MarkedLine]] = [[]]
    for line in lines:
        while parts[-1] and units([*parts[-1], line]) > most:
            part = parts[-1]
            gaps = [place for place, each in enumerate(part) if each.gap]
            end = len(part) if line.gap else max(gaps, default=0)
            keep = end if end and units(part[:end]) * 2 >= most else len(part)
            parts[-1:] = [part[:keep], part[keep:]]
        parts[-1].append(line)
    return [part for part in parts if part]


def units(lines: list[MarkedLine]) -> int:
    return length(bare(marked_up(lines)))


WORDS = st.text(st.sampled_from("ab <&é🔧"), max_size=60)


@given(
    st.lists(st.builds(MarkedLine, WORDS, st.sampled_from(["", "b"]), st.booleans()), max_size=40), st.integers(60, 200)
)
def test_splitting_in_one_go_gives_what_measuring_anew_gives(lines: list[MarkedLine], most: int) -> None:
    fitting = [line for line in lines if length(line.text) <= most]
    assert split(fitting, most) == measured_anew(fitting, most)


def test_what_is_left_of_a_part_and_the_line_after_it_fit_together() -> None:
    lines = [MarkedLine("a" * 50), MarkedLine("b" * 45, gap=True), MarkedLine("c" * 90)]
    assert [[line.text[0] for line in part] for part in split(lines, 100)] == [["a"], ["b"], ["c"]]


def test_the_time_to_split_grows_with_the_text_and_no_faster() -> None:
    def steps(size: int) -> int:
        counted = 0

        class Counted(str):
            """Counts how often it is measured."""

            __slots__ = ()

            def isascii(self) -> bool:
                nonlocal counted
                counted += 1
                return True

        split([MarkedLine(Counted("word " * 3)) for _ in range(size)], 1_000_000)
        return counted

    assert steps(2000) < 2.5 * steps(1000)


def test_a_long_text_is_split_between_paragraphs_and_only_the_last_part_has_buttons() -> None:
    paragraphs = [f"{n} " + "word " * 150 for n in range(12)]
    made = sheet(reply("\n\n".join(paragraphs), asked(None, "Yes", "No")), TEXTS)
    assert len(made.texts) == 3
    assert all(length(bare(text)) <= MOST_TEXT for text in made.texts)
    assert [text.split(" ", 1)[0] for text in made.texts] == ["0", "5", "10"]
    assert made.texts[-1].endswith("<b>What is it?</b>")
    assert made.buttons[0][0][0] == "1. Yes"


def test_a_text_of_signs_outside_the_plane_counts_double() -> None:
    made = sheet(reply("🔧" * 3000), TEXTS)
    assert len(made.texts) == 2
    assert "".join(made.texts) == "🔧" * 3000


def test_a_caption_that_fits_goes_under_the_picture() -> None:
    words = TEXTS("picture-fitting-kinds")
    made = sheet(reply("Understood.", asked("fitting-kinds", "Splines")), TEXTS, words)
    assert made.picture == "fitting-kinds"
    assert made.texts == ()
    assert made.caption is not None
    assert words in bare(made.caption)


def test_what_does_not_fit_under_a_picture_follows_it() -> None:
    made = sheet(reply("word " * 250, asked("fitting-kinds", "Splines")), TEXTS, "a <ring>")
    assert (made.picture, made.caption) == ("fitting-kinds", "<i>In the picture: a &lt;ring&gt;</i>")
    assert len(made.texts) == 1
    assert length(bare(made.texts[0])) > MOST_CAPTION
    assert made.buttons


def test_choices_that_a_phone_would_cut_off_are_listed() -> None:
    short = sheet(reply("", asked(None, "Yes", "No")), TEXTS).texts[0]
    long = sheet(reply("", asked(None, "Yes", "Nothing at all that any tool could grip")), TEXTS).texts[0]
    assert "1. Yes" not in short
    assert "\n1. Yes\n2. Nothing at all that any tool could grip" in long


def test_likely_counts_stand_side_by_side_and_another_number_below() -> None:
    likely = (*(Choice(str(each), str(each)) for each in (2, 4, 12, 16, 20, 22)), Choice("another-number", "Another"))
    made = sheet(reply("", Question("count", "count", "How many?", (), aside=ASIDE, numbers=likely)), TEXTS)
    assert [[word for _, word in row] for row in made.buttons] == [
        ["2", "4", "12", "16", "20"],
        ["22"],
        ["another-number"],
        ["unsure", "how"],
    ]
    assert made.texts == ("<b>How many?</b>",)


def test_an_answered_question_loses_choices_and_buttons() -> None:
    made = sheet(
        reply("Understood.", asked("fitting-kinds", "Nothing at all that any tool could grip")),
        TEXTS,
        answered="so <it> is",
    )
    assert made.buttons == ()
    assert made.caption is not None
    assert bare(made.caption) == "Understood.\n\nWhat is it?\n\n✓ so <it> is"


def test_the_signal_word_of_a_warning_is_bold() -> None:
    hazards = (
        Hazard("warning", "WARNING", "Loosen it", "it slips.", "slips"),
        Hazard("caution", "CAUTION", "", "teeth.", "teeth"),
    )
    made = sheet(Reply((Remark("WARNING: a word in capitals alone warns of nothing."), *hazards), "answer"), TEXTS)
    assert made.texts[0].startswith("WARNING: a word")
    made = made.texts[0]
    assert "<b>WARNING (Loosen it):</b> it slips.\n<b>CAUTION:</b> teeth." in made


def test_a_note_on_the_web_is_a_link_and_one_on_our_disk_is_its_title() -> None:
    web, disk = (
        NoteLink("The small four", "https://shop.example/n/four?a=1&b=2"),
        NoteLink("Peg 7", "file:///srv/n/7.md"),
    )
    made = sheet(Reply((NoteLinks("Our notes:", (web, disk)),), "answer"), TEXTS).texts[0]
    assert made.split("\n")[1:] == [
        '– <a href="https://shop.example/n/four?a=1&amp;b=2">The small four</a>',
        "– Peg 7",
    ]
