"""A reply as the chat page shows it: every word of it, in order; warnings in boxes; links that lead somewhere."""

import re
from dataclasses import replace

import pytest

from tests.pages.conftest import NOW
from tests.pages.markup import Markup
from tests.words import words_of
from triagebot.conversation import Guide, Reply, Result
from triagebot.conversation.blocks import Choice, NoteLinks, Picture, Remark
from triagebot.conversation.reply import told
from triagebot.messages import Outgoing
from triagebot.pages.chat_sheet import Answers, Block, blocks, last_answers, sheet
from triagebot.pages.site import Reader, Site
from triagebot.shop import NoteLink
from triagebot.testing import ScriptedPerson

FOUND = ("wheel out, it stays still, 4 notches, 24 mm by calliper", "no idea")
TALKS = [
    FOUND,
    ("it turns, 12 splines, wheel out", "how do I check?", "I don't know", "23.4 mm by calliper", "I don't know"),
    ("person",),
    ("help", "privacy", "why", "change", "forget me", "no", "language"),
    ("2.3", "yes", "back", "restart", "<b>bold</b> & 4 notches", "stop"),
]


@pytest.fixture
def site(guide: Guide) -> Site:
    return Site(guide, None, None, None, lambda: NOW)


@pytest.fixture
def reader(guide: Guide) -> Reader:
    return Reader(guide.language("en").texts, False, "")


def message(reply: Reply, number: int = 7) -> Outgoing:
    return Outgoing(number, "send", {}, reply, "AAA-001", 3, "en")


def words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text)


def read(found: tuple[Block, ...]) -> str:
    return " ".join(f"{block.head} {piece.text}" for block in found for line in block.lines for piece in line)


def html(site: Site, reader: Reader, reply: Reply, *, framed: bool = False) -> Markup:
    said = sheet(site.guide, reader, message(reply))
    return Markup(site.render(reader, "chat-message.html", said=said, framed=framed).decode())


@pytest.mark.parametrize("talk", TALKS)
def test_every_word_is_shown_in_order_and_the_markup_is_whole(
    guide: Guide, site: Site, reader: Reader, talk: tuple[str, ...]
) -> None:
    person = ScriptedPerson(guide)
    for said in ("", *talk):
        reply = person.says(said) if said else person.reply
        text = words_of(reply)
        for note in reply.result.notes:
            text = text.replace(note.url, "")
        shown = html(site, reader, reply)
        assert not shown.unclosed
        assert not shown.crossed
        question = reply.question.text if reply.question else ""
        seen = " ".join(piece[1] for piece in shown.pieces if piece[0] == "text")
        assert words(seen)[2:] == words(f"{text} {question}"), "the first two say whose it is"


def test_warnings_are_boxes_with_their_signal_word_for_a_head(guide: Guide, reader: Reader) -> None:
    person = ScriptedPerson(guide)
    person.says(*FOUND[:1])
    (one,) = [block for block in blocks(guide, reader, person.reply, reader.texts) if block.head]
    assert (one.kind, one.head) == ("warning", "WARNING")
    reply = person.says("cautions")
    boxes = [block for block in blocks(guide, reader, reply, reader.texts) if block.head]
    assert len(boxes) == len(reply.result.cautions)
    assert {block.kind for block in boxes} == {"warning", "caution", "notice"}
    assert all(block.head.startswith(block.kind.upper()) for block in boxes)
    assert len(boxes[0].lines[0][0].text) > 40


def test_the_fastening_and_the_remover_are_bold_and_the_cautions_stand_before_the_remover(
    guide: Guide, reader: Reader
) -> None:
    reply = ScriptedPerson(guide).says(*FOUND[:1])
    found = blocks(guide, reader, reply, reader.texts)
    bold = [(n, p.text) for n, block in enumerate(found) for line in block.lines for p in line if p.bold]
    names = [
        reader.texts(f"fastening-{reply.result.fastening}.glance"),
        reader.texts(f"remover-{reply.result.remover}"),
    ]
    assert [text for _, text in bold][:2] == names
    tool = next(n for n, text in bold if text == names[1])
    assert max(n for n, block in enumerate(found) if block.head) < tool


