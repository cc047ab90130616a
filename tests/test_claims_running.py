"""Every sentence of the pages for the person who runs it and for the person who edits a shop that says what triagebot
does, with the test that proves it. The rest is advice, and stands in its own list."""

import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from tests.claims import ROOT, assert_exists, assert_nothing_is_left, proves
from tests.claims_kept import KEPT
from tests.claims_watch import KEYS, WATCHED
from triagebot.cases.cards import LASTS
from triagebot.channels.matrix.invites import Invitations
from triagebot.channels.matrix.sending import QUIET
from triagebot.conversation import Guide, load_guide
from triagebot.keeping.watch import LATELY, MOST_WAITING
from triagebot.settings import Settings
from triagebot.shop import load_shop
from triagebot.testing import ScriptedPerson
from triagebot.topics import built_in_topic, load_topic

RUNNING, SHOP = "deploy/README.md", "deploy/example-shop/README.md"
KEEPING = "tests/keeping"
MATRIX, TELEGRAM = "tests/channels/matrix", "tests/channels/telegram"

ELSEWHERE = {
    **KEPT,
    **WATCHED,
    **KEYS,
    "Somebody whose invitation it declines is told why, in the room they invited it to.": (
        f"{MATRIX}/test_channel_rooms.py::test_who_may_not_invite_it_is_declined_in_one_line",
        f"{MATRIX}/test_channel_rooms.py::test_who_invites_it_too_often_is_told_where_they_talk_with_it",
    ),
    "When somebody else comes into a room for two, the bot says who it is and asks whether it is about the same "
    "wheel.": (f"{MATRIX}/test_newcomers.py::test_a_third_person_in_a_room_for_two",),
    "If so, it asks whose wheel it is whether both may answer; if not, the newcomer has a case of their own.": (
        f"{MATRIX}/test_newcomers.py::test_a_third_person_in_a_room_for_two",
        "tests/turns/test_newcomers.py::",
    ),
    "**Where it may not speak**, what it has to say waits until its power level allows it.": (
        f"{MATRIX}/test_channel_rooms.py::test_who_may_not_speak_keeps_everybody_elses_conversation_going",
    ),
    "What staff write in it goes to the customer; what mentions a colleague, or replies to one, stays there.": (
        f"{MATRIX}/test_staff_room.py::test_what_counts_as_an_answer",
    ),
    "`bash deploy/run.sh …` sets up `.venv/` the first time; after that the command is `.venv/bin/triagebot`, and "
    "`--help` behind any command says more.": (
        "tests/test_away_from_home.py::test_a_fresh_machine_sets_itself_up_once",
        "tests/test_commands.py::test_without_arguments_and_without_a_terminal_it_shows_the_help",
    ),
    "Settings are environment variables, or lines in `triagebot.toml` (the `Setting` column).": (
        "tests/test_settings.py::test_each_source_beats_the_one_before",
        "tests/test_settings.py::test_the_file_in_the_users_configuration_folder",
    ),
    "`triagebot serve` prints every mistake in them at once, and starts only when there is none.": (
        "tests/test_settings.py::test_everything_that_is_wrong_is_said_at_once_with_its_place",
        "tests/test_commands_refused.py::test_settings_that_cannot_be_used",
    ),
    # the pages
    "`bash deploy/run.sh serve` without any setting serves http://127.0.0.1:8321/: the chat, the procedure notes with "
    "a search, a gauge sheet to print and a gauge for the screen.": (
        f"{TELEGRAM}/test_serve.py::test_without_any_setting_it_serves_pages_and_says_how_to_add_a_channel",
        "tests/pages/test_notes.py::test_search_leads_to_the_section_with_the_words_marked",
        "tests/pages/test_gauge.py::test_the_page_leads_to_the_sheet_the_screen_and_shows_both_pages",
    ),
    "A case has a card with a square code for the counter.": (
        "tests/pages/test_card.py::test_the_square_code_leads_to_the_card",
    ),
    "A site of your own can show the chat in a frame (`/chat/frame`; name the site in `TRIAGEBOT_WEB_FRAMES`); where a "
    "browser lets a frame keep nothing, the page says so, and a link takes the talk along.": (
        "tests/pages/chat/test_chat.py::test_the_frame_is_for_the_sites_that_are_named",
        "tests/pages/browser/test_frame.py::test_a_frame_that_may_keep_nothing_says_so_and_its_link_keeps_the_talk",
    ),
    "Nothing is fetched from elsewhere.": (
        "tests/pages/test_app.py::test_pages_hold_nothing_that_the_policy_forbids_and_fetch_nothing_from_elsewhere",
    ),
    "Everything works without scripts, except the gauge on the screen and new messages appearing by themselves.": (
        "tests/pages/browser/test_chat.py::test_a_whole_conversation_without_scripts",
        "tests/pages/browser/test_card.py::test_it_works_without_scripts_and_has_none",
        "tests/pages/browser/test_notes.py::test_pages_work_without_scripts_and_in_the_dark",
        "tests/pages/browser/test_gauge.py::test_without_scripts_it_says_what_is_needed",
    ),
    "Without these two headers all visitors share one request limit, and cookies are not marked secure.": (
        "tests/pages/test_app.py::test_one_household_has_one_bucket",
        "tests/pages/chat/test_chat.py::test_over_https_the_cookie_is_for_this_host_alone",
    ),
    # Telegram
    "triagebot fetches messages by itself.": (f"{TELEGRAM}/test_settings.py::test_nothing_but_the_token_is_needed",),
    "It acknowledges a message to the platform only when the message is on disk, and everything that follows from one "
    "message is written in one transaction.": (
        f"{TELEGRAM}/test_webhook.py::test_200_comes_after_the_commit_and_not_without_it",
        "tests/delivery/test_kills.py::",
    ),
    "A crash loses nothing and applies nothing twice; at worst one reply is sent a second time.": (
        f"{TELEGRAM}/test_crashes.py::test_nothing_is_lost_and_nothing_happens_twice",
    ),
    "Set `TRIAGEBOT_TELEGRAM_STAFF_ROOM` to its number, add the bot, turn topics on, and let it manage them: then "
    "every case has a topic of its own.": (
        f"{TELEGRAM}/test_staff_room.py::test_a_case_gets_a_topic_and_a_reply_there_reaches_its_person",
    ),
    "Without topics, replies hold a case together.": (
        f"{TELEGRAM}/test_staff_room.py::test_in_a_group_without_topics_answers_hold_a_case_together",
    ),
    # Matrix
    "The password is used once.": (f"{MATRIX}/test_connection_trouble.py::test_how_a_bot_logs_in",),
    "After that the login and the encryption keys are kept in `matrix/` in the data folder, encrypted.": (
        f"{MATRIX}/test_store_encryption.py::"
        "test_a_conversation_leaves_nobodys_name_and_the_person_who_comes_back_is_read",
        f"{MATRIX}/test_connection.py::test_what_is_kept_can_be_read_by_nobody_else",
    ),
    "An access token does instead of a password where a homeserver has no passwords; nothing else may use the same "
    "token.": (f"{MATRIX}/test_connection_trouble.py::test_an_access_token_is_enough",),
    "People invite the bot into a room.": (f"{MATRIX}/test_channel.py::test_from_hello_to_the_remover",),
    "In a room for two it says hello and takes everything as meant for it.": (
        f"{MATRIX}/test_channel.py::test_hello_is_said_once_a_room",
        f"{MATRIX}/test_reading.py::test_in_a_direct_room_everything_is_for_the_bot",
    ),
    "In any other room it hears only what mentions it, replies to it, or stands in a thread in which it already talks "
    "with that person; everybody has a case of their own there.": (
        f"{MATRIX}/test_reading.py::test_in_a_group_only_what_is_said_to_the_bot_counts",
        f"{MATRIX}/test_reading.py::test_in_the_thread_of_a_case_its_person_need_not_name_the_bot",
        f"{MATRIX}/test_channel_rooms.py::test_in_a_group_it_answers_the_person_who_speaks_to_it",
    ),
    "Typing answers a question, and so does reacting with one of the numbers under it.": (
        f"{MATRIX}/test_channel.py::test_from_hello_to_the_remover",
    ),
    "`!help`, `!back`, `!case`, `!privacy`, `!export`, `!forget`, `!language`, `!person` and `!stop` work, and so do "
    "the plain words.": (f"{MATRIX}/test_reading.py::test_commands",),
    "Editing a message changes the answer; taking a reaction away changes nothing.": (
        f"{MATRIX}/test_channel.py::test_a_correction_corrects_and_a_reaction_taken_away_does_not",
    ),
    "The bot leaves a room when nobody else is left and follows one that is upgraded.": (
        f"{MATRIX}/test_channel_rooms.py::test_it_leaves_a_room_where_nobody_else_is_left",
        f"{MATRIX}/test_channel_rooms.py::test_a_room_that_is_upgraded_is_followed",
    ),
    "**Who may invite it**: people of its own server.": (f"{MATRIX}/test_invites.py::test_who_may_invite",),
    "`TRIAGEBOT_MATRIX_ALLOW` names other servers or people, or `*` for everybody, which a shop with customers on many "
    "servers wants.": (f"{MATRIX}/test_invites.py::test_who_may_invite",),
    "**Encrypted rooms** work like others.": (f"{MATRIX}/test_channel.py::test_from_hello_to_the_remover",),
    "The bot cross-signs its own device, so ordinary clients show its messages without a warning; we checked the "
    "signatures on a homeserver, not in every client.": (
        f"{MATRIX}/test_connection_keys.py::test_the_account_signs_the_device",
    ),
    "A first start with a password replaces signing keys that the account had before, and people who had verified the "
    "account must do so again.": (
        f"{MATRIX}/test_connection_keys.py::test_signing_keys_of_an_ordinary_client_are_replaced_once",
    ),
    "If somebody logs in to the account with an ordinary client and sets up its encryption there, the signing keys are "
    "replaced, and the log says so.": (
        f"{MATRIX}/test_connection_keys.py::test_signing_keys_of_an_ordinary_client_are_replaced_once",
    ),
    "If you lose `matrix/` or the key file, move `matrix/` away to give the bot a new login: people then see a new "
    "device, and the bot cannot read older messages.": (
        f"{MATRIX}/test_store_encryption.py::test_with_another_key_a_file_is_refused_and_left_as_it_is",
    ),
    "It asks for the key, tells the person once, and takes the message when the key arrives.": (
        f"{MATRIX}/test_channel.py::test_a_message_that_cannot_be_opened_is_told_once_and_counts_when_its_key_comes",
        f"{MATRIX}/test_connection_keys.py::test_a_message_whose_key_comes_late_is_told_and_then_read",
    ),
    "It accepts messages from every device and sends to every device in a room, verified or not.": (
        f"{MATRIX}/test_connection_keys.py::test_keys_are_there_for_everybody_who_comes",
        f"{MATRIX}/test_connection_keys.py::test_who_goes_reads_no_more_and_who_comes_reads_what_follows",
    ),
    "People behind a bridge that speaks for them with one account are told apart by name.": (
        f"{MATRIX}/test_reading.py::test_people_behind_one_account_are_told_apart_by_name",
    ),
    "`matrix_bridges` gives, for that account, the pattern of what stands before their words:": (
        f"{MATRIX}/test_account.py::test_who_may_invite_and_who_is_behind_bridges",
    ),
    "They get plain text that begins with their name and can do everything by typing.": (
        f"{MATRIX}/test_channel_rooms.py::test_people_behind_a_bridge_do_everything_in_plain_text",
    ),
    'In a room with nobody but the bridge they address the bot by name: "wheels: it has 6 sprockets".': (
        f"{MATRIX}/test_channel_rooms.py::test_people_behind_a_bridge_do_everything_in_plain_text",
    ),
    "Two people with the same name there are taken for one.": (
        f"{MATRIX}/test_reading.py::test_people_behind_one_account_are_told_apart_by_name",
    ),
    "Set `TRIAGEBOT_MATRIX_STAFF_ROOM` to its id or alias and invite the bot: every case is a thread.": (
        f"{MATRIX}/test_staff_room.py::",
    ),
}

