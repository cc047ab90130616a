"""A rider joins a case that somebody opened for them, by a code that works once; each is told what the other did."""

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import After, Before, RecordedChannel
from tests.helping.riding import BLUE, MO, RED, RIA, TOM, by, code_of, helps, invited, joined, shown, to_send_on
from tests.store.engines import ON_BOTH
from tests.words import words_of
from triagebot.cases.cards import card_of
from triagebot.helping.participant import DECLINE, JOIN
from triagebot.messages import Arrived, Incoming, Pressed, Said
from triagebot.messages.codes import JOIN_CODE, secret_among
from triagebot.topics import Texts

pytestmark = ON_BOTH


@pytest.mark.parametrize("yes", ["yes", "yes ok", "ok sure, thanks", "yeah go on then", "press"])
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
        ("my code is BCDF-GHJK-MNPQ", "BCDFGHJKMNPQ"),
        ("hi, mo sent me this: bcdf-ghjk-mnpq, what now?", "BCDFGHJKMNPQ"),
        ("BCDF-GHJK-MNPQ or BCDF-GHJK-MNPR", None),
        ("use BCDF-GHJK-MNPQ-RSTV-WXYZ", None),
        ("hmmm, is it BCDF-GHJK", None),
        ("twelve teeth", None),
    ],
)
def test_what_is_a_code_to_join_with(text: str, code: str | None) -> None:
    assert secret_among(text, JOIN_CODE) == code


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


@pytest.mark.parametrize("text", ["yes but who reads this?", "ok no", "it has 12 splines", "hm", "thanks"])
def test_what_is_not_plainly_yes_is_asked_again(
    office: Office, channel: RecordedChannel, texts: Texts, text: str
) -> None:
    helps(office)
    office.bring(RIA, invited(office, channel))
    office.bring(RIA, text)
    assert words_of(channel.last(RIA).reply) == texts("mentor-consent-again")


@pytest.mark.parametrize("no", ["no thanks", "no sorry", "nah mate, rather not"])
def test_a_person_who_would_rather_not_is_left_alone(
    office: Office, channel: RecordedChannel, texts: Texts, no: str
) -> None:
    office.bring(RIA, "9 sprockets")
    own = code_of(office, RIA)
    helps(office)
    office.bring(RIA, invited(office, channel))
    office.bring(RIA, no)
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