def test_a_note_in_the_shop_folder_leads_to_its_page_and_to_the_very_part(guide: Guide, reader: Reader) -> None:
    note = next(note for note in guide.shop.notes if note.head.sections)
    fastening, section = next(iter(note.head.sections.items()))
    link = NoteLink(note.title, note.path.resolve().as_uri())
    reply = Reply((NoteLinks("Read:", (link,)),), "answer", Result(fastening))
    for chosen, end in ((False, ""), (True, "?lang=en")):
        (_, item) = blocks(guide, replace(reader, chosen=chosen, root="/shop"), reply, reader.texts)
        assert item.kind == "list"
        assert [(piece.text, piece.href) for piece in item.lines[0]] == [
            (note.title, f"/shop/notes/{note.slug}{end}#{section}")
        ]


def test_a_note_elsewhere_and_other_addresses_are_links(guide: Guide, reader: Reader) -> None:
    link = NoteLink("The small four", "https://example.org/four#off")
    contact = guide.shop.contact
    text = f"See https://example.org/card/x?y=1. Ring {contact.phone} or {contact.e_mail}."
    found = blocks(guide, reader, Reply((NoteLinks("", (link,)), Remark(text)), "answer"), reader.texts)
    leads = {piece.text: piece.href for block in found for line in block.lines for piece in line if piece.href}
    assert leads == {
        "The small four": link.url,
        "https://example.org/card/x?y=1": "https://example.org/card/x?y=1",
        contact.phone: "tel:+441632960274",
        contact.e_mail: f"mailto:{contact.e_mail}",
    }


def test_in_a_frame_links_lead_out_of_it(guide: Guide, site: Site, reader: Reader) -> None:
    """Other pages refuse to be shown in a frame."""
    contact = guide.shop.contact
    reply = told(f"https://example.org/x or {contact.phone}")
    for framed in (True, False):
        leads = {given["href"]: given.get("target") for given in html(site, reader, reply, framed=framed).all("a")}
        assert leads == {"https://example.org/x": "_blank" if framed else None, "tel:+441632960274": None}


@pytest.mark.parametrize("bad", ["javascript:alert(1)", "<a href=x>x</a>", "data:text/html,x", 'https://x"onx=1'])
def test_nothing_else_is_a_link_or_markup(site: Site, reader: Reader, bad: str) -> None:
    reply = told(f"You wrote “{bad}”.")
    shown = html(site, reader, reply)
    assert bad in shown.text
    assert all(given["href"].startswith("https://x") for given in shown.all("a"))
    assert not [name for _, given in shown.elements for name in given if name.startswith("on")]


def test_buttons_are_those_of_the_last_message_alone(guide: Guide, site: Site, reader: Reader) -> None:
    person = ScriptedPerson(guide)
    asked = sheet(guide, reader, message(person.reply))
    offered = sheet(guide, reader, message(person.says("forget me")))
    closing = sheet(guide, reader, message(told("Bye.", "stopped")))
    assert last_answers((asked, offered)) == offered.answers
    assert [choice.id for choice in offered.answers.choices] == ["erase", "keep"]
    assert last_answers((asked, closing)) is None
    assert last_answers(()) is None
    given = {"key": "k", "start": "", "answers": asked.answers, "last": asked}
    shown = Markup(site.render(reader, "chat-answers.html", **given).decode())
    pressed = [(given["name"], given["value"]) for given in shown.all("button") if "name" in given]
    assert ("choice", "unsure") in pressed
    assert ("choice", "how") in pressed
    hidden = {given["name"]: given.get("value", "") for given in shown.all("input")}
    assert {"case": "AAA-001", "turn": "3"}.items() <= hidden.items()


def test_a_picture_says_in_words_what_it_shows_and_one_that_is_gone_is_left_out(guide: Guide, reader: Reader) -> None:
    person = ScriptedPerson(guide)
    person.says("9 sprockets, wheel out, it stays still")
    drawn = sheet(guide, reader, message(person.reply)).drawing
    assert drawn is not None
    assert drawn.address.startswith("/pictures/")
    assert len(drawn.words) > 20
    gone = replace(person.reply, blocks=(*person.reply.blocks, Picture("fastening:no-such-thing")))
    assert sheet(guide, reader, message(gone)).drawing is None


@pytest.mark.parametrize(
    ("labels", "layout"),
    [
        (("5", "6", "12"), "numbers"),
        (("Yes", "No"), "pairs"),
        (("It turns", "It stays still"), "pairs"),
        (("Splines: many small teeth", "Notches"), "rows"),
    ],
)
def test_buttons_stand_as_their_words_need_it(labels: tuple[str, ...], layout: str) -> None:
    choices = tuple(Choice(str(place), label) for place, label in enumerate(labels))
    assert Answers("AAA-001", 1, choices).layout == layout
