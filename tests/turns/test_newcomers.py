"""Whose wheel it is, where somebody comes to whom the bot talks with somebody else."""

from dataclasses import replace

import pytest

from tests.conversation.guides import shipped_guide
from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from triagebot.conversation.reply import plain
from triagebot.messages import Beside, Commanded, Content, Joined, Pressed, Said, Sent

TEXTS = shipped_guide().language("en").texts
SHOP = shipped_guide().shop.name
ADA = Beside("Ada", "ada")
#: Whose the message is that somebody answers.
TO_ADA = Beside("Ada")


def bring(office: Office, content: Content | str, beside: Beside | None = ADA, person: str = "bob") -> str:
    """What they are told."""
    said = Said(content) if isinstance(content, str) else content
    received = office.run(office._bring(replace(office.incoming(person, said), beside=beside)))
    return plain(received.reply) if received.reply is not None else ""


@pytest.fixture
def ada(office: Office) -> str:
    """The code of her case, in which the sprockets are asked for."""
    office.bring("ada", "hello")
    held = office.held("ada")
    assert held is not None
    return held.case.code


@pytest.mark.usefixtures("ada")
def test_who_comes_in_is_told_who_this_is_and_asked_whose_wheel_it_is(office: Office) -> None:
    told = bring(office, Joined())
    assert told.startswith(TEXTS("newcomer", shop=SHOP, name="Ada"))
    assert TEXTS("newcomer-theirs", name="Ada") in told
    assert TEXTS("newcomer-own") in told
    assert office.held("bob") is None


@pytest.mark.usefixtures("ada")
@pytest.mark.parametrize("content", ["9 sprockets", "hello", Sent("photo"), Pressed("", 0, "unsure")])
def test_nobody_gets_a_case_before_they_have_said_that_it_is_another(office: Office, content: Content | str) -> None:
    assert TEXTS("newcomer", shop=SHOP, name="Ada") in bring(office, content)
    assert TEXTS("newcomer.again", name="Ada") in bring(office, content), "not in the same words"
    assert office.held("bob") is None


@pytest.mark.usefixtures("ada")
@pytest.mark.parametrize("content", ["my own", "No", "another one", Pressed("", 0, "no")])
def test_a_wheel_of_their_own_is_a_case_of_its_own(office: Office, content: Content | str) -> None:
    bring(office, Joined())
    assert "How many sprockets" in bring(office, content)
    held, hers = office.held("bob"), office.held("ada")
    assert held is not None
    assert hers is not None
    assert held.case.code != hers.case.code
    assert "9 sprockets" in bring(office, "9 sprockets")


@pytest.mark.usefixtures("ada")
def test_what_is_told_with_it_counts(office: Office) -> None:
    assert "9 sprockets" in bring(office, "no, mine has 9 sprockets")


@pytest.mark.parametrize(
    "content", ["yes", "Ada’s wheel", "it’s the same wheel", "I’m helping her", Pressed("", 0, "yes")]
)
def test_the_same_wheel_is_shared_once_its_owner_says_so(
    office: Office, channel: RecordedChannel, ada: str, content: Content | str
) -> None:
    bring(office, Joined())
    assert bring(office, content) == TEXTS("newcomer-asked", name="Ada")
    assert office.held("bob") is None
    assert TEXTS("newcomer-confirm") in channel.texts("ada")[-1]
    assert bring(office, "9") == TEXTS("newcomer-waits", name="Ada")
    office.bring("ada", TEXTS("newcomer-let"))
    held = office.held("bob")
    assert held is not None
    assert held.case.code == ada
    assert TEXTS("moved-here") in channel.texts("bob")[-1]
    bring(office, "9 sprockets")
    hers = office.held("ada")
    assert hers is not None
    assert [fact.reading.question for fact in hers.case.now.facts] == ["sprockets"]


def test_the_case_stays_when_who_was_let_in_is_forgotten(office: Office, ada: str) -> None:
    bring(office, "yes")
    office.bring("ada", TEXTS("newcomer-let"))
    bring(office, "9 sprockets")
    bring(office, Commanded("forget"))
    assert TEXTS("forgotten") in bring(office, "yes")
    assert office.held("bob") is None
    hers = office.held("ada")
    assert hers is not None
    assert hers.case.code == ada
    assert "stays" in plain(office.bring("ada", "it stays still").reply)  # type: ignore[arg-type]


@pytest.mark.usefixtures("ada")
def test_who_is_not_let_in_stays_out(office: Office) -> None:
    bring(office, "yes")
    assert bring(office, "yes") == TEXTS("newcomer-waits", name="Ada")
    office.bring("ada", TEXTS("newcomer-not"))
    assert office.held("bob") is None


def test_where_nobody_has_a_case_who_comes_in_is_only_told_who_this_is(office: Office) -> None:
    assert bring(office, Joined()) == TEXTS("newcomer-free", shop=SHOP)
    assert office.held("bob") is None
    assert "9 sprockets" in bring(office, "9 sprockets")


@pytest.mark.usefixtures("ada")
@pytest.mark.parametrize("said", ["9", "it turns", "nine I think"])
def test_an_answer_to_a_question_that_was_put_to_somebody_else_is_not_taken(office: Office, said: str) -> None:
    assert bring(office, said, TO_ADA) == TEXTS("put-to-another", name="Ada")
    assert office.held("bob") is None
    hers = office.held("ada")
    assert hers is not None
    assert hers.case.now.facts == ()


@pytest.mark.usefixtures("ada")
def test_who_has_a_case_there_is_shown_what_is_open_in_it(office: Office) -> None:
    bring(office, "hello", None)
    told = bring(office, "9", TO_ADA)
    assert TEXTS("put-to-another.own", name="Ada") in told
    assert "How many sprockets" in told
    held = office.held("bob")
    assert held is not None
    assert held.case.now.facts == ()


@pytest.mark.usefixtures("ada")
def test_a_wheel_of_their_own_and_a_command_are_heard_under_anothers_question(office: Office) -> None:
    assert "9 sprockets" in bring(office, "mine has 9 sprockets", TO_ADA)
    told = bring(office, "mine", TO_ADA, "eve")
    assert "How many sprockets" in told
    assert "didn’t get" not in told
    assert "How many sprockets" in bring(office, Commanded("help"), TO_ADA, "cas")
    assert "put that" not in bring(office, "help", TO_ADA, "dan")
