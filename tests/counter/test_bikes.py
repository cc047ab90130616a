"""Bikes that stand here without their owners: taken in, seen to line by line, found, labelled, closed, deleted."""

import io
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from tests.counter.shop import Shop
from tests.doubles.telegram.content import plain_png
from tests.handover.workshop import workshop
from triagebot.cases.labels import Label, drawn, label_of
from triagebot.cases.loaded import unfolded
from triagebot.cases.summaries import kept_runs
from triagebot.conversation import Case
from triagebot.conversation.events import Answered
from triagebot.messages import Edited, Sent
from triagebot.pictures import png
from triagebot.store.bikes import Bike, Bikes
from triagebot.store.forgetting import own_cases
from triagebot.study.findings import finding_of

ADA, BOB, EVE = "ada", "bob", "eve"
TOURER = "new blue tourer, Sam, Thursday"


@pytest.fixture(autouse=True)
def _ada(shop: Shop) -> None:
    shop.staff(ADA)


def here(shop: Shop) -> tuple[Bike, ...]:
    with shop.reading() as view:
        return Bikes(view).here()


def taken_in(shop: Shop, said: str = TOURER) -> str:
    """Somebody's bike is taken in; gives the code of its case."""
    shop.says(ADA, said)
    with shop.reading() as view:
        return Bikes(view).all()[0].code


def case_of(shop: Shop, code: str) -> Case:
    with shop.reading() as view:
        stored = view.case_by_code(code)
        assert stored is not None
        return unfolded(stored).case


def told_at_the_counter(case: Case) -> list[str]:
    return [fact.text for event in case.events if isinstance(event, Answered) for fact in event.facts]


@pytest.mark.parametrize(
    ("said", "what", "whose", "contact", "note", "day"),
    [
        (TOURER, "blue tourer", "Sam", "", "", "2026-03-05"),
        ("new blue tourer, Sam, by Friday", "blue tourer", "Sam", "", "", "2026-03-06"),
        ("new red racer, Mia, 07700 900123", "red racer", "Mia", "07700 900123", "", None),
        ("new red racer, mia@example.org, tomorrow", "red racer", "", "mia@example.org", "", "2026-03-03"),
        ("new green mixte", "green mixte", "", "", "", None),
        ("new 12 speed racer, Jo, rear wheel only", "12 speed racer", "Jo", "", "rear wheel only", None),
        ("bike in grey folder, Ann Lee, fri", "grey folder", "Ann Lee", "", "", "2026-03-06"),
    ],
)
def test_what_is_said_of_a_bike(
    shop: Shop, said: str, what: str, whose: str, contact: str, note: str, day: str | None
) -> None:
    shop.says(ADA, said)
    (bike,) = here(shop)
    assert (bike.what, bike.whose, bike.contact, bike.note) == (what, whose, contact, note)
    assert (None if bike.wanted is None else bike.wanted.date().isoformat()) == day
    assert bike.apart


def test_new_alone_clears_and_a_line_behind_it_is_a_line(shop: Shop) -> None:
    assert shop.says(ADA, "new") == "Cleared. Next wheel?"
    assert "single-speed freewheel, 4 notches, 40 mm" in shop.says(ADA, "new 4n 40")
    assert here(shop) == ()
    shop.says(ADA, TOURER)
    assert shop.says(ADA, "new 4n 40").startswith("Another bike? ")


def test_lines_belong_to_the_bike_until_it_is_put_away(shop: Shop) -> None:
    code = taken_in(shop)
    assert shop.says(ADA, "12 spl").startswith(f"blue tourer, Sam ({code}):")
    shop.clock.wait(hours=3)  # whatever else goes on
    shop.says(ADA, "it stays")
    told = shop.says(ADA, "23.4")
    assert "Most likely: freewheel, 12 splines, 23 mm." in told
    case = case_of(shop, code)
    assert case.now.outcome == "answer"
    assert {event.by for event in case.events if isinstance(event, Answered)} == {"staff"}

    assert shop.says(ADA, "away") == f"Off your stand: blue tourer. “bike {code}” brings it back."
    assert shop.says(ADA, "away").startswith("There’s no bike on your stand.")
    assert not shop.says(ADA, "4n 40").startswith("blue tourer")
    assert case_of(shop, code) == case
    assert f"– {code} blue tourer, Sam, for Thu 5 Mar. freewheel, 12 splines, 23 mm" in shop.says(ADA, "bikes")


