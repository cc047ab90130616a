"""What is seen in a room, in the delivery's words: all of it without a room."""

import re
from datetime import UTC, datetime
from typing import Any

import pytest

from triagebot.channels.matrix.reading import MOST_PEOPLE, MOST_THREADS, Reader, number_of
from triagebot.channels.matrix.seen import Room, Seen
from triagebot.messages import Arrived, Chose, Commanded, Edited, Incoming, Reacted, Said, Sent
from triagebot.messages.message import Content

BOT, ADA, BOB, BRIDGE = "@wheels:shop.test", "@ada:shop.test", "@bob:far.test", "@bridge:shop.test"
AT = datetime(2026, 1, 5, 9, tzinfo=UTC)
DIRECT = Room("!direct", "!direct", direct=True, encrypted=False)
GROUP = Room("!group", "!group", direct=False, encrypted=False)
UPGRADED = Room("!newer", "!group", direct=False, encrypted=False)


@pytest.fixture
def reader() -> Reader:
    bridges = {BRIDGE: re.compile(r"<(?P<name>[^>:]{1,64})>:? ")}
    return Reader(BOT, "Wheel Bot", "en", ("en", "de"), bridges)


def seen(text: str = "", kind: Any = "words", room: Room = DIRECT, sender: str = ADA, **more: Any) -> Seen:
    return Seen(kind, more.pop("id", "$1"), room, sender, AT, text, **more)


def one(reader: Reader, what: Seen) -> Incoming:
    (incoming,) = reader.read(what)
    return incoming


def content(reader: Reader, text: str, **more: Any) -> Content:
    return one(reader, seen(text, **more)).content


# --- direct rooms ---------------------------------------------------------------------------------------------------


def test_in_a_direct_room_everything_is_for_the_bot(reader: Reader) -> None:
    incoming = one(reader, seen("it has 6 sprockets"))
    assert incoming == Incoming("matrix", "$1", ADA, {"room": "!direct"}, Said("it has 6 sprockets"), AT, "en")


def test_it_is_one_conversation_in_whichever_direct_room(reader: Reader) -> None:
    other = Room("!other", "!other", direct=True, encrypted=True)
    first, second = one(reader, seen("hello")), one(reader, seen("hello", room=other))
    assert first.conversation == second.conversation == ADA
    assert second.address == {"room": "!other"}


def test_a_thread_of_a_direct_room_is_where_the_answer_goes(reader: Reader) -> None:
    incoming = one(reader, seen("hello", thread="$root", id="$2"))
    assert (incoming.conversation, incoming.address) == (
        ADA,
        {"room": "!direct", "thread": "$root", "reply": "$2"},
    )
    reaction = one(reader, seen("1", "reaction", about="$question"))
    assert reaction.address == {"room": "!direct", "thread": "$root", "reply": "$question"}
    reader.read(seen("and outside of it"))
    assert one(reader, seen("1", "reaction", about="$question")).address == {"room": "!direct"}


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("!help", Commanded("help")),
        ("/help", Commanded("help")),
        ("!HELP ", Commanded("help")),
        ("!stop", Commanded("stop")),
        ("/cancel", Commanded("stop")),
        ("!back", Commanded("back")),
        ("!case", Commanded("case")),
        ("!privacy", Commanded("privacy")),
        ("!export", Commanded("export")),
        ("!forget", Commanded("forget")),
        ("!person", Commanded("person")),
        ("!language", Commanded("language")),
        ("!language de", Chose("de")),
        ("!language fr", Commanded("language")),
        ("!start", Arrived()),
        ("!start new", Arrived(new=True)),
        ("!start k7m-4qx", Arrived(code="K7M-4QX")),
        ("!restart", Said("!restart")),
        ("/hilfe bitte", Said("/hilfe bitte")),
        ("!!", Said("!!")),
        ("! 12", Said("! 12")),
        ("help", Said("help")),
    ],
)
def test_commands(reader: Reader, text: str, meant: Content) -> None:
    assert content(reader, text) == meant


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Wheel Bot: six", "six"),
        ("wheel bot, six", "six"),
        ("@Wheel Bot six", "six"),
        ("@wheels six", "six"),
        (f"{BOT}: six", "six"),
        (f"six {BOT}", "six"),
        ("it is six @wheels , I think", "it is six , I think"),
        ("@wheels2 six", "@wheels2 six"),
        ("@wheels:far.test six", "@wheels:far.test six"),
        ("me@wheels six", "me@wheels six"),
        ("six\n\nor seven", "six\n\nor seven"),
        ("", ""),
    ],
)
def test_the_name_of_the_bot_is_nothing_that_was_said(reader: Reader, text: str, said: str) -> None:
    assert content(reader, text) == Said(said)


