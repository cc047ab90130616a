"""Somebody helps a rider who is elsewhere: questions to send on, an invitation, and each is told what the other did."""

import re

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import After, Before, RecordedChannel
from tests.turns.test_forgetting import WORDS, lies_there
from tests.words import words_of
from triagebot.cases.cards import card_of
from triagebot.conversation import Message, plain
from triagebot.conversation.events import Answered
from triagebot.delivery import WaitingClient
from triagebot.helping.participant import DECLINE, JOIN
from triagebot.helping.words import mentor_words, opens
from triagebot.messages import Arrived, Commanded, Incoming, Outgoing, Pressed, Said, new_code
from triagebot.messages.codes import CONSONANTS, JOIN_CODE, read_secret
from triagebot.topics import Texts

MO, RIA, TOM = "mo", "ria", "tom"
BLUE, RED = "the blue commuter", "Red Racer"


def helps(office: Office, who: str = MO, name: str = BLUE) -> str:
    """Somebody opens a case for somebody else; gives its code."""
    office.bring(who, f"I’m helping somebody: {name}")
    return code_of(office, who)


def code_of(office: Office, who: str) -> str:
    held = office.held(who)
    assert held is not None
    return held.case.code


def invited(office: Office, channel: RecordedChannel, who: str = MO) -> str:
    office.bring(who, "invite")
    found = re.search(
        rf"\b[{CONSONANTS}]{{4}}-[{CONSONANTS}]{{4}}-[{CONSONANTS}]{{4}}\b", words_of(channel.last(who).reply)
    )
    assert found is not None
    return found[0]


def joined(office: Office, channel: RecordedChannel, rider: str = RIA) -> str:
    """A case that the rider has joined; gives its code."""
    code = helps(office)
    office.bring(rider, invited(office, channel))
    office.bring(rider, "yes")
    assert code_of(office, rider) == code
    return code


def shown(channel: RecordedChannel, who: str) -> Outgoing:
    """The last message that is no text to send on."""
    return next(message for message in reversed(channel.screens[who]) if not message.forward)


def to_send_on(channel: RecordedChannel, who: str) -> Outgoing:
    last = channel.last(who)
    assert last.forward
    return last


def by(office: Office, who: str) -> list[str]:
    held = office.held(who)
    assert held is not None
    return [event.by for event in held.case.events if isinstance(event, Answered)]


# --- opening ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("I’m helping somebody", ""),
        ("help_somebody", ""),
        ("I’m helping a friend.", ""),
        ("for a friend: the blue commuter", "the blue commuter"),
        ("I’m helping somebody, Red Racer", "Red Racer"),
        ("can somebody help me", None),
        ("help", None),
        ("a friend says it has 12 splines", None),
    ],
)
def test_what_opens_a_case_for_somebody_else(text: str, name: str | None) -> None:
    assert opens(mentor_words("en"), Said(text), text) == name


def test_a_case_gets_its_name_and_its_question_comes_to_send_on(
    office: Office, channel: RecordedChannel, texts: Texts
) -> None:
    office.bring(MO, "I’m helping somebody")
    assert words_of(channel.last(MO).reply) == texts("mentor-name-it")
    office.bring(MO, BLUE)
    asked, forward = shown(channel, MO), to_send_on(channel, MO)
    assert asked.reply.question is not None
    assert asked.reply.question.text == texts("mentor-what-back", name=BLUE)
    question = asked.reply.question.id
    assert texts(f"question-{question}.how") in words_of(asked.reply)
    assert words_of(forward.reply).startswith(texts(f"question-{question}"))
    assert forward.reply.question is None
    assert not forward.reply.offers
    assert channel.screens[MO][-2:] == [asked, forward], "what is to be sent on comes right behind"