def test_what_is_seen_otherwise_replaces_what_was_seen(shop: Shop) -> None:
    code = taken_in(shop)
    shop.says(ADA, "12 spl stays")
    shop.says(ADA, "20 spl")
    counts = [fact.reading for fact in case_of(shop, code).now.facts if fact.reading.question == "count"]
    assert [getattr(reading, "low", None) for reading in counts] == [20]
    assert [fact.reading.question for fact in case_of(shop, code).now.facts].count("spin") == 1


def test_another_new_and_next_put_the_first_away(shop: Shop) -> None:
    first = taken_in(shop)
    second = taken_in(shop, "new red racer, Mia")
    shop.says(ADA, "4n 40")
    assert told_at_the_counter(case_of(shop, first)) == []
    assert told_at_the_counter(case_of(shop, second))
    assert shop.says(ADA, "next").startswith("Off your stand: red racer.")
    assert shop.says(ADA, "bike sam").startswith(f"{first} is on your stand: blue tourer, Sam")
    shop.says(ADA, "2n")
    assert told_at_the_counter(case_of(shop, first))


def test_each_member_has_a_stand_of_their_own(shop: Shop) -> None:
    shop.staff(EVE)
    first = taken_in(shop)
    shop.says(EVE, "new red racer, Mia")
    shop.says(ADA, "4n 40")
    shop.says(EVE, "20 spl")
    assert {fact.reading.question for fact in case_of(shop, first).now.facts} == {"fitting", "count", "size"}


def test_it_is_found_by_name_by_bike_and_by_code(shop: Shop) -> None:
    first, second = taken_in(shop), taken_in(shop, "new blue racer, Mia, 07700 900123")
    assert shop.says(ADA, "find sam").startswith(f"{first}, opened ")
    assert shop.says(ADA, f"find {second.lower()}").startswith(f"{second}, opened ")
    assert shop.says(ADA, "find 900123").startswith(f"{second}, opened ")
    assert shop.says(ADA, "find blue").startswith("2 are called that:\n")
    assert shop.says(ADA, "find the big four").startswith("“the big four”")
    assert shop.says(ADA, "find zoe") == "I find no “zoe”. A code, a name or a bike will do."
    assert "blue tourer, Sam, for Thu 5 Mar" in shop.says(ADA, f"case {first}")


def test_what_somebody_brings_with_a_code_from_the_chat(shop: Shop) -> None:
    shop.says(BOB, "it stays still, 4 notches")
    code, before = shop.code(BOB), case_of(shop, shop.code(BOB))
    shop.says(ADA, f"new red racer, Mia, {code}")
    assert "single-speed freewheel" in shop.says(ADA, "4n 40")
    assert case_of(shop, code) == before, "what the customer said stays as it is"
    assert "saw: 4n 40" in shop.says(ADA, f"history {code}")
    assert shop.says(ADA, "find mia").startswith(f"{code}, opened ")
    assert shop.says(ADA, "new red racer, Mia, K7M-4QX") == "There’s no case K7M-4QX."


def test_closing_feeds_the_report_like_any_other(shop: Shop) -> None:
    code = taken_in(shop)
    shop.says(ADA, "20 spl stays")
    assert shop.says(ADA, "close 20 spl fitted").startswith(f"{code} is closed: freewheel, 20 splines.")
    assert here(shop) == ()
    assert not shop.says(ADA, "4n 40").startswith("blue tourer"), "it is on the stand no more"
    with shop.reading() as view:
        (run,) = kept_runs(view, shop.guide.topic.id)
    finding = finding_of(run, shop.guide.topic)
    assert finding is not None
    assert (finding.verdict, finding.fastening) == ("right", "freewheel-20-spline")

    shop.says(ADA, f"reopen {code}")
    assert [bike.code for bike in here(shop)] == [code]


def test_names_are_encrypted_and_go_with_the_case(shop: Shop, tmp_path: Path) -> None:
    code = taken_in(shop, "new blue tourer, Samantha Quillfeather, 07700 900123")
    shop.says(ADA, "4n 40")
    for path in (tmp_path / "data").iterdir():
        assert b"Quillfeather" not in path.read_bytes()
    assert shop.says(ADA, f"forget {code}").startswith("That deletes blue tourer, Samantha Quillfeather")
    assert len(here(shop)) == 1
    assert "deletes" not in shop.says(ADA, "delete small four")
    assert shop.says(ADA, f"forget {code}") == f"{code} is deleted."
    assert here(shop) == ()
    assert shop.says(ADA, f"case {code}") == f"There’s no case {code}."
    with shop.reading() as view:
        assert own_cases(view, view.lookup_hash(f"bike:{code}")) == {}


