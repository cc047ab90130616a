"""The delivery, one thing at a time: order, repeats, presses, corrections, restarts."""

import asyncio

import pytest

from tests.delivery.office import Dead, Office
from tests.delivery.recorded import After, Held, RecordedChannel
from tests.store.kept_photos import photos_of
from tests.words import words_of
from triagebot.conversation import Case, Message
from triagebot.conversation.blocks import Finding, Hazard, NoteLinks, Tool, Understood
from triagebot.delivery import Delivery, WaitingClient, outbox
from triagebot.errors import StoreError
from triagebot.identify import ChoiceReading, CountReading
from triagebot.messages import (
    Arrived,
    Commanded,
    Edited,
    Gone,
    Pressed,
    Refused,
    Said,
    Sent,
    Transient,
    turn_number,
)
from triagebot.store import open_store

A, B = "a", "b"


@pytest.fixture(autouse=True)
def _short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outbox, "pause", lambda attempt: 0.001)


def case_of(office: Office, person: str = A) -> Case:
    held = office.held(person)
    assert held is not None
    return held.case


def press(channel: RecordedChannel, choice: str, person: str = A, back: int = 1) -> Pressed:
    """A press on the button of a message: the last, or one further back."""
    shown = channel.screens[person][-back]
    return Pressed(shown.case, shown.turn, choice)


# --- messages -------------------------------------------------------------------------------------------------------


def test_a_message_is_answered_and_written_down(office: Office, channel: RecordedChannel) -> None:
    received = office.bring(A, "it stays still, 9 sprockets")
    assert received.outcome == "applied"
    assert words_of(channel.last(A).reply) == words_of(received.reply)  # type: ignore[union-attr]
    assert channel.last(A).case == case_of(office).code
    assert channel.last(A).turn == turn_number(case_of(office))
    assert office.rows("inbox", "state, attempts, body") == [("done", 0, None)]
    assert office.rows("outbox", "state, attempts, kind") == [("sent", 1, "send")]


