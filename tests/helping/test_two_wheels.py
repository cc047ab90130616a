"""A mentor with two riders: nothing meant for one wheel gets into the other, and every reply says which it is."""

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.helping.riding import MO, RED, RIA, code_of, helps, invited, shown, to_send_on
from tests.words import words_of
from triagebot.cases.loaded import unfolded
from triagebot.conversation import Message, plain
from triagebot.conversation.blocks import Remark
from triagebot.delivery import WaitingClient
from triagebot.helping.which_wheel import HERE, THERE
from triagebot.identify import CountReading
from triagebot.messages import Pressed
from triagebot.topics import Texts

BLUE = "Blue"


@pytest.fixture
def two(office: Office, channel: RecordedChannel) -> tuple[str, str]:
    """Blue, whose rider has joined, and Red, which the mentor is at; gives their codes."""
    blue = helps(office, name=BLUE)
    office.bring(RIA, invited(office, channel))
    office.bring(RIA, "yes")
    return blue, helps(office, name=RED)


def counts(office: Office, code: str) -> list[int]:
    with office.store.store.read() as view:
        stored = view.case_by_code(code)
        assert stored is not None
        readings = unfolded(stored).case.now.readings
    return [reading.low for reading in readings if isinstance(reading, CountReading) and reading.question == "count"]


def last(channel: RecordedChannel, who: str = MO) -> str:
    return plain(shown(channel, who).reply)


def test_an_answer_after_a_rider_s_news_is_asked_about(
    office: Office, channel: RecordedChannel, two: tuple[str, str], texts: Texts
) -> None:
    blue, red = two
    office.bring(RIA, "20 splines")
    office.bring(MO, "no, 12 splines")
    asked = shown(channel, MO)
    assert last(channel).startswith("Is that for “Blue”?")
    assert [choice.label for choice in asked.reply.offers] == ["Yes, Blue: no, 12 splines", f"No, {RED}"]
    assert (counts(office, blue), counts(office, red)) == ([20], [])
    office.bring(MO, Pressed(asked.case, asked.turn, THERE))
    assert (counts(office, blue), counts(office, red)) == ([12], [])
    assert last(channel).startswith(texts("mentor-switched", name=BLUE))
    assert "(Earlier the rider said: the count is 20.)" in last(channel)
    assert "(Earlier you said: the count is 20.)" in last(channel, RIA)


@pytest.mark.parametrize(
    ("said", "there"), [("yes", True), ("blue", True), ("Yes, Blue", True), ("no", False), ("red racer", False)]
)
def test_which_one_is_meant_can_be_typed(
    office: Office, channel: RecordedChannel, two: tuple[str, str], said: str, there: bool
) -> None:
    blue, red = two
    office.bring(RIA, "it stays still")
    office.bring(MO, "12 splines")
    office.bring(MO, said)
    assert (counts(office, blue), counts(office, red)) == (([12], []) if there else ([], [12]))
    assert code_of(office, MO) == (blue if there else red)


def test_a_press_says_it_is_here(office: Office, channel: RecordedChannel, two: tuple[str, str]) -> None:
    blue, red = two
    office.bring(RIA, "it stays still")
    office.bring(MO, "12 splines")
    asked = shown(channel, MO)
    office.bring(MO, Pressed(asked.case, asked.turn, HERE))
    assert (counts(office, blue), counts(office, red)) == ([], [12])


def test_something_else_is_a_message_of_its_own(office: Office, channel: RecordedChannel, two: tuple[str, str]) -> None:
    blue, red = two
    office.bring(RIA, "it stays still")
    office.bring(MO, "12 splines")
    office.bring(MO, "4 notches")
    assert (counts(office, blue), counts(office, red)) == ([], [4])


def test_without_news_nothing_is_asked(office: Office, channel: RecordedChannel, two: tuple[str, str]) -> None:
    _, red = two
    office.bring(MO, "12 splines")
    assert counts(office, red) == [12]
    office.bring(RIA, "it stays still")
    office.bring(MO, "thanks")
    assert "Is that for" not in last(channel), "that says nothing of a wheel"
    office.bring(MO, "it turns")
    assert "Is that for" not in last(channel), "the mentor has written since"


