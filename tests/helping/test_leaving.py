"""Who takes part in a case leaves, is forgotten, or reads where nobody is told anything by itself."""

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.helping.riding import BLUE, MO, RED, RIA, TOM, by, code_of, helps, joined, shown, to_send_on
from tests.store.engines import ON_SQLITE
from tests.turns.test_forgetting import WORDS, lies_there
from tests.words import words_of
from triagebot.conversation import Message, plain
from triagebot.delivery import WaitingClient
from triagebot.messages import Commanded, new_code
from triagebot.topics import Texts


def forgets(office: Office, who: str) -> None:
    office.bring(who, "forget me")
    office.bring(who, "yes")


def test_the_rider_leaves(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    code = joined(office, channel)
    office.bring(RIA, "it stays still")
    office.bring(RIA, "leave")
    assert words_of(channel.last(RIA).reply) == texts("mentor-consent-left")
    assert words_of(shown(channel, MO).reply).startswith(texts("mentor-left", name=BLUE))
    assert words_of(to_send_on(channel, MO).reply)
    office.bring(RIA, "12 splines")
    assert code_of(office, RIA) != code
    assert by(office, MO) == ["rider"]


def test_the_rider_forgets_and_the_case_goes(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    code = joined(office, channel)
    office.bring(RIA, "it stays still")
    forgets(office, RIA)
    assert words_of(channel.last(MO).reply) == texts("mentor-forgot", name=BLUE)
    assert office.held(MO) is None
    with office.store.store.read() as view:
        assert view.case_by_code(code) is None


def test_the_mentor_forgets_and_the_rider_goes_on(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    code = joined(office, channel)
    alone = helps(office, name=RED)
    office.bring(RIA, "it stays still")
    forgets(office, MO)
    assert words_of(channel.last(MO).reply) == texts("forgotten")
    assert words_of(channel.last(RIA).reply).startswith(texts("mentor-from-mentor-left"))
    assert channel.last(RIA).reply.question is not None
    office.bring(RIA, "4 notches")
    assert code_of(office, RIA) == code
    with office.store.store.read() as view:
        assert view.case_by_code(alone) is None, "nobody else takes part in it"
        assert [row[0] for row in view.connection.exec_driver_sql("SELECT role FROM parties")] == ["person"]


@pytest.mark.parametrize(("asked", "other"), [(MO, RIA), (RIA, MO)])
def test_nobody_says_yes_for_the_other(office: Office, channel: RecordedChannel, asked: str, other: str) -> None:
    code = joined(office, channel)
    office.bring(asked, "forget me")
    office.bring(other, "yes")
    assert code_of(office, RIA) == code == code_of(office, MO)
    office.bring(asked, "forget me")
    office.bring(other, Commanded("erase"))
    assert code_of(office, RIA) == code == code_of(office, MO)


def test_what_the_mentor_was_asked_waits_for_the_mentor(office: Office, channel: RecordedChannel) -> None:
    joined(office, channel)
    forgets(office, MO)
    assert office.held(MO) is None


@ON_SQLITE
@pytest.mark.usefixtures("engine")
def test_of_a_rider_who_is_forgotten_nothing_is_left(office: Office, channel: RecordedChannel) -> None:
    code = joined(office, channel)
    office.bring(RIA, f"it stays still, {WORDS}")
    assert WORDS in words_of(channel.last(MO).reply)
    office.bring(MO, "summary")
    office.bring(MO, "cases")
    assert WORDS.encode() in lies_there(office)
    forgets(office, RIA)
    left = lies_there(office)
    for gone in (WORDS, code, "recorded:ria", "stays still"):
        assert gone.encode() not in left, gone


@pytest.mark.parametrize("who", [MO, RIA])
def test_help_says_what_else_works(office: Office, channel: RecordedChannel, texts: Texts, who: str) -> None:
    joined(office, channel)
    office.bring(who, "help")
    more = texts("mentor-help") if who == MO else texts("mentor-consent-help")
    assert more in words_of(channel.last(who).reply)


# --- where nobody is told anything by itself ----------------------------------------------------------------------


def test_at_a_terminal_what_is_to_be_sent_on_stands_between_lines(office: Office, texts: Texts) -> None:
    waiting_client = WaitingClient(office.guide, office.store.store, office.clock, new_code)
    waiting_client.hear("terminal:me", Message("I’m helping somebody"), "en")
    told = plain(waiting_client.hear("terminal:me", Message(BLUE), "en").reply)
    _, forward, rest = told.split("– – – – –")
    assert texts("mentor-forward-unsure") in forward
    assert texts("mentor-what-back", name=BLUE) in rest


def test_words_about_no_case_are_followed_by_ones_own(office: Office, texts: Texts) -> None:
    waiting_client = WaitingClient(office.guide, office.store.store, office.clock, new_code)
    told = waiting_client.hear("terminal:me", Message("BCDF-GHJK-MNPQ"), "en")
    assert words_of(told.reply).startswith(texts("mentor-code-over"))
    assert told.case is not None
    assert told.reply.question is not None


def test_nobody_else_notices_anything(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    for text in ("cases", "invite", "finish", "summary", "leave", "switch to blue", "rename"):
        office.bring(TOM, text)
        assert "mentor" not in words_of(channel.last(TOM).reply)
        assert texts("mentor-cases-head") not in words_of(channel.last(TOM).reply)
        assert not channel.last(TOM).forward
    office.bring(TOM, "12 splines")
    assert set(by(office, TOM)) == {"person"}