def test_a_message_that_comes_twice_counts_once(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets", key="k")
    before = case_of(office)
    assert office.bring(A, "9 sprockets", key="k").outcome == "duplicate"
    assert office.bring(B, "9 sprockets", key="k").outcome == "duplicate", "a key is the platform's, not the person's"
    office.crash()
    assert office.bring(A, "9 sprockets", key="k").outcome == "duplicate"
    assert case_of(office) == before
    assert len(channel.screens[A]) == 1
    assert office.held(B) is None


def test_many_at_once_are_taken_in_their_order(office: Office, channel: RecordedChannel) -> None:
    said = ["9 sprockets", "change", "1", "8 sprockets", "it stays still", "back", "it turns", "why"]

    async def bring_all() -> None:
        batch = [office.incoming(person, Said(text)) for text in said for person in (A, B)]
        await office.delivery.receive_all(batch, channel.name, "17")
        await office.delivery.idle()

    office.run(bring_all())
    with open_store(office.folder.with_name("other"), key_file=office.folder.with_name("key")) as store:
        alone = WaitingClient(office.guide, store, office.clock)
        replies = [words_of(alone.hear("lines:a", Message(text), "en").reply) for text in said]
        assert alone.hear("lines:a", Message(""), "en").case.now == case_of(office).now
    for person in (A, B):
        assert [text.replace(case_of(office, person).code, "") for text in channel.texts(person)] == replies


def test_the_place_of_a_channel_follows_what_was_received(office: Office, channel: RecordedChannel) -> None:
    assert office.run(office.delivery.place("recorded")) is None
    batch = [office.incoming(A, Said("9 sprockets"))]
    office.run(office.delivery.receive_all(batch, "recorded", "41"))
    office.crash()
    assert office.run(office.delivery.place("recorded")) == "41"
    office.store.dies = "before the commit"
    with pytest.raises(Dead):
        office.run(office.delivery.receive_all([office.incoming(A, Said("8"))], "recorded", "42"))
    office.crash()
    assert office.run(office.delivery.place("recorded")) == "41"


# --- presses --------------------------------------------------------------------------------------------------------


def test_a_press_answers_the_question_that_it_shows(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets")
    shown = channel.last(A).reply.question
    assert shown is not None
    assert shown.choices
    choice = shown.choices[0].id
    assert office.bring(A, press(channel, choice)).outcome == "applied"
    assert ChoiceReading(shown.id, choice) in case_of(office).now.readings
    place, answered = channel.changed[A][-1]
    assert place == 0, "the message that showed the question"
    assert answered == "the middle turns with the sprockets"
    assert ["turns" in heard.text for heard in channel.last(A).reply.of(Understood)] == [True]


def test_a_double_tap_changes_nothing_and_says_nothing(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets")
    tap = press(channel, "unsure")
    assert office.bring(A, tap).outcome == "applied"
    before, said = case_of(office), len(channel.screens[A])
    assert office.bring(A, tap).outcome == "double"
    office.crash()
    assert office.bring(A, tap).outcome == "double"
    assert case_of(office) == before
    assert len(channel.screens[A]) == said
    assert office.delivery.counts.doubles == 1


def test_a_press_on_an_older_message_shows_the_open_question(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets")
    old = press(channel, "unsure")
    office.bring(A, "it stays still")
    before = case_of(office)
    assert office.bring(A, old).outcome == "stale"
    assert case_of(office) == before
    notice = channel.last(A)
    assert notice.kind == "notice"
    assert notice.reply.question is not None
    assert notice.reply.question.id == before.now.question
    assert office.bring(A, press(channel, "unsure")).outcome == "applied", "the notice's own buttons are live"


def test_a_press_from_before_a_step_back_is_stale(office: Office, channel: RecordedChannel) -> None:
    """Though no question was put in between: the same number of questions, and another one is open."""
    office.bring(A, "9 sprockets")
    office.bring(A, press(channel, "unsure"))
    old = press(channel, "unsure")
    assert office.bring(A, "back").outcome == "applied"
    before = case_of(office)
    assert office.bring(A, old).outcome == "stale"
    assert case_of(office) == before


def test_asking_how_twice_in_a_row_is_a_double_tap_but_not_later(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets")
    how = press(channel, "how")
    assert [office.bring(A, how).outcome for _ in range(2)] == ["applied", "double"]
    office.bring(A, "why")
    assert office.bring(A, how).outcome == "applied"


def test_a_press_of_somebody_without_a_case(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets")
    stranger = press(channel, "unsure")
    before = case_of(office)
    assert office.bring(B, stranger).outcome == "stale"
    assert channel.last(B).reply.question is not None
    assert case_of(office) == before


def test_only_the_message_with_the_open_question_keeps_its_buttons(office: Office, channel: RecordedChannel) -> None:
    for said in ("9 sprockets", "why", "it stays still", "blub", "person"):
        office.bring(A, said)
    asked = [place for place, message in enumerate(channel.screens[A]) if message.reply.question is not None]
    live = case_of(office).now.question is not None
    assert [place for place, _ in channel.changed[A]] == (asked[:-1] if live else asked)


# --- what is no plain message ---------------------------------------------------------------------------------------


def test_a_corrected_message_corrects_its_answer(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets", key="k1")
    office.bring(A, "it stays still", key="k2")
    office.bring(A, Edited("8", "k1"))
    counts = [r for r in case_of(office).now.readings if isinstance(r, CountReading)]
    assert counts == [CountReading("sprockets", 8, 8)], "a bare 8 answers the question that the message had answered"
    assert any(r.question == "spin" for r in case_of(office).now.readings)
    assert case_of(office).now.question not in (None, "sprockets", "spin")


def test_a_correction_of_what_gave_nothing_is_a_message(office: Office) -> None:
    office.bring(A, "hello", key="k1")
    office.bring(A, Edited("9 sprockets", "k1"))
    office.bring(A, Edited("it stays still", "never seen"))
    assert {r.question for r in case_of(office).now.readings} == {"sprockets", "spin"}


def test_a_photo_is_kept_and_its_caption_counts(office: Office, channel: RecordedChannel) -> None:
    texts = office.guide.language("en").texts
    office.bring(A, Sent("photo", ({"file": "file-1"},), "9 sprockets"))
    assert "I’m the bot" in words_of(channel.last(A).reply).split(texts("sent-photo"))[0]
    assert {r.question for r in case_of(office).now.readings} == {"sprockets"}
    before = case_of(office).now
    office.bring(A, Sent("sticker"))
    assert words_of(channel.last(A).reply).startswith(texts("sent-other"))
    assert case_of(office).now == before
    with office.store.store.read() as view:
        assert [(photo.state, photo.picture) for photo in photos_of(view, 1)] == [("waiting", None)]


def test_a_photo_may_come_first(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, Sent("photo", ({"file": "file-1"},)))
    shown = channel.last(A).reply.question
    assert shown is not None
    assert case_of(office).now.question == shown.id
    assert office.bring(A, press(channel, "unsure")).outcome == "applied"
    assert [r.question for r in case_of(office).now.readings] == [shown.id]


def test_somebody_who_comes_back_goes_on(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, Arrived())
    assert office.guide.shop.name in words_of(channel.last(A).reply)
    office.bring(A, "9 sprockets")
    code = case_of(office).code
    office.bring(A, Arrived())
    assert case_of(office).code == code
    office.bring(A, Arrived(new=True))
    assert case_of(office).code != code


def test_who_is_forgotten_is_forgotten_whole(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets", key="k1")
    office.bring(B, "8 sprockets")
    assert office.bring(A, Commanded("erase")).outcome == "applied", "it is asked back first"
    assert [choice.id for choice in channel.last(A).reply.offers] == ["erase", "keep"]
    assert office.bring(A, "yes", key="k2").outcome == "forgotten"
    assert words_of(channel.last(A).reply) == office.guide.language("en").texts("forgotten")
    assert office.held(A) is None
    assert len(office.rows("cases", "code")) == 1
    assert len(office.rows("outbox", "id")) == 1
    assert len(office.rows("conversations", "channel")) == 1
    assert office.bring(A, "9 sprockets", key="k1").outcome == "duplicate", "it does not come back by itself"
    assert office.bring(A, "9 sprockets").outcome == "applied"


@pytest.mark.parametrize("way", ["sent", "gone", "refused", "crash"])
def test_who_cannot_be_told_is_forgotten_all_the_same(office: Office, channel: RecordedChannel, way: str) -> None:
    office.bring(A, "9 sprockets")
    office.bring(A, Commanded("forget"))
    fates = {"sent": After(int), "gone": Gone("left"), "refused": Refused("no"), "crash": After(office.store.die)}
    channel.fates[A].append(fates[way])
    office.run(office.delivery.receive(office.incoming(A, Commanded("erase"))))
    if way == "crash":
        office.run(office.until_dead())
        office.crash()
    office.run(office.delivery.idle())
    assert office.rows("outbox", "id") == []
    assert office.rows("conversations", "channel") == []


def test_a_conversation_that_moves_goes_on(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets")
    before = case_of(office)
    office.run(office.delivery.moved("recorded", A, "a2", {"chat": "a2"}))
    assert office.held(A) is None
    office.bring("a2", "it stays still")
    assert case_of(office, "a2").code == before.code
    assert len(channel.screens["a2"]) == 1


# --- the house ------------------------------------------------------------------------------------------------------


def test_a_data_folder_has_one_delivery(office: Office) -> None:
    with open_store(office.folder, key_file=office.folder.with_name("key")) as store:

        async def second() -> None:
            async with Delivery(office.guide, store):
                pytest.fail("two deliveries on one data folder")

        with pytest.raises(StoreError, match=r"delivery is staffed already, by process \d+; stop that one"):
            office.run(second())
        waiting_client = WaitingClient(office.guide, store, office.clock)
        assert waiting_client.hear("terminal:me", Message("9 sprockets"), "en").case.now.facts
    assert office.bring(A, "9 sprockets").outcome == "applied"


def test_somebody_else_may_go_on_with_a_case_that_the_delivery_remembers(office: Office) -> None:
    office.bring(A, "9 sprockets")
    with open_store(office.folder, key_file=office.folder.with_name("key")) as store:
        WaitingClient(office.guide, store, office.clock).hear("recorded:a", Message("it stays still"), "en")
    assert office.bring(A, "why").outcome == "applied"
    assert {r.question for r in case_of(office).now.readings} == {"sprockets", "spin"}


def test_what_people_write_cannot_be_read_in_the_files(office: Office, channel: RecordedChannel) -> None:
    office.bring("Wilhelmina", "nobody may read this: 9 sprockets")
    channel.fates["Wilhelmina"].append(Transient("down"))
    office.bring("Wilhelmina", Sent("photo", ({"file": "file-of-hers"},), "nor this"))
    office.run(office.delivery.uploaded("recorded", "digest", "name"))
    for path in office.folder.iterdir():
        content = path.read_bytes()
        for word in (b"Wilhelmina", b"nobody may", b"nor this", b"file-of-hers", b"sprockets, then", b"9 sprockets"):
            assert word not in content, f"{word!r} in {path.name}"


def test_pictures_are_uploaded_once(office: Office) -> None:
    assert office.run(office.delivery.picture("recorded", "digest")) is None
    office.run(office.delivery.uploaded("recorded", "digest", "file-7"))
    office.crash()
    assert office.run(office.delivery.picture("recorded", "digest")) == "file-7"
    assert office.run(office.delivery.picture("other", "digest")) is None


def test_old_letters_are_thrown_away_but_not_the_open_question(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "9 sprockets", key="k1")
    office.bring(A, "it stays still")
    assert office.tidied(30) == 0
    office.clock.wait(days=31)
    assert office.tidied(30) == 4
    assert [row[0] for row in office.rows("outbox", "kind")] == ["send"]
    assert office.rows("inbox", "id") == []
    office.bring(A, press(channel, "unsure"))
    assert channel.changed[A][-1][0] == 1


def test_few_cases_are_remembered(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(office.delivery.memory, "_most", 3)
    for n in range(8):
        office.bring(f"p{n}", "9 sprockets")
    assert len(office.delivery.memory) == 3
    office.bring("p0", "it stays still")
    assert {r.question for r in case_of(office, "p0").now.readings} == {"sprockets", "spin"}


def test_a_delivery_that_closes_lets_what_is_under_way_end(office: Office, channel: RecordedChannel) -> None:
    async def bring() -> None:
        slow = asyncio.Event()
        channel.fates[A].append(Held(slow))
        await office.delivery.receive(office.incoming(A, Said("9 sprockets")))
        await office.delivery.receive(office.incoming(A, Said("why")))
        while channel.fates[A]:
            await office.a_moment()
        asyncio.get_running_loop().call_soon(slow.set)

    office.run(bring())
    office.close()
    office.open()
    office.run(office.delivery.idle())
    assert [message.attempt for message in channel.screens[A]] in ([1, 1], [1, 2])
    assert office.delivery.counts.unknown == 0


def test_what_it_ended_with_is_neither_told_nor_shown_again(office: Office, channel: RecordedChannel) -> None:
    office.bring(A, "it stays still, 20 splines, 6 sprockets, axle nuts")
    assert case_of(office).now.outcome == "answer"
    answer = channel.last(A).reply
    assert answer.picture == "fastening:freewheel-20-spline"
    for content in (Sent("sticker"), Pressed(case_of(office).code, 0, "unsure")):
        office.bring(A, content)
        again = channel.last(A).reply
        assert again.picture is None
        assert again.of(Finding, Hazard, Tool, NoteLinks) == ()
        assert len(words_of(again)) < len(words_of(answer)) / 3
