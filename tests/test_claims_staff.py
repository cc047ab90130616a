"""Every sentence of the page for staff: said to the bot as they would say it, and read as they do."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from tests.claims import assert_exists, assert_nothing_is_left, proves
from tests.commands import run
from tests.conversation.guides import shipped_guide
from tests.counter.shop import Shop
from tests.doubles.telegram.content import plain_png
from tests.handover.workshop import ROOM, Workshop, workshop
from triagebot.counter.invitations import LASTS
from triagebot.messages import InRoom, Refused, Sent
from triagebot.shop.schema import WEEKDAYS, Week

COUNTER = "triagebot/counter/README.md"

BIKES = "tests/counter/test_bikes.py"
VISITS, KIT = "tests/counter/test_visits.py", "tests/counter/test_kit.py"
SHORT, MEANT = "tests/counter/test_short_lines.py", "tests/counter/test_meant.py"
RIGHT, HALF = "tests/counter/test_put_right.py", "test_half_a_code_stands_for_the_whole_and_is_no_part_of_the_words"
ELSEWHERE = {
    "Write as you speak: “gus has the 20 till mon”, “whats jonas got”, “CODE mine”.": (
        *(f"{MEANT}::test_{each}" for each in ("what_is_certain_is_done", "a_code_may_stand_anywhere")),
        f"{MEANT}::test_what_is_asked_is_answered_and_nothing_is_done",
    ),
    "What is certain is done; what may mean two things is asked back with both, with the day and the hour that were "
    "understood, and a number, or a yes where there is one, takes it.": (
        "tests/counter/test_keeping.py::test_what_is_not_sure_is_asked_back_with_its_day_and_changes_nothing",
        "tests/counter/test_meant.py::test_what_is_not_is_offered_and_nothing_is_done",
        "tests/counter/test_meant.py::test_a_number_or_its_button_takes_one_of_several",
        "tests/counter/test_meant.py::test_a_yes_takes_what_was_offered_and_anything_else_drops_it",
    ),
    "Behind “label”, “note”, “close” and the like, the name of a bike's owner does instead of the code.": (
        f"{SHORT}::test_a_bike_is_named_by_its_owner",
    ),
    "“it” is the tool that was told of last: “where is it” is answered, “kim has it til closing” asked back.": (
        f"{SHORT}::test_it_is_the_tool_that_was_told_of_last",
    ),
    "“no” to what is asked back does nothing.": (f"{SHORT}::test_no_to_what_is_offered_does_nothing",),
    "“no 40”, “its 40 not 24” and “no, turns” put right what you told of a wheel last.": (
        *(f"{RIGHT}::test_{each}" for each in ("a_width_is_put_right", "how_it_turns_is_put_right_and_the_rest_stays")),
    ),
    "The first half of a code will do where a case is named: “note TTH pays cash”.": (f"{RIGHT}::{HALF}",),
    "Nothing that is written down is guessed.": (f"{MEANT}::test_a_wheel_is_no_tool",),
    "Write `link me` to the bot: the link works once, within ten minutes, and the browser stays logged in for a "
    "week.": (
        "tests/pages/counter/test_login.py::test_a_member_asks_for_a_link_in_a_chat",
        "tests/pages/counter/test_login.py::test_a_link_logs_in_once_and_looking_at_it_uses_nothing_up",
        "tests/pages/counter/test_login.py::test_links_and_sessions_end_by_themselves",
    ),
    "Who has no messenger opens the link that `triagebot staff invite` prints, and gets a new one from "
    "`triagebot staff link NAME`.": (
        "tests/counter/test_commands.py::test_an_invitation_and_a_link_lead_to_the_counter_page",
        "tests/pages/counter/test_login.py::test_an_invitation_opens_the_page_and_counts_once",
    ),
    "The queue, each case with its card, its words and its photos, and what you do with it (answer, claim, give back, "
    "close) are all there, for a phone, and without scripts.": (
        "tests/pages/browser/test_counter.py::test_the_counter_works_on_a_small_phone_without_scripts",
        "tests/pages/counter/test_counter.py::test_a_case_is_claimed_answered_and_closed_from_the_page",
    ),
    "What you answer there goes to the customer as with `say`.": (
        "tests/pages/counter/test_counter.py::test_a_case_is_claimed_answered_and_closed_from_the_page",
    ),
    "Who leaves the staff is out at once.": (
        "tests/pages/counter/test_login.py::test_who_leaves_the_staff_is_out_at_once_and_stays_out_when_back",
    ),
    "Where the shop's folder says so, customers ask for a visit or for a tool to be kept.": (
        f"{VISITS}::test_a_visit_is_asked_for_and_agreed_to_with_one_word",
        f"{VISITS}::test_a_tool_is_kept_and_lent_to_nobody_else",
        f"{VISITS}::test_a_shop_that_takes_no_visits_says_when_it_is_open",
    ),
    "You hear of it like of a case, it stands in `queue`, and `yes CODE` or `no CODE fully booked` answers it; so does "
    "a plain `yes` or `no` in reply to the message.": (
        f"{VISITS}::test_a_visit_is_asked_for_and_agreed_to_with_one_word",
        f"{VISITS}::test_it_is_refused_with_a_reason",
        f"{VISITS}::test_a_yes_in_answer_to_the_message_is_enough",
    ),
    "“is sams bike ready” tells how far it is.": (
        "tests/counter/test_bikes.py::test_staff_ask_how_far_a_bike_is_by_its_name",
    ),
    "A customer whose case the bike is tied to hears that too when they ask “is it ready?” in the chat.": (
        "tests/counter/test_bikes.py::test_a_customer_hears_how_far_their_bike_is",
    ),
    "Where fewer can be taken off by any tool of yours, it is all but the rarest of those, and the list says what "
    "stays.": (
        "tests/counter/test_kit.py::test_it_covers_what_it_says_and_holds_nothing_to_spare",
        "tests/counter/test_kit.py::test_staff_ask_for_it",
    ),
    "The first answer counts.": ("tests/counter/test_visit_races.py::test_of_two_who_answer_at_once_exactly_one_does",),
    "A kept tool can be lent to that code, and to nobody else.": (
        f"{VISITS}::test_a_tool_is_kept_and_lent_to_nobody_else",
    ),
    "`kit` lists what to take to a wheel that nobody has seen, and `kit five-speed, stays still` to one of which you "
    "know that much: what covers 95, then 99 of a hundred such wheels, by your closed cases and by what each tool is "
    "to carry (`carry` in `tools.yaml`).": (
        f"{KIT}::test_staff_ask_for_it",
        f"{KIT}::test_it_covers_what_it_says_and_holds_nothing_to_spare",
        f"{KIT}::test_this_shops_closed_cases_move_it",
        f"{KIT}::test_what_is_heavy_stays_at_home_while_something_else_will_do",
    ),
    "`new blue tourer, Sam, Thursday` opens a case for a bike that stays with you; a telephone number or an address "
    "can stand behind it, and the code of a case from the chat ties the bike to that.": (
        f"{BIKES}::test_what_is_said_of_a_bike",
        f"{BIKES}::test_what_somebody_brings_with_a_code_from_the_chat",
    ),
    "What you write and photograph from then on is kept with it, until `away`, `next` or another `new`; `bike Sam` "
    "takes it up again.": (
        f"{BIKES}::test_lines_belong_to_the_bike_until_it_is_put_away",
        f"{BIKES}::test_another_new_and_next_put_the_first_away",
        f"{BIKES}::test_a_photo_is_kept_with_the_bike",
    ),
    "`find Sam` finds it by name, bike, number or code.": (f"{BIKES}::test_it_is_found_by_name_by_bike_and_by_code",),
    "Closing it counts in `triagebot report`.": (f"{BIKES}::test_closing_feeds_the_report_like_any_other",),
    "`label CODE` gives a label to print, with a square code; without pages, `triagebot staff label CODE` writes it.": (
        f"{BIKES}::test_a_label_leads_to_the_case",
        "tests/pages/test_card.py::test_a_label_is_there_for_a_bike_and_for_no_other_case",
        "tests/counter/test_commands.py::test_a_label_is_written_for_a_bike",
    ),
    "`forget CODE`, said twice, deletes the bike's case with its owner's name, or only the name where the case came "
    "from the chat.": (
        f"{BIKES}::test_names_are_encrypted_and_go_with_the_case",
        f"{BIKES}::test_whose_it_is_can_be_deleted_of_a_case_from_the_chat",
    ),
    "Who sits at a terminal, customer or member, reads there at once what came in for them, and else when they are "
    "back.": (
        "tests/handover/test_without_room.py::test_somebody_who_comes_back_to_a_terminal_reads_the_answer_once",
        "tests/test_commands_talk.py::test_what_comes_in_is_shown_above_the_line_that_is_being_written",
    ),
    "It works on every channel and in `triagebot talk`.": (
        "tests/counter/test_telegram.py::test_the_link_or_the_code_itself_makes_somebody_staff",
        "tests/counter/test_matrix.py::test_what_follows_start_is_a_secret_unless_it_is_a_case",
        "tests/counter/test_terminal.py::test_an_invitation_counts_at_the_terminal_and_the_bench_is_there",
    ),
    "If both are set up, a case goes to the room on the customer's own channel, and a case from anywhere else goes to "
    "Telegram's.": (
        "tests/channels/matrix/test_staff_room.py::test_a_customer_on_matrix_and_staff_on_telegram",
        "tests/channels/matrix/test_staff_room.py::test_a_customer_on_telegram_and_staff_on_matrix",
    ),
}


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Workshop]:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    with workshop(tmp_path) as made:
        yield made


@contextmanager
def counter(folder: Path) -> Iterator[Shop]:
    """A shop whose staff have no room."""
    shop = Shop(folder)
    try:
        yield shop
    finally:
        shop.end()


def test_every_sentence_is_proved() -> None:
    assert_nothing_is_left(COUNTER, ELSEWHERE, ())


@pytest.mark.parametrize("proof", [proof for proofs in ELSEWHERE.values() for proof in proofs])
def test_a_proof_that_is_named_exists(proof: str) -> None:
    assert_exists(proof)


# --- at the counter -----------------------------------------------------------------------------------------------


@proves(COUNTER, "`triagebot staff invite --name Ada` prints a code that works once.")
@proves(
    COUNTER,
    "Ada sends it to the bot in a private chat and is staff from then on (`--role owner` makes an owner), until "
    "`triagebot staff remove Ada`.",
)
def test_an_invitation_makes_one_person_staff_until_they_are_removed(shop: Workshop) -> None:
    def staff(*words: str) -> str:
        done = run("staff", *words, data=shop.folder, TRIAGEBOT_KEY_FILE=str(shop.folder.with_name("key")))
        assert done.returncode == 0, done.stderr
        return done.stdout

    code = staff("invite", "--name", "Olga", "--role", "owner").splitlines()[0]
    assert shop.says("olga", code, private=False) is not None
    assert shop.member("olga") is None, "only in a private chat"
    shop.says("olga", code)
    member = shop.member("olga")
    assert member is not None
    assert (member.name, member.role) == ("Olga", "owner")
    shop.says("dan", code)
    assert shop.member("dan") is None, "it works once"
    staff("remove", "Olga")
    assert shop.member("olga") is None
    assert timedelta(0) < LASTS


@proves(COUNTER, "Staff write what they see, and no case is opened for it:")
@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("12 spl 23.4 stays", "12 splines"),
        ("4n 40", "“the big four”, wall A, peg 9"),
        ("tools for 4n 24-25", "small four"),
        ("which does the small four fit", "4 notches"),
        ("queue", "222-222"),
        ("claim CODE", "222-222 is yours"),
        ("release CODE", "222-222"),
        ("snooze CODE until 15:00", "15:00"),
        ("case CODE", "stays still"),
        ("photos CODE", "222-222"),
        ("history CODE", "222-222"),
        ("close CODE 4n 24 fitted", "closed: freewheel, 4 notches, 24 mm"),
        ("say CODE bring-it", "222-222"),
        ("lend small four to Ben until 17:00", "Ben"),
        ("returned small four", "small four"),
        ("out", "in its place"),
        ("touched", "keeps its answer"),
        ("today", "one conversation today"),
        ("try", "?"),
        ("help", "queue"),
    ],
)
def test_a_line_of_the_table_gets_its_answer(shop: Workshop, line: str, says: str) -> None:
    code = shop.needs_a_person("bob")
    shop.staff("olga", "owner")
    if line.startswith("release"):
        shop.says("ada", f"claim {code}")
    if line.startswith("returned"):
        shop.says("ada", "lend small four to Ben until 17:00")
    cases = shop.cases()
    assert says in shop.says("olga" if line == "today" else "ada", line.replace("CODE", code))
    assert shop.cases() == cases + (line == "try")


@proves(COUNTER, "Anybody who is not staff is told nothing of this: to them these are words like any others.")
@pytest.mark.parametrize("word", ["out", "touched", "today", "claim 222-222", "history 222-222"])
def test_who_is_not_staff_gets_what_any_unknown_word_gets(shop: Workshop, word: str) -> None:
    shop.needs_a_person("cleo")
    for who in ("bob", "dan"):
        shop.says(who, "hello")
    unknown = re.sub(r"^[a-z]+", "blurb", word)
    assert shop.says("bob", word).replace(word, "") == shop.says("dan", unknown).replace(unknown, "")
    assert "222-222" not in shop.says("bob", "queue")


@proves(COUNTER, "With `case CODE` they ask to go on with that case, and the person whose it is decides.")
def test_a_customer_who_names_a_case_asks_to_go_on_with_it(shop: Workshop) -> None:
    code = shop.needs_a_person("cleo")
    assert "If that’s your case" in shop.says("bob", f"case {code}")
    assert shop.roomy.screens["cleo"][-1].reply.offers
    shop.says("cleo", "yes")
    assert shop.code("bob") == code


# --- the staff's room ---------------------------------------------------------------------------------------------


@proves(
    COUNTER,
    "With a group on Telegram or a room on Matrix set up (see [deploy/README.md](../../deploy/README.md)), every case "
    "that ends with a person is laid out there instead: what was said, what was ruled out, photos, what to fetch.",
)
@proves(COUNTER, "Photos too.")
@proves(
    COUNTER,
    "Only a **reply** to one of the bot's messages goes to the customer, under the name of the member who wrote it.",
)
@proves(COUNTER, "Everything else said there stays there and is not kept.")
def test_a_case_is_laid_out_and_only_replies_go_out(shop: Workshop) -> None:
    shop.roomy.files = {"his": plain_png(64, 48), "hers": plain_png(64, 48)}
    shop.brings("bob", Sent("photo", ({"file": "his"},)))
    shop.needs_a_person("bob")
    card = shop.room()[0]
    for words in ("the middle stays still", "Ruled out because the count is 4", "One photo.", "Fetch: “the big four”"):
        assert words in card
    assert shop.roomy.screens[ROOM][1].photo == 1
    shop.says_in_room("ada", "Bring it in at three.")
    assert "Ada" in shop.told("bob")[-1]
    assert "Bring it in at three." in shop.told("bob")[-1]
    shop.says_in_room("ada", Sent("photo", ({"file": "hers"},)))
    assert shop.roomy.screens["bob"][-1].photo == 2
    told, kept = shop.told("bob"), len(shop.rows("inbox", "id"))
    assert shop.says_in_room("eve", "I am not on the staff.").outcome == "ignored"
    assert (shop.told("bob"), len(shop.rows("inbox", "id"))) == (told, kept)
    assert_exists("tests/channels/telegram/test_staff_room.py::test_only_an_explicit_reply_of_staff_goes_out")


@proves(
    COUNTER,
    "Meanwhile the bot keeps quiet and passes on what the customer writes, until one of both says “back to the bot”.",
)
@pytest.mark.parametrize("who", ["bob", "ada"])
def test_the_bot_keeps_quiet_until_one_of_both_gives_it_back(shop: Workshop, who: str) -> None:
    shop.needs_a_person("bob")
    shop.says_in_room("ada", "Wait a moment.")
    assert shop.says("bob", "it has 12 splines") == ""
    assert "it has 12 splines" in shop.room()[-1]
    if who == "bob":
        shop.says("bob", "back to the bot")
    else:
        shop.says_in_room("ada", "back to the bot")
    assert shop.told("bob")[-1].startswith("It’s the bot again")
    assert shop.says("bob", "why") != ""


@proves(COUNTER, "Outside opening hours it offers that at once.")
def test_outside_opening_hours_it_offers_to_go_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    given = shipped_guide()
    never = given.shop.about.model_copy(update={"hours": Week.model_validate(dict.fromkeys(WEEKDAYS, "closed"))})
    with workshop(tmp_path, replace(given, shop=replace(given.shop, about=never))) as made:
        made.needs_a_person("bob")
        assert "You needn’t wait: say “back to the bot”" in made.told("bob")[-1]


@proves(COUNTER, "If a reply does not arrive, the bot says so under it.")
def test_a_reply_that_does_not_arrive_is_told_under_it(shop: Workshop) -> None:
    shop.needs_a_person("bob")
    shop.roomy.fates["bob"].extend([Refused("too long"), Refused("too long")])
    shop.says_in_room("ada", "At three.", message="m9")
    assert shop.room()[-1] == f"{shop.code('bob')}: this didn’t reach them."
    assert shop.last().address["under"] == "m9"


@proves(
    COUNTER,
    "If the bot cannot reach the room, cases and words wait, and are laid out there a minute or two after it can "
    "again.",
)
def test_cases_wait_for_a_room_that_cannot_be_reached(shop: Workshop) -> None:
    shop.roomy.fates[ROOM].extend([Refused("gone")] * 9)
    code = shop.needs_a_person("bob")
    shop.says("bob", "anybody there?")
    assert code in shop.says("ada", "queue")
    shop.roomy.fates[ROOM].clear()
    shop.looks_around()
    assert shop.room()[0].startswith(code)
    assert shop.room()[-1].endswith("anybody there?")


@proves(COUNTER, "In a case's own topic or thread, the bot says so under it, once in half an hour.")
def test_what_stays_in_the_room_is_said_to_stay_there(shop: Workshop) -> None:
    shop.needs_a_person("bob")
    for message in ("m1", "m2"):
        aside = InRoom("ada", f"{ROOM} thread 1", answers=False)
        shop.says_in_room("ada", "tell him at five", message=message, in_room=aside)
    assert "that stayed here" in shop.room()[-1]
    assert sum("that stayed here" in told for told in shop.room()) == 1
    assert shop.last().address["under"] == "m1"


@proves(COUNTER, "A case that is closed is told there, wherever that was, and its topic is closed.")
def test_a_closed_case_is_told_in_its_room(shop: Workshop) -> None:
    code = shop.needs_a_person("bob")
    shop.says("ada", f"close {code} 4n 40 fitted")
    assert shop.room()[-1] == f"{code}: Ada has closed it."
    assert shop.last().closes


# --- words both ways ----------------------------------------------------------------------------------------------


@proves(
    COUNTER,
    "When a case ends with a person, everybody on duty hears of it in their private chat, and hears every word that "
    "the customer writes.",
)
@proves(COUNTER, "Once somebody has the case, only they do.")
@proves(COUNTER, "To answer, reply to the message, or `say CODE …`.")
@proves(COUNTER, "The customer reads your name with it, and hears that their words were passed on.")
def test_words_both_ways_without_a_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    with counter(tmp_path) as shop:
        for who in ("ada", "eve", "off"):
            shop.staff(who)
        shop.says("off", "off duty")
        before = len(shop.recorded.texts("off"))
        code = shop.needs_a_person("bob")
        assert "passed that on" in shop.says("bob", "can you call me?")
        for who in ("ada", "eve"):
            new, words = shop.recorded.texts(who)[-2:]
            assert code in new
            assert "can you call me?" in words
        assert len(shop.recorded.texts("off")) == before
        shop.says("ada", "When?", about=code)
        shop.says("ada", f"say {code} At five?")
        assert [text.endswith("At five?") and "Ada" in text for text in shop.recorded.texts("bob")[-1:]] == [True]
        assert "When?" in shop.recorded.texts("bob")[-2]
        heard = len(shop.recorded.texts("eve"))
        shop.says("bob", "yes")
        assert "“yes”" in shop.recorded.texts("ada")[-1]
        assert len(shop.recorded.texts("eve")) == heard
