"""Case cards: when a link is given out, whom it shows what, and what stands on a card."""

import asyncio
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from tests.conversation.guides import without_question
from tests.store.fresh import open_fresh
from tests.strategies import rear_sprockets
from tests.words import words_of
from triagebot.cases.cards import LASTS, Card, card_address, card_behind, card_link, card_of, photos_of, take_back
from triagebot.conversation import Guide, Message, edition, fold_events, load_guide
from triagebot.conversation.events import Answered, Opened
from triagebot.delivery import Delivery, WaitingClient
from triagebot.messages import new_code
from triagebot.messages.codes import ALPHABET
from triagebot.shop import built_in_shop, load_shop
from triagebot.store import Store
from triagebot.store.photos import Photos
from triagebot.testing import START, Clock, Codes, ScriptedPerson
from triagebot.topics import Texts

ADDRESS = "https://pages.example.org/triage"
LINK = re.compile(rf"{re.escape(ADDRESS)}/card/([\w-]+)")
TWENTY = "the wheel is out, it stays still, 20 splines, 21.5 mm by calliper"
TO_THE_END = (TWENTY, "it coasts", "7 sprockets", "a plain hub")
LOOK_ALIKES = (
    "the wheel is out, it turns with the sprockets, 12 splines, coasts, 22.6 mm by calliper, 10 cogs",
    *["I don’t know"] * 6,
)


@pytest.fixture(scope="module")
def guide() -> Guide:
    topic = rear_sprockets()
    return load_guide(topic, load_shop(built_in_shop(), topic))


@pytest.fixture(scope="module")
def texts(guide: Guide) -> Texts:
    return guide.language("en").texts


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_fresh(tmp_path / "data", tmp_path / "key") as store:
        yield store


def talking(guide: Guide, store: Store, clock: Clock, address: str | None = ADDRESS) -> WaitingClient:
    return WaitingClient(replace(guide, address=address), store, clock, Codes())


def card(guide: Guide, texts: Texts, *said: str, photos: int = 0, code: str = "K7M-4QX") -> Card:
    person = ScriptedPerson(guide, code=code)
    if said:
        person.says(*said)
    return card_of(guide, texts, person.case, photos, person.clock())


# --- the link -----------------------------------------------------------------------------------------------------


def test_a_person_who_reaches_an_outcome_is_given_a_link_once(guide: Guide, texts: Texts, store: Store) -> None:
    clock = Clock()
    waiting_client = talking(guide, store, clock)
    replies = [waiting_client.hear("terminal:me", Message(text), "en").reply for text in ("it coasts", TWENTY)]
    assert [reply.status for reply in replies] == ["question", "answer"]
    assert LINK.findall(words_of(replies[0])) == []
    (secret,) = LINK.findall(words_of(replies[1]))
    assert secret in words_of(replies[1]).split("\n\n")[-1], "what is offered next stands behind it"
    later = [
        words_of(waiting_client.hear("terminal:me", Message(text), "en").reply)
        for text in ("axle nuts", "thanks", "why")
    ]
    assert [LINK.findall(text) for text in later] == [[], [], []], "what comes after the end gives no further link"
    with store.read() as view:
        number, until = card_behind(view, secret, START) or (0, START)
        assert until == START + LASTS
        stored = view.case(number)
        assert stored is not None
        assert stored.code == "AAA-001"


def test_another_outcome_and_a_person_s_case_have_links_of_their_own(guide: Guide, store: Store) -> None:
    waiting_client = talking(guide, store, Clock())
    first = LINK.findall(words_of(waiting_client.hear("terminal:me", Message("person"), "en").reply))
    waiting_client.hear("terminal:me", Message("restart"), "en")
    second = LINK.findall(words_of(waiting_client.hear("terminal:me", Message(TWENTY), "en").reply))
    assert (len(first), len(second)) == (1, 1)
    assert first != second


def test_where_nobody_reaches_the_pages_there_is_no_link(guide: Guide, store: Store) -> None:
    waiting_client = talking(guide, store, Clock(), address=None)
    reply = waiting_client.hear("terminal:me", Message(TWENTY), "en").reply
    assert reply.status == "answer"
    assert "/card/" not in words_of(reply)
    assert "https://" not in words_of(reply)