ADVICE = {
    "For several branches of a chain, read [branches.md](branches.md).",
    "[live.md](live.md) goes from nothing to live in ten minutes: service, container, proxy, updating, moving house.",
    "Have a supervisor restart the bot by `/health` and let a person be told by `/ready`: a restart brings no platform "
    "back.",
    "**More than two.**",
    "For the person who runs it.",
    "Editing your shop's data has [a page of its own](example-shop/README.md).",
    "To reach it from outside, put a proxy that holds your certificate in front of it and set `TRIAGEBOT_WEB_ADDRESS` "
    "to the address that people see, so that links in chats lead there.",
    "The proxy must set `X-Forwarded-For` and `X-Forwarded-Proto` itself and drop what visitors send under these "
    "names.",
    "If it runs on another machine or in another container, name its address in `FORWARDED_ALLOW_IPS`.",
    "Let the proxy also end requests that never finish.",
    "Make a bot with the platform's own bot for that, and put the token into a file that only you can read.",
    "Set `TRIAGEBOT_TELEGRAM_TOKEN_FILE` to that file (or `TRIAGEBOT_TELEGRAM_TOKEN` to the token).",
    "Run `bash deploy/run.sh serve --check`, then `bash deploy/run.sh serve`.",
    "If you would rather have them pushed, set `TRIAGEBOT_TELEGRAM_WEBHOOK` to an address that leads to it.",
    "Make an ordinary account for the bot and give it a display name.",
    "Nobody else should log in with it.",
    "Set `TRIAGEBOT_MATRIX_SERVER` to the homeserver's address, `TRIAGEBOT_MATRIX_USER` to the account (such as "
    "`@wheels:example.org`), and `TRIAGEBOT_MATRIX_PASSWORD_FILE` to a file with the password that only you can read.",
    "A bot has no recovery key.",
    "Keep copies of both.",
    "Many allow about ten events at once and then one in five seconds, and each number under a question is an event.",
    "On a server of your own, lift the limit for the bot's account.",
    "Backups hold what people said until you delete them.",
    "Stop `serve` and move the old folder away before.",
    "Afterwards:",
    "What was said since the backup is not in it; Matrix brings its messages again, and they are answered as new.",
    "If people on Matrix cannot read the bot in encrypted rooms, move `matrix/` away as when keys are lost.",
    "So make a backup first.",
    *("**Staff's group.**", "**Staff's room.**", "**Losing the keys.**", "**Messages it cannot decrypt.**"),
    *("**Limits of the homeserver.**", "**Bridges.**"),
}

