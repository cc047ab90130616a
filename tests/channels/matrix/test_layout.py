"""How a reply is laid out in a room: complete as plain text, the same as HTML, split so that it fits."""

import json
import re
from html import unescape
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conversation.guides import shipped_guide
from triagebot.channels.matrix.layout import (
    MOST,
    MOST_NUMBERS,
    Part,
    change,
    html,
    image,
    meant_by,
    message,
    number,
    numbers,
    sheet,
)
from triagebot.channels.matrix.reading import number_of
from triagebot.channels.rendering import MarkedLine
from triagebot.conversation import Choice, Question, Reply, told
from triagebot.conversation.blocks import Hazard, NoteLinks
from triagebot.shop import NoteLink

TEXTS = shipped_guide().language("en").texts
ASIDE = (Choice("unsure", "I don’t know"), Choice("how", "How do I check?"))
DIRECT = {"room": "!a"}
GROUP = {"room": "!a", "reply": "$1", "person": "@ada:shop.test"}


def reply(text: str = "Understood.", question: Question | None = None) -> Reply:
    return told(text, question=question)


def asked(*labels: str, text: str = "What is it?") -> Question:
    choices = tuple(Choice(f"c{n}", label) for n, label in enumerate(labels))
    return Question("fitting", "choice", text, choices, None, None, ASIDE)