def test_a_stop_gives_no_link(guide: Guide, store: Store) -> None:
    reply = talking(guide, store, Clock()).hear("terminal:me", Message("stop"), "en").reply
    assert reply.status == "stopped"
    assert not LINK.findall(words_of(reply))


def test_how_to_measure_leads_to_the_gauge_sheet_where_pages_are_reached(guide: Guide, texts: Texts) -> None:
    def told(address: str | None, question: str) -> str:
        person = ScriptedPerson(replace(guide, address=address))
        return words_of(person.says(f"how do I {question}?"))

    assert texts("question-size.how") in told(ADDRESS, "measure the width")
    assert f"{ADDRESS}/gauge" in told(ADDRESS, "measure the width")
    assert "/gauge" not in told(None, "measure the width")
    assert "/gauge" not in told(ADDRESS, "count the splines")


def test_a_link_shows_its_case_until_it_is_over_or_taken_back(store: Store) -> None:
    with store.begin() as tx:
        mine = tx.open_case("terminal:me", "K7M-4QX", "rear-sprockets", START)
        other = tx.open_case("terminal:you", "9QX-7KM", "rear-sprockets", START)
        first, second, third = (
            card_link(tx, number, ADDRESS, START).rpartition("/")[2] for number in (mine, mine, other)
        )
        assert card_address(ADDRESS, first) == f"{ADDRESS}/card/{first}"
        assert card_behind(tx, first, START) == (mine, START + LASTS)
        assert card_behind(tx, third, START) == (other, START + LASTS)
        assert card_behind(tx, first, START + LASTS - timedelta(seconds=1)) is not None
        assert card_behind(tx, first, START + LASTS) is None
        assert not take_back(tx, "wrong", START)
        assert take_back(tx, first, START)
        assert not take_back(tx, first, START)
        assert card_behind(tx, first, START) is None
        assert card_behind(tx, second, START) is None, "every card of the case is taken back"
        assert card_behind(tx, third, START) is not None


def test_who_is_forgotten_has_no_card(guide: Guide, store: Store) -> None:
    waiting_client = talking(guide, store, Clock())
    (secret,) = LINK.findall(words_of(waiting_client.hear("terminal:me", Message("person"), "en").reply))
    waiting_client.hear("terminal:me", Message("forget me"), "en")
    waiting_client.hear("terminal:me", Message("yes, delete it"), "en")
    with store.read() as view:
        assert card_behind(view, secret, START) is None


def test_links_that_are_long_over_are_tidied_away(guide: Guide, store: Store) -> None:
    clock = Clock()

    async def tidy() -> int:
        async with Delivery(guide, store, clock) as delivery:
            return sum((await delivery.tidy(guide.shop.kept)).values())

    with store.begin() as tx:
        card_link(tx, tx.open_case("terminal:me", "K7M-4QX", "rear-sprockets", START), ADDRESS, START)
    tidied = []
    for days in (13, 7, 2):
        clock.wait(days=days)
        tidied.append(asyncio.run(tidy()))
    assert tidied == [0, 0, 1]


# --- what stands on it --------------------------------------------------------------------------------------------


def test_an_answer_s_card_says_what_the_answer_said(guide: Guide, texts: Texts) -> None:
    person = ScriptedPerson(guide, code="K7M-4QX")
    reply = person.says(*TO_THE_END)
    made = card_of(guide, texts, person.case, 2, person.clock())
    assert (made.status, [f.id for f in made.fastenings]) == ("answer", ["freewheel-20-spline"])
    said = "\n".join(words_of(person.says(word)) for word in ("why", "cautions", "price", "buying new"))
    for part in (made.would_change, made.services.partition("\n")[2]):
        assert part in said
    for caution in made.cautions:
        assert f"{caution.signal} ({caution.step}): {caution.text}" in said
    assert tuple(guide.topic.cautions[name].signal for name in reply.result.cautions) == tuple(
        caution.kind for caution in made.cautions
    )
    assert made.notes == reply.result.notes
    assert made.photos == 2
    assert made.possible == ()