OWN_STEPS = "tests/conversation/test_stepping.py::test_a_shop_says_a_step_in_its_own_words_and_adds_one"
VISITS = "tests/counter/test_visits.py"
SHOP_ELSEWHERE = {
    "With `visits: {morning: 2, afternoon: 3}` in `shop.yaml`, “Can I come on Thursday at four?” asks you for a visit, "
    "and no more are asked for or agreed to than you say.": (
        f"{VISITS}::test_a_visit_is_asked_for_and_agreed_to_with_one_word",
        f"{VISITS}::test_no_more_come_than_there_are_places",
        "tests/shop/test_parts.py::test_visits_and_holds_are_turned_on_in_shop_yaml",
    ),
    "With `holds: {days: 2}`, “keep me the twenty until tomorrow” asks you to keep a tool; nobody else is promised it "
    "or lent it meanwhile.": (
        f"{VISITS}::test_a_tool_is_kept_and_lent_to_nobody_else",
        f"{VISITS}::test_no_tool_is_kept_for_two",
    ),
    "You answer `yes CODE` or `no CODE fully booked`, and the customer reads that.": (
        f"{VISITS}::test_a_visit_is_asked_for_and_agreed_to_with_one_word",
        f"{VISITS}::test_it_is_refused_with_a_reason",
    ),
    "“calendar” gives them an agreed visit as a file, on Telegram and where your pages can be reached.": (
        "tests/counter/test_telegram.py::test_a_visit_is_asked_for_and_answered",
        f"{VISITS}::test_an_agreed_visit_is_a_file_on_request",
        f"{VISITS}::test_with_pages_there_is_a_link_to_it",
    ),
    "Without these lines people are told when you are open, and whom to ring.": (
        f"{VISITS}::test_a_shop_that_takes_no_visits_says_when_it_is_open",
    ),
    "People are led through the work step by step.": (
        "tests/conversation/test_stepping.py::test_every_kind_is_led_to_its_end_with_every_caution_before_its_step",
    ),
    "The head of a note may say a step as you do it, or add one behind another.": (OWN_STEPS,),
    "The cautions of the step stay, and you can add some.": (OWN_STEPS,),
    "The ids of the steps are in `flows/rear-sprockets/procedures.yaml`.": (
        "tests/shop/test_own_steps.py::test_a_note_s_steps_are_steps_of_the_topic",
    ),
    "`triagebot check --shop FOLDER` reads it all and prints every problem as file:line:column.": (
        "tests/test_commands_refused.py::test_every_problem_is_told_in_one_go",
        "tests/shop/test_check.py::test_faults_of_shape_and_of_substance_are_told_together",
    ),
    "Rows with `ought` are advice: they stop nothing, and with these alone `check` ends with 0.": (
        "tests/shop/test_owner.py::test_a_shop_with_three_notes_and_no_services_can_be_used",
        "tests/shop/test_owner.py::test_what_must_be_mended_stands_before_what_ought_to_be",
    ),
    "`triagebot serve` does not start while there is one, and changes nothing.": (
        "tests/test_commands_refused.py::test_a_shop_that_cannot_be_used_stops_the_start",
    ),
    "When staff close a case they say what the wheel really had.": (
        "tests/counter/test_case_ends.py::test_closed_with_what_it_was",
    ),
    "After some months `triagebot report` says how often the answers were right and how your customers' wheels differ "
    "from the catalogue; `--html FILE` draws it.": (
        "tests/study/test_commands.py::test_a_report_as_json_and_as_a_page",
    ),
    "`triagebot report --apply` shows what it would write to `learned.yaml` in your folder, and asks first.": (
        "tests/study/test_commands.py::test_applying_shows_the_difference_and_asks",
    ),
    "Before an edited copy of the folder goes live, `triagebot replay --shop COPY` lists the cases that it would "
    "answer differently, open ones first, and which row does it.": (
        "tests/study/test_replay.py::test_another_remover_names_the_row_and_the_open_case_first",
        "tests/study/test_commands.py::test_a_replay_says_by_its_exit_status_whether_anything_changes",
    ),
}
SHOP_ADVICE = {
    "Copy this folder, edit the copy, and set `TRIAGEBOT_SHOP` to it.",
    "Everything in the example is invented.",
}