def test_a_bot_that_is_called_like_a_part_loses_no_words_in_a_direct_room(reader: Reader) -> None:
    reader.name = "Wheel"
    assert content(reader, "wheel is out") == Said("wheel is out")
    assert content(reader, "wheel is out", room=GROUP, mentions_us=True) == Said("is out")


def test_pictures_and_other_things(reader: Reader) -> None:
    file = {"url": "mxc://shop.test/1", "key": {"k": "…"}, "iv": "…", "hashes": {}}
    assert content(reader, "this", kind="picture", file=file) == Sent("photo", (file,), "this")
    assert content(reader, "", kind="picture") == Sent("photo")
    assert content(reader, "", kind="thing", what="voice") == Sent("voice")
    assert content(reader, "manual.pdf", kind="thing", what="file") == Sent("file", note="manual.pdf")


def test_a_correction_of_what_was_said(reader: Reader) -> None:
    incoming = one(reader, seen("seven", "correction", id="$2", about="$1"))
    assert (incoming.key, incoming.content) == ("$2", Edited("seven", "$1"))
    assert reader.read(seen("!help", "correction", about="$1")) == ()
    assert reader.read(seen(" ", "correction", about="$1")) == ()


def test_a_message_that_is_taken_away(reader: Reader) -> None:
    one(reader, seen("seven", id="$1"))
    incoming = one(reader, seen("", "redaction", id="$2", about="$1"))
    assert (incoming.key, incoming.content) == ("$2", Edited("", "$1", if_taken=True))


# --- numbers under messages -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "number"),
    [
        ("1️⃣", 1),
        ("1\u20e3", 1),
        ("1\ufe0f", 1),
        ("1", 1),
        ("①", 1),
        ("❶", 1),
        ("１", 1),
        ("¹", 1),
        ("9️⃣", 9),
        ("🔟", 10),
        ("10", 10),
        ("0️⃣", 0),
        (" 2 ", 2),
        ("👍", None),
        ("👍️", None),
        ("", None),
        ("one", None),
        ("123", None),
        ("1.", None),
        ("-1", None),
        ("½", None),
        ("\ufe0f\u20e3", None),
    ],
)
def test_which_reactions_are_numbers(key: str, number: int | None) -> None:
    assert number_of(key) == number


def test_a_reaction(reader: Reader) -> None:
    incoming = one(reader, seen("2️⃣", "reaction", id="$r", about="$question"))
    assert (incoming.key, incoming.conversation, incoming.content) == ("$r:reaction", ADA, Reacted(2, "$question"))
    assert incoming.address == {"room": "!direct"}
    assert reader.read(seen("🎉", "reaction", about="$question")) == ()
    assert one(reader, seen("🤷🏽", "reaction", about="$question")).content == Reacted(0, "$question", "unsure")


# --- what cannot be read --------------------------------------------------------------------------------------------


def test_it_is_told_once_that_a_message_cannot_be_read(reader: Reader) -> None:
    first = one(reader, seen("", "undecryptable", id="$1"))
    assert (first.key, first.content) == ("$1:locked", Sent("undecryptable"))
    assert reader.read(seen("", "undecryptable", id="$2")) == ()
    assert reader.read(seen("", "undecryptable", id="$3", sender=BOB)) != (), "somebody else does not know yet"
    again = Reader(BOT, "Wheel Bot", "en", ("en",))
    again.restore(reader.kept())
    assert again.read(seen("", "undecryptable", id="$4")) == ()
    assert one(reader, seen("six", id="$1")).key == "$1", "it can be read after all, and is another message then"
    assert reader.read(seen("", "undecryptable", id="$5")) != ()