def test_every_reading_says_who_gave_it_and_when(guide: Guide, texts: Texts) -> None:
    person = ScriptedPerson(guide)
    person.says(*TO_THE_END)
    events = [
        replace(event, by="staff") if isinstance(event, Answered) and "sprockets" in event.text else event
        for event in person.case.events
    ]
    made = card_of(guide, texts, fold_events(events), 0, person.clock())
    by_name = {told.about: told for told in made.told}
    assert by_name["the number of sprockets"].by == texts("card-by-staff")
    assert by_name["the spin test"].by == texts("card-by-person")
    assert by_name["the spin test"].at == START + timedelta(minutes=1)
    assert by_name["the number of sprockets"].at == START + timedelta(minutes=3)
    assert by_name["the width of the fitting"].clause == "it measures 21.5 mm with a calliper"
    assert [told.about for told in made.told if told.odd] == []
    order = [texts(f"question-{question}.name") for question in guide.topic.questions]
    assert [told.about for told in made.told] == sorted(by_name, key=order.index)


def test_what_an_unknown_role_said_is_somebody_s(guide: Guide, texts: Texts) -> None:
    person = ScriptedPerson(guide)
    person.says("12 splines")
    events = [replace(event, by="oracle") if isinstance(event, Answered) else event for event in person.case.events]
    made = card_of(guide, texts, fold_events(events), 0, person.clock())
    assert {told.by for told in made.told} == {texts("card-by-other")}


def test_what_is_ruled_out_names_what_speaks_against_it(guide: Guide, texts: Texts) -> None:
    made = card(guide, texts, "12 splines, 23.4 mm, it turns with the sprockets")
    against = {row.clause: row.kinds for row in made.ruled_out}
    assert "freewheel, 12 splines, 23 mm" in against["the middle turns with the sprockets"]
    assert "freewheel, 20 splines" in against["the count is 12"]
    assert "old freewheel, 12 splines, 20 mm" in against["it measures 23.4 mm"]
    assert "cassette, common 12-spline lockring" in made.possible
    ruled_out = {kind for row in made.ruled_out for kind in row.kinds}
    assert not ruled_out & set(made.possible)
    assert "not on my list" not in ruled_out


def test_nothing_is_ruled_out_before_anything_was_told(guide: Guide, texts: Texts) -> None:
    made = card(guide, texts)
    assert (made.status, made.told, made.ruled_out, made.at) == ("question", (), (), None)
    assert made.found == texts("card-open")
    assert made.fastenings == ()
    assert made.cautions == ()


def test_what_does_not_fit_the_answer_is_marked(guide: Guide, texts: Texts) -> None:
    person = ScriptedPerson(guide)
    person.says("single speed, four notches, stays still", "a torque of 40 Nm is stamped on it")
    reply = person.says("32 mm with a calliper")
    while reply.status == "question":
        reply = person.says("I don't know")
    made = card_of(guide, texts, person.case, 0, person.clock())
    clause = "a torque is stamped on the ring"
    assert [told.clause for told in made.told if told.odd] == [clause]
    assert "it measures 32 mm with a calliper" in {told.clause for told in made.told}
    assert texts("against.short", reasons=clause) in words_of(reply)


def test_what_is_rare_with_the_answer_and_fits_it_is_not_marked(guide: Guide, texts: Texts) -> None:
    person = ScriptedPerson(guide)
    said = ["7 gears, middle stays still", "12 splines", "23 mm by calliper", "no name", "coasts", "wheel is out"]
    person.says(*said, "it turns after all", "yes, 40 Nm is stamped on it", "9 splines, one narrower")
    reply = person.says("7 sprockets")
    made = card_of(guide, texts, person.case, 0, person.clock())
    assert [fastening.id for fastening in made.fastenings] == ["cassette-12-spline"]
    assert "there are 7 sprockets at the back" in {told.clause for told in made.told}
    assert [told.clause for told in made.told if told.odd] == []
    assert texts("against.short", reasons="").removesuffix(" .") not in words_of(reply)