def test_whose_it_is_can_be_deleted_of_a_case_from_the_chat(shop: Shop) -> None:
    shop.says(BOB, "it stays still, 4 notches")
    code = shop.code(BOB)
    shop.says(ADA, f"new red racer, Mia, {code}")
    for _ in range(2):
        told = shop.says(ADA, f"forget {code}")
    assert told.startswith(f"I no longer know whose {code} is.")
    assert shop.code(BOB) == code
    assert here(shop) == ()


def test_the_name_goes_when_the_customer_is_forgotten(shop: Shop) -> None:
    shop.says(BOB, "it stays still, 4 notches")
    shop.says(ADA, f"new red racer, Mia, {shop.code(BOB)}")
    shop.says(BOB, "forget me")
    shop.says(BOB, "yes")
    assert here(shop) == ()


def test_a_corrected_or_forwarded_message_takes_in_nothing(shop: Shop) -> None:
    shop.says(ADA, TOURER, forwarded=True)
    shop.says(ADA, Edited(TOURER, of="1"))
    assert here(shop) == ()


def test_who_is_not_staff_takes_in_nothing(shop: Shop) -> None:
    shop.says(BOB, "hello")
    shop.says(BOB, TOURER)
    assert here(shop) == ()


def test_a_photo_is_kept_with_the_bike(tmp_path: Path) -> None:
    with workshop(tmp_path / "other") as shop:
        shop.roomy.files = {"one": plain_png(64, 48)}
        assert shop.says(ADA, Sent("photo", ({"file": "one"},))).startswith("Words only, please.")
        shop.says(ADA, TOURER)
        with shop.reading() as view:
            (bike,) = Bikes(view).here()
        assert shop.says(ADA, Sent("photo", ({"file": "one"},))) == "Got it. The photo is kept with blue tourer."
        assert shop.says(ADA, f"photos {bike.code}").startswith(f"The photo of {bike.code}:")


def test_a_label_leads_to_the_case(shop: Shop) -> None:
    code = taken_in(shop)
    assert shop.says(ADA, "label") == f"To print a label, on the computer: triagebot staff label {code}"
    with shop.reading() as view:
        stored = view.case_by_code(code)
        assert stored is not None
        texts = shop.guide.language("en").texts
        label = label_of(view, shop.guide, texts, stored.id, "")
    assert label == Label(code, ("blue tourer", "Sam", "for Thu 5 Mar"), code)
    picture = drawn(label)
    image = Image.open(io.BytesIO(png(picture, 1000)))
    assert [found.text for found in zxingcpp.read_barcodes(image)] == [code]
    for words in (code, "blue tourer", "Sam", "for Thu 5\N{NO-BREAK SPACE}Mar"):
        assert f">{words}</text>" in picture.svg


# --- how far it is ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("said", ["is sams bike ready", "when is the blue tourer due", "Sam's bike ready yet?"])
def test_staff_ask_how_far_a_bike_is_by_its_name(shop: Shop, said: str) -> None:
    code = taken_in(shop)
    shop.says(ADA, "away")
    assert shop.says(ADA, said) == f"{code}: blue tourer, Sam, for Thu 5 Mar. Not closed yet."
    shop.says(ADA, f"close {code} 4n 40 fitted")
    assert shop.says(ADA, said).startswith(f"{code}: blue tourer, Sam, for Thu 5 Mar. Closed ")


def test_one_that_is_done_is_offered_to_be_closed(shop: Shop) -> None:
    code = taken_in(shop)
    shop.says(ADA, "away")
    assert f"close {code}" in shop.says(ADA, "sams blue tourer is done")
    assert len(here(shop)) == 1, "nothing was done yet"


def test_two_of_one_name_are_listed_and_a_name_that_none_has_is_told(shop: Shop) -> None:
    taken_in(shop)
    taken_in(shop, "new red racer, Sam")
    told = shop.says(ADA, "is sams bike ready")
    assert "blue tourer" in told
    assert "red racer" in told
    assert "red racer" in shop.says(ADA, "is sams red racer ready")
    assert "“bikes” lists" in shop.says(ADA, "is petes bike ready")


@pytest.mark.parametrize("said", ["when is it ready?", "is my bike done yet"])
def test_a_customer_hears_how_far_their_bike_is(shop: Shop, said: str) -> None:
    code = shop.needs_a_person(BOB)
    shop.says(BOB, "back to the bot")
    assert "Is yours here already?" in shop.says(BOB, said)
    shop.says(ADA, f"new blue tourer, Bob, Thursday, {code}")
    told = shop.says(BOB, said)
    assert told.startswith("blue tourer is here with us, for Thu 5 Mar. It’s not done yet.")
    assert "Is yours here already?" not in told
    shop.says(ADA, f"close {code} 4n 40 fitted")
    assert shop.says(BOB, said).startswith("blue tourer is done, you can come for it.")