def test_in_a_group_nobody_hears_of_what_may_not_be_for_the_bot(reader: Reader) -> None:
    assert reader.read(seen("", "undecryptable", room=GROUP)) == ()
    assert reader.read(seen("", "undecryptable", room=GROUP, thread="$root")) == ()
    assert reader.read(seen("", "undecryptable", room=GROUP, answers_us=True)) != ()


# --- groups ---------------------------------------------------------------------------------------------------------


def test_in_a_group_only_what_is_said_to_the_bot_counts(reader: Reader) -> None:
    assert reader.read(seen("has anybody got a chain whip?", room=GROUP)) == ()
    assert reader.read(seen("!help", room=GROUP)) == ()
    assert reader.read(seen("", "picture", room=GROUP)) == ()
    incoming = one(reader, seen("Wheel Bot six", room=GROUP, mentions_us=True, id="$2"))
    assert incoming == Incoming(
        "matrix",
        "$2",
        f"!group - {ADA}",
        {"room": "!group", "reply": "$2", "person": ADA},
        Said("six"),
        AT,
        "en",
        private=False,
    )
    assert content(reader, "seven", room=GROUP, answers_us=True) == Said("seven")
    assert content(reader, "!help", room=GROUP, mentions_us=True) == Commanded("help")


def test_to_be_named_and_nothing_else_is_to_come_in(reader: Reader) -> None:
    assert content(reader, "Wheel Bot", room=GROUP, mentions_us=True) == Arrived()
    assert content(reader, "@wheels", room=GROUP, mentions_us=True) == Arrived()


def test_a_case_is_one_persons_in_one_thread_of_one_room(reader: Reader) -> None:
    where = [
        one(reader, seen("six", room=room, sender=who, thread=thread, mentions_us=True)).conversation
        for room in (GROUP, Room("!b", "!b", direct=False, encrypted=True))
        for who in (ADA, BOB)
        for thread in ("", "$t1", "$t2")
    ]
    assert len(set(where)) == 12


def test_in_the_thread_of_a_case_its_person_need_not_name_the_bot(reader: Reader) -> None:
    assert reader.read(seen("six", room=GROUP, thread="$t")) == ()
    reader.read(seen("@wheels hello", room=GROUP, thread="$t", mentions_us=True))
    incoming = one(reader, seen("six", room=GROUP, thread="$t", id="$3"))
    assert incoming.conversation == f"!group $t {ADA}"
    assert incoming.address == {"room": "!group", "thread": "$t", "reply": "$3", "person": ADA}
    assert reader.read(seen("six", room=GROUP, thread="$t", sender=BOB)) == (), "who talks beside it is not heard"
    assert reader.read(seen("six", room=GROUP, thread="$other")) == ()
    assert reader.read(seen("six", room=GROUP)) == ()
    again = Reader(BOT, "Wheel Bot", "en", ("en",))
    again.restore(reader.kept())
    assert again.read(seen("six", room=GROUP, thread="$t")) != ()


def test_an_upgraded_room_goes_on_under_its_first_name(reader: Reader) -> None:
    reader.read(seen("@wheels hello", room=GROUP, thread="$t", mentions_us=True))
    incoming = one(reader, seen("six", room=UPGRADED, thread="$t"))
    assert incoming.conversation == f"!group $t {ADA}"
    assert incoming.address["room"] == "!newer"


def test_a_reaction_goes_to_all_conversations_that_its_person_has_there(reader: Reader) -> None:
    assert reader.read(seen("1", "reaction", room=GROUP, about="$q")) == ()
    for thread in ("", "$t"):
        reader.read(seen("@wheels hello", room=GROUP, thread=thread, mentions_us=True))
    found = reader.read(seen("1", "reaction", room=GROUP, about="$q", id="$r"))
    assert [(each.key, each.conversation, each.content) for each in found] == [
        ("$r:reaction", f"!group - {ADA}", Reacted(1, "$q")),
        ("$r:reaction", f"!group $t {ADA}", Reacted(1, "$q")),
    ]
    assert found[1].address == {"room": "!group", "thread": "$t", "reply": "$q", "person": ADA}
    assert reader.read(seen("1", "reaction", room=GROUP, about="$q", sender=BOB)) == ()