def test_until_something_is_named_what_is_rare_is_not_called_odd(guide: Guide, texts: Texts) -> None:
    made = card(guide, texts, "20 splines", "person")
    assert [told.clause for told in made.told if told.odd] == []


def test_look_alikes_both_stand_on_the_card_with_the_check(guide: Guide, texts: Texts) -> None:
    made = card(guide, texts, *LOOK_ALIKES)
    assert made.status == "look-alike"
    assert {f.id for f in made.fastenings} == {"cassette-12-spline", "cassette-12-spline-deep"}
    assert made.check == texts("look-alike-body")
    assert made.would_change == ""


def test_a_person_s_case_names_no_tool(guide: Guide, texts: Texts) -> None:
    made = card(guide, texts, "20 splines", "person")
    assert (made.status, made.fastenings) == ("person", ())
    assert made.found == texts("card-asked")
    assert made.told
    assert made.reach


def test_damage_says_so(guide: Guide, texts: Texts) -> None:
    made = card(guide, texts, "the notches are all rounded off", "worn")
    assert made.status == "person"
    assert made.advice[0] == texts("referral-condition-worn")
    assert [caution.kind for caution in made.cautions] == ["caution"]


def test_without_a_remover_the_fastening_is_named_all_the_same(guide: Guide, texts: Texts) -> None:
    made = card(
        guide, texts, "the wheel is out, stays still, 12 splines, 20 mm by calliper, coasts, 5 sprockets, plain hub",
        "20.0 mm by calliper", "12",
    )  # fmt: skip
    assert made.status == "person"
    assert [f.id for f in made.fastenings] == ["freewheel-12-spline-small"]


def test_a_card_says_which_edition_answered_and_when(guide: Guide, texts: Texts) -> None:
    person = ScriptedPerson(guide)
    person.says(*TO_THE_END)
    made = card_of(guide, texts, person.case, 0, person.clock() + timedelta(days=3))
    assert made.at == START + timedelta(minutes=4)
    assert made.edition == made.edition_now == edition(guide.topic.digest)


def test_a_card_of_an_older_edition_stands_while_the_same_tool_would_be_named(guide: Guide, texts: Texts) -> None:
    person = ScriptedPerson(guide)
    person.says(*TO_THE_END)
    opened = person.case.events[0]
    assert isinstance(opened, Opened)
    older = replace(opened, digest="f" * 64)
    made = card_of(guide, texts, fold_events([older, *person.case.events[1:]]), 0, person.clock())
    before = card_of(guide, texts, person.case, 0, person.clock())
    assert (made.status, made.fastenings, made.told) == (before.status, before.fastenings, before.told)
    assert (made.edition, made.edition_now) == ("ffff-ffff", edition(guide.topic.digest))


def test_a_tool_that_would_not_be_named_today_is_not_on_the_card(guide: Guide, texts: Texts) -> None:
    person = ScriptedPerson(guide)
    person.says(*TO_THE_END)
    edited = without_question(guide, "count")
    made = card_of(edited, texts, person.case, 0, person.clock())
    assert made.status == "question", "the topic has changed: it is found anew, in the conversation"
    assert made.fastenings == ()
    assert made.edition == edition(guide.topic.digest)
    assert len(made.told) == 7, "what was told is kept, but for the answer to what is asked no more"


def test_the_code_can_be_read_aloud(guide: Guide, texts: Texts) -> None:
    assert card(guide, texts).aloud == ("Kilo", "seven", "Mike", "four", "Quebec", "X-ray")
    for letter in ALPHABET:
        assert len(card(guide, texts, code=f"{letter * 3}-{letter * 3}").aloud) == 6
    assert len(card(guide, texts, code=new_code()).aloud) == 6


def test_photos_that_are_there_or_may_come_are_counted(store: Store) -> None:
    with store.begin() as tx:
        number = tx.open_case("terminal:me", "K7M-4QX", "rear-sprockets", START)
        photos = Photos(tx)
        kept, lost, _ = (photos.sent(number, "page", {"n": n}, START) for n in range(3))
        photos.kept(kept, b"picture")
        photos.lost(lost, "refused")
        assert photos_of(tx, number) == 2
        assert photos_of(tx, number + 1) == 0