@pytest.mark.parametrize(
    ("file", "elsewhere", "advice"), [(RUNNING, ELSEWHERE, ADVICE), (SHOP, SHOP_ELSEWHERE, SHOP_ADVICE)]
)
def test_every_sentence_is_proved_or_is_advice(file: str, elsewhere: dict[str, object], advice: set[str]) -> None:
    assert_nothing_is_left(file, elsewhere, advice)


@pytest.mark.parametrize(
    "proof", sorted({proof for proofs in (ELSEWHERE | SHOP_ELSEWHERE).values() for proof in proofs})
)
def test_a_proof_that_is_named_exists(proof: str) -> None:
    assert_exists(proof)


@proves(RUNNING, "Its link cannot be guessed, ends after two weeks, and can be taken back.")
def test_how_long_a_card_lasts() -> None:
    assert timedelta(weeks=2) == LASTS
    assert_exists("tests/store/test_grants.py::test_secrets_have_192_bits_and_differ")
    assert_exists("tests/pages/test_card.py::test_wrong_over_and_taken_back_are_all_alike")


@proves(
    RUNNING,
    "It follows 5 invitations of one person at once, and then one every two minutes; of one server 300 at once.",
)
def test_how_many_invitations_it_follows() -> None:
    now = [0.0]
    invitations = Invitations("@bot:here", ("*",), lambda: now[-1])

    def follows() -> bool:
        return invitations.declined("@ada:here") is None

    assert [follows() for _ in range(6)] == [True] * 5 + [False]
    now.append(120.1)
    assert [follows(), follows()] == [True, False]
    others = [invitations.declined(f"@p{number}:elsewhere") is None for number in range(301)]
    assert others == [True] * 300 + [False]