def test_a_name_in_passing_is_asked_about(office: Office, channel: RecordedChannel, two: tuple[str, str]) -> None:
    blue, red = two
    office.bring(MO, "blue has 12 splines")
    assert last(channel).startswith("Is that for “Blue”?")
    office.bring(MO, "yes")
    assert (counts(office, blue), counts(office, red)) == ([12], [])


def test_a_name_with_a_colon_goes_there_and_says_so(
    office: Office, channel: RecordedChannel, two: tuple[str, str], texts: Texts
) -> None:
    blue, red = two
    office.bring(MO, "blue: 12 splines")
    assert (counts(office, blue), counts(office, red)) == ([12], [])
    assert last(channel).startswith(texts("mentor-switched", name=BLUE))


@pytest.mark.parametrize("said", ["it stays still", "why", "thanks", "12 splines", "help", "back", "person"])
def test_every_reply_names_the_wheel(office: Office, channel: RecordedChannel, two: tuple[str, str], said: str) -> None:
    office.bring(MO, said)
    assert RED in last(channel)
    office.bring(MO, "blue")
    office.bring(MO, said)
    assert BLUE in last(channel)


@pytest.mark.parametrize("said", ["summary blue", "blue summary", "summary of blue", "Blue: summary"])
def test_a_summary_is_had_by_name_without_going_there(
    office: Office, channel: RecordedChannel, two: tuple[str, str], said: str
) -> None:
    blue, red = two
    office.bring(MO, said)
    assert blue in words_of(to_send_on(channel, MO).reply)
    if ":" not in said:
        assert code_of(office, MO) == red


@pytest.mark.parametrize("said", ["finish blue", "blue finish"])
def test_one_is_put_away_by_name_and_its_rider_may_go_on_alone(
    office: Office, channel: RecordedChannel, two: tuple[str, str], texts: Texts, said: str
) -> None:
    blue, red = two
    office.bring(MO, said)
    assert texts("mentor-finished", name=BLUE, code=blue) in last(channel)
    assert code_of(office, MO) == red
    assert last(channel, RIA).startswith(texts("mentor-from-mentor-finished"))
    told = len(channel.screens[MO])
    office.bring(RIA, "12 splines")
    assert counts(office, blue) == [12]
    assert len(channel.screens[MO]) == told, "the mentor sees nothing more of it"


@pytest.mark.parametrize(
    ("said", "named"), [("rename blue to Sam's", "Sam's"), ("rename it to the green one", "the green one")]
)
def test_one_is_renamed_by_its_name(
    office: Office, channel: RecordedChannel, two: tuple[str, str], said: str, named: str
) -> None:
    office.bring(MO, said)
    office.bring(MO, "cases")
    assert f"“{named}”" in last(channel)
    assert (BLUE in last(channel)) == (named == "the green one")


def test_the_rider_has_a_summary_too(office: Office, channel: RecordedChannel, two: tuple[str, str]) -> None:
    blue, _ = two
    office.bring(RIA, "it stays still")
    office.bring(RIA, "summary")
    assert "the middle stays still" in last(channel, RIA)
    assert blue in last(channel, RIA)
    assert channel.last(RIA).reply.question is not None


def test_no_it_is_corrects_what_was_said_last(office: Office, channel: RecordedChannel, two: tuple[str, str]) -> None:
    _, red = two
    office.bring(MO, "12 splines")
    office.bring(MO, "no it is 20")
    assert counts(office, red) == [20]


def test_no_it_is_corrects_what_is_being_asked_back(
    office: Office, channel: RecordedChannel, two: tuple[str, str]
) -> None:
    _, red = two
    office.bring(MO, "it turns")
    office.bring(MO, "twelve? hard to see")
    assert "12?" in last(channel)
    office.bring(MO, "no it is 20")
    assert counts(office, red) == [20]


def test_an_invitation_from_a_terminal_has_a_link_where_there_are_pages(office: Office) -> None:
    store = office.store.store
    client = WaitingClient(office.guide, store, office.clock, office.codes, address="https://bike.example.org")
    client.hear("terminal:me", Message("I’m helping somebody: Blue"), "en")
    sent_on = client.hear("terminal:me", Message("invite"), "en").reply.forward
    assert sent_on is not None
    words = [block.text for block in sent_on.blocks if isinstance(block, Remark)]
    assert "https://bike.example.org/join/" in " ".join(words)