def test_it_may_not_have_been_meant(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    office.bring(MO, "9 sprockets")
    own = code_of(office, MO)
    office.bring(MO, "for a friend")
    office.bring(MO, "no")
    assert words_of(channel.last(MO).reply) == texts("mentor-not-meant")
    assert code_of(office, MO) == own
    office.bring(MO, "cases")
    assert texts("mentor-cases-head") not in words_of(channel.last(MO).reply)


def test_a_command_opens_one_as_words_do(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    office.bring(MO, Commanded("mentor"))
    assert words_of(channel.last(MO).reply) == texts("mentor-name-it")


def test_answers_say_who_passed_them_on_and_choices_can_be_pressed(office: Office, channel: RecordedChannel) -> None:
    code = helps(office)
    office.bring(MO, "9 sprockets")
    question = shown(channel, MO)
    assert question.reply.question is not None
    choice = question.reply.question.choices[0]
    assert f"1. {choice.label}" in words_of(to_send_on(channel, MO).reply)
    office.bring(MO, Pressed(code, question.turn, choice.id))
    assert by(office, MO) == ["mentor", "mentor"]
    office.bring(MO, "why")
    assert "9 sprockets" in words_of(shown(channel, MO).reply)


@pytest.mark.parametrize("said", ["why", "help", "privacy", "thanks", "hmm"])
def test_a_question_that_is_open_still_is_not_sent_on_twice(
    office: Office, channel: RecordedChannel, said: str
) -> None:
    helps(office)
    office.bring(MO, "it turns, 9 sprockets")
    asked = shown(channel, MO)
    office.bring(MO, said)
    last = channel.last(MO)
    assert not last.forward
    assert last.reply.question is not None
    assert asked.reply.question is not None
    assert last.reply.question.choices == asked.reply.question.choices
    office.bring(MO, "how do I check?")
    assert words_of(to_send_on(channel, MO).reply)


def test_a_warning_goes_along_with_the_question(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    helps(office)
    for said in ("it is an electric bike", "a motor cable comes out of the axle"):
        office.bring(MO, said)
        assert texts("signal-warning") in words_of(to_send_on(channel, MO).reply)


def test_an_outcome_comes_as_a_summary_to_send_on(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    code = helps(office)
    office.bring(MO, "it stays still, 4 notches, 40 mm with a calliper")
    forward = words_of(to_send_on(channel, MO).reply)
    remover = texts("remover-remover-4-notch-40")
    for part in (remover, texts("direction-anticlockwise"), texts("caution-teeth-cut"), code, texts("also-needed")):
        assert part in forward, part
    assert remover not in words_of(shown(channel, MO).reply)
    office.bring(MO, "axle nuts")
    office.bring(MO, "summary")
    assert remover in words_of(to_send_on(channel, MO).reply)


def test_a_person_is_summed_up_too(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    helps(office)
    office.bring(MO, "it stays still")
    office.bring(MO, "person")
    forward = words_of(to_send_on(channel, MO).reply)
    assert texts("mentor-found-person") in forward
    assert "the middle stays still" in forward


# --- several at once ----------------------------------------------------------------------------------------------


def test_two_riders_at_once_are_told_apart_by_name(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    blue, red = helps(office), helps(office, name=RED)
    office.bring(MO, "cases")
    listed = words_of(channel.last(MO).reply)
    assert all(part in listed for part in (BLUE, RED, blue, red))
    office.bring(MO, "it turns")
    office.bring(MO, "blue comuter")
    assert code_of(office, MO) == blue
    assert words_of(shown(channel, MO).reply).startswith(texts("mentor-switched", name=BLUE))
    office.bring(MO, "it stays still")
    office.bring(MO, "red racer: 9 sprockets")
    assert code_of(office, MO) == red
    office.bring(MO, "why")
    assert "9 sprockets" in words_of(shown(channel, MO).reply)
    assert "stays still" not in words_of(shown(channel, MO).reply)
    office.bring(MO, blue)
    assert code_of(office, MO) == blue
    assert words_of(shown(channel, MO).reply).startswith(texts("mentor-switched", name=BLUE))
    office.bring(MO, "switch to the racer")
    assert code_of(office, MO) == red


def test_from_a_case_of_ones_own_one_comes_back_to_those_that_one_helps(
    office: Office, channel: RecordedChannel, texts: Texts
) -> None:
    blue, _ = helps(office), helps(office, name=RED)
    office.bring(MO, Arrived(new=True))
    own = code_of(office, MO)
    office.bring(MO, "12 splines")
    assert by(office, MO) == ["person"]
    assert not channel.last(MO).forward
    office.bring(MO, "cases")
    assert RED in words_of(channel.last(MO).reply)
    office.bring(MO, BLUE)
    assert code_of(office, MO) == blue
    office.bring(MO, own)
    assert code_of(office, MO) == own
    assert by(office, MO) == ["person"]


def test_a_name_that_is_taken_gets_a_number_and_can_be_changed(office: Office, channel: RecordedChannel) -> None:
    helps(office)
    helps(office)
    office.bring(MO, "cases")
    assert f"{BLUE} 2" in words_of(channel.last(MO).reply)
    office.bring(MO, "rename it to the green one")
    office.bring(MO, "cases")
    assert "“the green one”" in words_of(channel.last(MO).reply)
    assert f"{BLUE} 2" not in words_of(channel.last(MO).reply)


def test_a_case_is_put_away(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    blue, red = helps(office), helps(office, name=RED)
    office.bring(MO, "finish")
    assert texts("mentor-code", code=red, shop=office.guide.shop.name) in words_of(to_send_on(channel, MO).reply)
    assert code_of(office, MO) == blue
    office.bring(MO, red)
    assert code_of(office, MO) == red, "by its code it is taken up again"
    office.bring(MO, "finish")
    office.bring(MO, "finish")
    office.bring(MO, "12 splines")
    assert code_of(office, MO) not in (blue, red), "whoever helps nobody any more is a customer like any other"
    assert by(office, MO) == ["person"]


# --- the rider joins ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("yes", ["yes", "press"])
def test_the_rider_joins_with_their_yes_and_is_asked_directly(
    office: Office, channel: RecordedChannel, texts: Texts, yes: str
) -> None:
    code = helps(office)
    office.bring(MO, "it stays still")
    office.bring(RIA, invited(office, channel))
    consent = channel.last(RIA)
    assert words_of(consent.reply) == texts("mentor-consent", shop=office.guide.shop.name)
    assert [choice.id for choice in consent.reply.offers] == [JOIN, DECLINE]
    told = len(channel.screens[MO])
    office.bring(RIA, "12 splines")
    assert words_of(channel.last(RIA).reply) == texts("mentor-consent-again")
    assert len(channel.screens[MO]) == told, "nothing is shared before the yes"
    assert len(by(office, MO)) == 1
    office.bring(RIA, Pressed(consent.case, consent.turn, JOIN) if yes == "press" else yes)
    assert channel.last(RIA).reply.question is not None
    assert words_of(channel.last(MO).reply) == texts("mentor-joined", name=BLUE)
    office.bring(RIA, "it has 4 notches")
    assert words_of(channel.last(MO).reply).startswith(texts("mentor-copy", name=BLUE, said="it has 4 notches"))
    assert by(office, RIA) == ["mentor", "rider"]
    assert code_of(office, RIA) == code == code_of(office, MO)


def test_the_mentor_corrects_and_answers_on_behalf(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    joined(office, channel)
    office.bring(RIA, "it stays still")
    office.bring(RIA, "it has 12 splines")
    office.bring(MO, "no, it is 4 notches")
    assert words_of(channel.last(RIA).reply).startswith(texts("mentor-from-mentor"))
    assert channel.last(RIA).reply.question is not None
    assert channel.last(MO).reply.question is None, "the rider is asked"
    office.bring(RIA, "why")
    assert texts("mentor-said-mentor", clauses="x").split(":")[0] in words_of(channel.last(RIA).reply)
    assert "the count is 4" in words_of(channel.last(RIA).reply)
    assert "the count is 12" not in words_of(channel.last(RIA).reply)


def test_the_card_says_who_gave_each_answer(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    joined(office, channel)
    office.bring(MO, "it stays still")
    office.bring(RIA, "4 notches")
    held = office.held(RIA)
    assert held is not None
    card = card_of(office.guide, texts, held.case, 0, office.clock())
    assert {told.by for told in card.told} == {texts("card-by-mentor"), texts("card-by-rider")}
    assert {told.clause: told.by for told in card.told}["the middle stays still"] == texts("card-by-mentor")


def test_an_old_button_of_the_mentors_is_stale_once_the_rider_has_answered(
    office: Office, channel: RecordedChannel, texts: Texts
) -> None:
    code = helps(office)
    office.bring(MO, "9 sprockets")
    old = shown(channel, MO)
    assert old.reply.question is not None
    office.bring(RIA, invited(office, channel))
    office.bring(RIA, "yes")
    office.bring(RIA, "it stays still")
    before = by(office, RIA)
    office.bring(MO, Pressed(code, old.turn, old.reply.question.choices[0].id))
    assert texts("stale-press") in words_of(shown(channel, MO).reply)
    assert by(office, RIA) == before


def test_small_talk_of_one_is_no_business_of_the_other(office: Office, channel: RecordedChannel) -> None:
    joined(office, channel)
    told = len(channel.screens[MO]), len(channel.screens[RIA])
    office.bring(RIA, "thanks")
    assert len(channel.screens[MO]) == told[0]
    office.bring(MO, "why")
    assert len(channel.screens[RIA]) == told[1] + 1


def test_a_copy_leaves_the_question_of_another_case_open(office: Office, channel: RecordedChannel) -> None:
    joined(office, channel)
    helps(office, name=RED)
    office.bring(MO, "9 sprockets")
    asked = shown(channel, MO)
    changes = len(channel.changed[MO])
    office.bring(RIA, "it stays still")
    assert BLUE in words_of(channel.last(MO).reply)
    assert len(channel.changed[MO]) == changes
    assert asked.reply.question is not None
    office.bring(MO, Pressed(asked.case, asked.turn, asked.reply.question.choices[0].id))
    assert by(office, MO) == ["mentor", "mentor"]


def test_the_end_reaches_the_rider_whole_and_the_mentor_in_short(
    office: Office, channel: RecordedChannel, texts: Texts
) -> None:
    joined(office, channel)
    office.bring(RIA, "it stays still, 4 notches, 32 mm with a rule")
    remover = texts("remover-remover-4-notch-32")
    assert remover in words_of(channel.last(RIA).reply)
    assert texts("mentor-summary-offer") in words_of(channel.last(MO).reply)
    assert remover not in words_of(channel.last(MO).reply)
    office.bring(MO, "no, it measures 40 mm")
    assert texts("mentor-rider-has-it", found="").strip() in words_of(channel.last(MO).reply)
    other = texts("remover-remover-4-notch-40")
    assert other in words_of(channel.last(RIA).reply)
    assert other not in words_of(channel.last(MO).reply)
    office.bring(MO, "summary")
    assert other in words_of(to_send_on(channel, MO).reply)


def test_a_rider_on_another_channel(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    elsewhere = RecordedChannel(name="elsewhere", edits=False)
    office.run(office.delivery.serve(elsewhere))
    code = helps(office)
    secret = invited(office, channel)

    async def writes(key: str, content: Said | Arrived) -> None:
        where = {"chat": RIA}
        await office.delivery.receive(Incoming("elsewhere", key, RIA, where, content, office.clock()))
        await office.delivery.idle()

    office.run(writes("1", Arrived(secret=secret)))
    assert words_of(elsewhere.last(RIA).reply).startswith(texts("mentor-consent", shop=office.guide.shop.name))
    office.run(writes("2", Said("yes")))
    office.run(writes("3", Said("it stays still")))
    office.run(writes("3", Said("it stays still")))
    copies = [text for text in channel.texts(MO) if texts("mentor-copy", name=BLUE, said="it stays still") in text]
    assert len(copies) == 1, "what comes twice under a key is told once"
    office.bring(MO, "4 notches")
    assert words_of(elsewhere.last(RIA).reply).startswith(texts("mentor-from-mentor"))
    assert elsewhere.last(RIA).case == code


@pytest.mark.parametrize("dies", ["before it is told", "after it was told"])
def test_a_crash_loses_no_copy(office: Office, channel: RecordedChannel, texts: Texts, dies: str) -> None:
    joined(office, channel)
    before = dies == "before it is told"
    channel.fates[MO].append(Before(office.store.die_at_once) if before else After(office.store.die_at_once))
    office.bring_and_die(RIA, "it stays still")
    office.crash()
    office.run(office.delivery.idle())
    copies = [text for text in channel.texts(MO) if texts("mentor-copy", name=BLUE, said="it stays still") in text]
    assert len(copies) == 1
    assert by(office, MO) == ["rider"]


# --- codes --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("BCDF-GHJK-MNPQ", "BCDFGHJKMNPQ"),
        ("bcdf ghjk mnpq.", "BCDFGHJKMNPQ"),
        ("BCDF-GHJK", None),
        ("half-inch", None),
        ("my code is BCDF-GHJK-MNPQ", None),
        ("twelve teeth", None),
    ],
)
def test_what_is_a_code_to_join_with(text: str, code: str | None) -> None:
    assert read_secret(text, JOIN_CODE) == code


def test_a_code_works_once(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    helps(office)
    code = invited(office, channel)
    office.bring(RIA, code)
    office.bring(TOM, code)
    assert words_of(channel.last(TOM).reply) == texts("mentor-code-over")
    office.bring(TOM, "yes")
    assert code_of(office, TOM) != code_of(office, MO)
    office.bring(RIA, "yes")
    assert code_of(office, RIA) == code_of(office, MO)


def test_a_new_code_ends_the_one_before(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    helps(office)
    first = invited(office, channel)
    invited(office, channel)
    office.bring(RIA, first)
    assert words_of(channel.last(RIA).reply) == texts("mentor-code-over")


def test_a_code_is_over_after_a_while(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    helps(office)
    code = invited(office, channel)
    office.clock.wait(days=2, minutes=1)
    office.bring(RIA, code)
    assert words_of(channel.last(RIA).reply) == texts("mentor-code-over")
    assert office.held(RIA) is None


def test_a_yes_is_too_late_after_a_while(office: Office, channel: RecordedChannel) -> None:
    code = helps(office)
    office.bring(RIA, invited(office, channel))
    office.clock.wait(days=1, minutes=1)
    office.bring(RIA, "yes")
    assert code_of(office, RIA) != code
    office.bring(RIA, "it stays still")
    assert by(office, MO) == []


def test_the_mentor_cannot_use_it_up(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    code = helps(office)
    secret = invited(office, channel)
    office.bring(MO, secret)
    assert words_of(channel.last(MO).reply) == texts("mentor-code-own")
    office.bring(RIA, secret)
    office.bring(RIA, "yes")
    assert code_of(office, RIA) == code


def test_a_person_who_would_rather_not_is_left_alone(office: Office, channel: RecordedChannel, texts: Texts) -> None:
    office.bring(RIA, "9 sprockets")
    own = code_of(office, RIA)
    helps(office)
    office.bring(RIA, invited(office, channel))
    office.bring(RIA, "no thanks")
    assert words_of(channel.last(RIA).reply) == texts("mentor-consent-refused")
    assert words_of(channel.last(MO).reply) == texts("mentor-refused", name=BLUE)
    assert code_of(office, RIA) == own


def test_the_rider_never_joins(office: Office, channel: RecordedChannel) -> None:
    helps(office)
    invited(office, channel)
    office.bring(MO, "it stays still")
    assert words_of(to_send_on(channel, MO).reply)
    office.bring(MO, "4 notches, 40 mm with a calliper")
    assert words_of(to_send_on(channel, MO).reply)
    assert set(by(office, MO)) == {"mentor"}


# --- leaving and being forgotten ----------------------------------------------------------------------------------


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