@proves(RUNNING, "Once a server asks for a pause, the bot leaves the numbers out for ten minutes.")
def test_how_long_numbers_are_left_out() -> None:
    assert QUIET == 10 * 60
    assert_exists(f"{MATRIX}/test_channel_rooms.py::test_a_server_that_wants_fewer_events_gets_no_numbers")


@proves(
    RUNNING,
    "`/ready` says whether it can take messages in and send: the database can be written, every platform answered "
    "within three minutes, and no more than 5,000 messages wait.",
)
def test_what_it_takes_to_be_ready() -> None:
    assert (LATELY, MOST_WAITING) == (3 * 60, 5000)
    for name in ("database_that_cannot_be_written", "platform_that_does_not_answer"):
        assert_exists(f"{KEEPING}/test_watch.py::test_a_{name}")
    assert_exists(f"{KEEPING}/test_watch.py::test_more_waits_than_may")


def test_the_address_of_the_pages_is_the_one_that_is_named() -> None:
    settings = Settings.model_fields
    assert (str(settings["web_host"].default), settings["web_port"].default) == ("127.0.0.1", 8321)


@proves(SHOP, "Each file begins with what its lines mean.")
def test_each_file_begins_with_what_its_lines_mean() -> None:
    folder: Path = (ROOT / SHOP).parent
    files = sorted(folder.glob("*.yaml"))
    assert {file.name for file in files} >= {"shop.yaml", "tools.yaml", "services.yaml", "makers.yaml", "links.yaml"}
    for file in files:
        begins = file.read_text(encoding="utf-8").splitlines()[:3]
        assert all(line.startswith("# ") for line in begins), file


@proves(SHOP, "`hand-over: [electric-hub]` in `shop.yaml` sends wheels with a motor to a person.")
def test_a_wheel_with_a_motor_goes_to_a_person(tmp_path: Path) -> None:
    copy = Path(shutil.copytree((ROOT / SHOP).parent, tmp_path / "shop"))
    assert ScriptedPerson(guide_of(copy)).says("hello", "there is a motor in the rear hub").status != "person"
    with (copy / "shop.yaml").open("a", encoding="utf-8") as file:
        file.write("\nhand-over: [electric-hub]\n")
    assert ScriptedPerson(guide_of(copy)).says("hello", "there is a motor in the rear hub").status == "person"


def guide_of(shop: Path) -> Guide:
    topic = load_topic(built_in_topic())
    return load_guide(topic, load_shop(shop, topic))