def test_a_correction_counts_for_what_had_counted_or_if_it_names_the_bot(reader: Reader) -> None:
    assert reader.read(seen("seven", "correction", room=GROUP, about="$1")) == ()
    reader.read(seen("@wheels six", room=GROUP, thread="$t", mentions_us=True))
    (known,) = reader.read(seen("seven", "correction", room=GROUP, about="$1", id="$2"))
    assert (known.conversation, known.content) == (f"!group $t {ADA}", Edited("seven", "$1", if_taken=True))
    known, new = reader.read(seen("@wheels seven", "correction", room=GROUP, about="$1", id="$2", mentions_us=True))
    assert (known.key, known.content) == ("$2", Edited("seven", "$1", if_taken=True))
    assert (new.key, new.conversation, new.content) == ("$2", f"!group - {ADA}", Edited("seven", "$1"))


def test_who_is_forgotten_is_not_remembered_here_either(reader: Reader) -> None:
    for thread in ("", "$t"):
        reader.read(seen("@wheels hello", room=GROUP, thread=thread, mentions_us=True))
    reader.read(seen("", "undecryptable", room=GROUP, answers_us=True))
    reader.forget(f"!group $t {ADA}")
    assert reader.read(seen("six", room=GROUP, thread="$t")) == ()
    assert len(reader.read(seen("1", "reaction", room=GROUP, about="$q"))) == 1
    reader.forget(f"!group - {ADA}")
    reader.read(seen("hello", thread="$t"))
    reader.read(seen("", "undecryptable", thread="$t"))
    reader.forget(ADA)
    assert ADA not in str(reader.kept())


def test_what_is_remembered_is_bounded(reader: Reader) -> None:
    for number in range(MOST_THREADS + 5):
        reader.read(seen("@wheels hello", room=GROUP, thread=f"$t{number}", mentions_us=True))
    assert len(reader.read(seen("1", "reaction", room=GROUP, about="$q"))) == MOST_THREADS
    assert reader.read(seen("six", room=GROUP, thread="$t0")) == ()
    assert reader.read(seen("six", room=GROUP, thread=f"$t{MOST_THREADS + 4}")) != ()
    for number in range(MOST_PEOPLE + 5):
        who = f"@p{number}:shop.test"
        reader.read(seen("@wheels hello", room=GROUP, sender=who, mentions_us=True))
        reader.read(seen("", "undecryptable", sender=who))
    assert (len(reader.threads), len(reader.told)) == (MOST_PEOPLE, MOST_PEOPLE)


# --- people behind a bridge -----------------------------------------------------------------------------------------


def test_people_behind_one_account_are_told_apart_by_name(reader: Reader) -> None:
    ada = one(reader, seen("<Ada> six", sender=BRIDGE))
    bob = one(reader, seen("<Bob>: !help", sender=BRIDGE))
    assert (ada.conversation, ada.content) == (f"{BRIDGE} Ada", Said("six"))
    assert (bob.conversation, bob.content) == (f"{BRIDGE} Bob", Commanded("help"))
    assert ada.address == {"room": "!direct", "called": "Ada"}


def test_what_a_bridge_says_for_itself_is_nobodys(reader: Reader) -> None:
    for kind in ("words", "picture", "thing", "undecryptable", "correction", "reaction"):
        assert reader.read(seen("Ada has joined", kind, sender=BRIDGE, about="$1")) == ()
    assert reader.read(seen("1", "reaction", sender=BRIDGE, about="$1")) == ()
    assert reader.read(seen("<Ada> 1", "reaction", sender=BRIDGE, about="$1")) == ()


def test_people_behind_a_bridge_in_a_group(reader: Reader) -> None:
    assert reader.read(seen("<Ada> hello all", sender=BRIDGE, room=GROUP)) == ()
    incoming = one(reader, seen("<Ada> Wheel Bot: six", sender=BRIDGE, room=GROUP, mentions_us=True))
    assert (incoming.conversation, incoming.content) == (f"!group - {BRIDGE} Ada", Said("six"))
    assert incoming.address == {"room": "!group", "reply": "$1", "person": BRIDGE, "called": "Ada"}
    corrected = reader.read(seen("<Ada> seven", "correction", sender=BRIDGE, room=GROUP, about="$1"))
    assert [each.content for each in corrected] == [Edited("seven", "$1", if_taken=True)]
    reader.forget(f"!group - {BRIDGE} Ada")
    assert reader.threads == {}