class Reader(HTMLParser):
    """What a reader of the HTML sees, and with which tags."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.seen = ""
        self.feed(text)
        self.close()
        assert self.open == [], "every tag is closed"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        if tag != "br":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.seen += data


def words(text: str) -> list[str]:
    return re.sub(r"^\d+\. ", "", text, flags=re.MULTILINE).split()


def test_a_question_as_plain_text_and_as_html() -> None:
    (part,) = sheet(reply("So far:\nsix.\n\nAnd <more> & more.", asked("Splines", "Notches")), TEXTS)
    assert part.body == (
        "So far:\nsix.\n\nAnd <more> & more.\n\nWhat is it?\n1. Splines\n2. Notches"
        "\n\n(🤷 I don’t know · ❓ How do I check?)"
    )
    assert part.html == (
        "<p>So far:<br>six.</p><p>And &lt;more&gt; &amp; more.</p><p><strong>What is it?</strong></p>"
        "<ol><li>Splines</li><li>Notches</li></ol><p>(🤷 I don’t know · ❓ How do I check?)</p>"
    )


def test_an_answered_question_keeps_its_choices_and_says_the_answer() -> None:
    (part,) = sheet(reply("", asked("Splines", "Notches")), TEXTS, answered="it has <splines>")
    assert part.body == "What is it?\n1. Splines\n2. Notches\n\n✓ it has <splines>"
    assert part.html.endswith("</ol><p><em>✓ it has &lt;splines&gt;</em></p>")


def test_what_is_offered_is_said_in_words() -> None:
    offers = (Choice("erase", "Yes, delete it"), Choice("keep", "No, keep it"))
    (part,) = sheet(told("Shall I?", offers=offers), TEXTS)
    assert part.body == "Shall I?\n\n(Yes, delete it · No, keep it)"
    assert numbers(told("Shall I?", offers=offers)) == ()


def test_signal_words_are_bold_and_notes_are_links() -> None:
    note = NoteLink("Freewheel & co", "https://shop.test/notes/a?b=1&c=2")
    local = NoteLink("At home", "file:///notes/b.md")
    warned = Hazard("warning", "WARNING", "Loosen it", "Mind.", "slip")
    (part,) = sheet(Reply((warned, NoteLinks("", (note, local))), "answer"), TEXTS)
    assert part.body == f"WARNING (Loosen it): Mind.\n\n– {note.title}: {note.url}\n– At home"
    assert part.html == (
        "<p><strong>WARNING (Loosen it):</strong> Mind.</p>"
        '<p>– <a href="https://shop.test/notes/a?b=1&amp;c=2">Freewheel &amp; co</a><br>– At home</p>'
    )


def test_a_person_who_is_behind_a_bridge_is_named_and_reads_plain_text() -> None:
    (part,) = sheet(reply("Understood.", asked("Splines", "Notches")), TEXTS, called="Ada")
    assert part == Part(
        "Ada: Understood.\n\nWhat is it?\n1. Splines\n2. Notches\n\n(I don’t know · How do I check?)", ""
    )
    assert "formatted_body" not in message(part, {**DIRECT, "called": "Ada"})


def test_numbers_are_those_that_are_read_again() -> None:
    signs = ("🤷", "❓")
    assert numbers(reply()) == ()
    assert numbers(reply("", asked())) == signs
    assert numbers(reply("", asked(*"abcdefgh"))) == signs, f"more than {MOST_NUMBERS} are no help"
    listed = numbers(reply("", asked(*"abcdefg")))
    assert [number_of(each) for each in listed[:7]] == [1, 2, 3, 4, 5, 6, 7]
    assert listed[7:] == signs
    yes_no = (Choice("yes", "Yes"), Choice("no", "No"))
    assert [meant_by(each) for each in numbers(told("You mean 12?", offers=yes_no))] == ["yes", "no"]
    likely = (*(Choice(str(each), str(each)) for each in (2, 4, 12, 20)), Choice("another-number", "Another"))
    counted = reply("", Question("count", "count", "How many?", (), numbers=likely))
    assert [number_of(each) for each in numbers(counted)] == [2, 4, 12, 20]
    assert number("1️⃣", "$q") == {"m.relates_to": {"rel_type": "m.annotation", "event_id": "$q", "key": "1️⃣"}}


@pytest.mark.parametrize(
    ("sign", "choice"),
    [("👍", "yes"), ("👍🏽", "yes"), ("👎️", "no"), ("🤷", "unsure"), ("🤷🏻‍♀️", "unsure"), ("❓", "how"), ("↩️", "back")],
)
def test_signs_are_read_however_they_are_drawn(sign: str, choice: str) -> None:
    assert meant_by(sign) == choice


@pytest.mark.parametrize("sign", ["", "🎉", "1", "👍👍", "no"])
def test_any_other_sign_means_nothing(sign: str) -> None:
    assert meant_by(sign) == ""


PLAIN = st.text(st.characters(codec="utf-8", exclude_characters="\n\r", exclude_categories=("Cs", "Cc")), max_size=60)
LABELS = st.lists(PLAIN.filter(str.strip), max_size=8)


@given(PLAIN, LABELS, PLAIN, st.sampled_from(["", "Ada"]))
def test_html_says_what_the_plain_text_says(text: str, labels: list[str], answer: str, called: str) -> None:
    for part in sheet(reply(text, asked(*labels)), TEXTS, answer, called):
        if called:
            assert part.html == ""
            continue
        shown = Reader(re.sub(r"</?(?:p|br|li|ol)(?: [^>]*)?>", " \\g<0> ", part.html))
        assert "".join(words(shown.seen)) == "".join(words(part.body))
        assert shown.tags <= {"p", "br", "strong", "em", "ol", "li", "a"}


@given(
    st.lists(st.builds(MarkedLine, st.text(st.sampled_from('ab <&é🔧"\\'), max_size=400), st.just(""), st.booleans())),
    st.integers(1, 4),
)
def test_parts_fit_and_hold_every_word_in_order(lines: list[MarkedLine], times: int) -> None:
    text = "\n".join(("\n" if line.gap else "") + line.text.strip() for line in lines * times * 10)
    text = re.sub(r"\n{3,}", "\n\n", text).strip("\n")
    parts = sheet(reply(text, asked("Splines", "Notches")), TEXTS)
    for part in parts:
        assert len(json.dumps([part.body, part.html], ensure_ascii=False).encode()) < MOST * 1.1
    whole = "".join(part.body for part in parts)
    assert whole.endswith("(🤷 I don’t know · ❓ How do I check?)")
    assert re.sub(r"\s", "", whole).startswith(re.sub(r"\s", "", text))


def test_a_change_of_the_longest_part_fits_as_well() -> None:
    *_, last = sheet(reply("& <b> é " * 20_000, asked("Splines", "Notches")), TEXTS, answered="splines")
    assert len(json.dumps(change(last, "$q"), ensure_ascii=False).encode()) < 40_000
    assert last.body.endswith("✓ splines")


def test_what_no_server_takes_is_not_sent() -> None:
    (part,) = sheet(reply("a\x00b\ud800c\x1bd\te"), TEXTS)
    assert part.body == "a\ufffdb\ufffdc\ufffdd\te"
    assert json.dumps(message(part, DIRECT), ensure_ascii=False).encode()


# --- where it goes --------------------------------------------------------------------------------------------------


def test_in_a_direct_room_it_is_just_said() -> None:
    content = message(Part("a", "<p>a</p>"), DIRECT)
    assert content == {
        "msgtype": "m.text",
        "body": "a",
        "format": "org.matrix.custom.html",
        "formatted_body": "<p>a</p>",
        "triagebot.bot": True,
        "m.mentions": {},
    }
    assert message(Part("a"), DIRECT, notice=True)["msgtype"] == "m.notice"


def test_in_a_group_it_answers_and_mentions() -> None:
    content = message(Part("a"), GROUP)
    assert content["m.mentions"] == {"user_ids": ["@ada:shop.test"]}
    assert content["m.relates_to"] == {"m.in_reply_to": {"event_id": "$1"}}
    assert message(Part("a"), {**GROUP, "called": "Ada"})["m.mentions"] == {}, "nobody is called who is not meant"


def test_in_a_thread_it_stays_there() -> None:
    direct = message(Part("a"), {**DIRECT, "thread": "$t", "reply": "$2"})["m.relates_to"]
    group = message(Part("a"), {**GROUP, "thread": "$t"})["m.relates_to"]
    letter = message(Part("a"), {"room": "!r", "thread": "$t"})["m.relates_to"]
    thread = {"rel_type": "m.thread", "event_id": "$t"}
    assert letter == {**thread, "is_falling_back": True, "m.in_reply_to": {"event_id": "$t"}}
    assert direct == {**thread, "is_falling_back": True, "m.in_reply_to": {"event_id": "$2"}}
    assert group == {**thread, "is_falling_back": False, "m.in_reply_to": {"event_id": "$1"}}


def test_a_change_shows_its_last_line_to_the_person_who_sees_no_changes() -> None:
    content = change(Part("What is it?\n\n✓ splines", "<p>What is it?</p>"), "$q")
    assert content["body"] == "* ✓ splines"
    assert content["m.new_content"] == {**message(Part("What is it?\n\n✓ splines", "<p>What is it?</p>"), DIRECT)}
    assert content["m.relates_to"] == {"rel_type": "m.replace", "event_id": "$q"}


def test_a_picture_says_what_it_shows() -> None:
    info = {"mimetype": "image/png", "w": 10, "h": 10, "size": 99}
    plain = image(Part("In the picture: a hub"), {"url": "mxc://a/b"}, info, DIRECT)
    assert (plain["body"], plain["url"], plain["info"]) == ("In the picture: a hub", "mxc://a/b", info)
    assert plain["filename"] != plain["body"], "so that the words are shown as a caption"
    sealed = image(Part(""), {"url": "mxc://a/b", "key": {"k": "…"}, "iv": "…", "hashes": {}, "v": "v2"}, info, GROUP)
    assert "url" not in sealed
    assert sealed["file"]["url"] == "mxc://a/b"
    assert sealed["m.relates_to"] == {"m.in_reply_to": {"event_id": "$1"}}


def test_a_long_list_goes_on_where_it_was_split() -> None:
    run = [MarkedLine(f"{number}. choice", "li") for number in (3, 4)]
    assert html(run) == '<ol start="3"><li>choice</li><li>choice</li></ol>'
    assert unescape(html([])) == ""
