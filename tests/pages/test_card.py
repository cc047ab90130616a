"""The card of a case as a page: what stands on it, its square code, taking it back, and links that show nothing."""

import io
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial
from pathlib import Path

import pytest
import resvg_py
import zxingcpp
from PIL import Image

from tests.pages.conftest import NOW, Visitor
from tests.pages.markup import Markup
from tests.store.fresh import open_fresh
from tests.store.reading import current_case
from triagebot.cases.cards import LASTS, card_link
from triagebot.cases.labels import HEIGHT, WIDTH, label_link
from triagebot.cases.loaded import rows_of
from triagebot.conversation import Guide, Message, edition, open_case
from triagebot.delivery import WaitingClient
from triagebot.pages import app, card
from triagebot.pages.card import TRIES
from triagebot.pictures import Picture, png
from triagebot.rates import Buckets
from triagebot.store import Store
from triagebot.store.bikes import Bikes
from triagebot.testing import Clock

PAGES = "https://pages.example.org/triage"
TWENTY = "the wheel is out, it coasts, it stays still, 20 splines, 21.5 mm by calliper"
CASSETTE = (
    "wheel is out, it turns, coasts, 12 splines, 23.4 mm by calliper, nine splines, one narrower, on the body, "
    "9 sprockets, 40 Nm is stamped on it"
)


@dataclass
class Counter:
    """A shop with a store, whose clock can be moved on."""

    guide: Guide
    store: Store
    clock: Clock

    def card(self, *said: str, person: str = "terminal:me") -> str:
        """The address, on this host, of a new card of somebody's case."""
        waiting_client = WaitingClient(self.guide, self.store, self.clock, fresh=lambda: "K7M-4QX")
        for text in said:
            waiting_client.hear(person, Message(text), "en")
        with self.store.begin() as tx:
            case = current_case(tx, person)
            assert case is not None
            return card_link(tx, case.id, "", self.clock())

    def visitor(self, address: str = "203.0.113.7", guide: Guide | None = None, root: str = "") -> Visitor:
        return Visitor(app(guide or self.guide, store=self.store, clock=self.clock), address, root)


@pytest.fixture
def counter(guide: Guide, tmp_path: Path) -> Iterator[Counter]:
    with open_fresh(tmp_path / "data", tmp_path / "key") as store:
        yield Counter(guide, store, Clock(NOW))


def read(svg: bytes) -> str:
    """What a phone's camera reads in a picture."""
    picture = Image.open(io.BytesIO(resvg_py.svg_to_bytes(svg_string=svg.decode())))
    (found,) = zxingcpp.read_barcodes(picture.convert("RGB"))
    return found.text


# --- what stands on it --------------------------------------------------------------------------------------------


def test_a_card_says_all_that_the_counter_needs(counter: Counter) -> None:
    link = counter.card(CASSETTE)
    page = Markup(counter.visitor()(link).text)
    for words in (
        "K7M-4QX",
        "Kilo seven Mike four Quebec X-ray",
        "a cassette held by a lockring with 12 splines",
        "It measures 23.4 mm with a calliper",
        "Told by the person who opened the case, 25 November 2026, 12:00",
        "freewheel, 20 splines",
        "the common 12-spline lockring tool",
        "“the everyday twelve”, wall A, peg 1",
        "turn anticlockwise",
        "40 N·m",
        "The rear wheel, out of the bike",
        "No photos were sent",
        f"from edition {edition(counter.guide.topic.digest)}",
        "Answered on 25 November 2026, 12:00",
        "It stops working on 9 December 2026",
    ):
        assert words.lower() in page.text.lower(), words
    assert page.headings()[0] == 1
    assert page.headings().count(1) == 1
    assert not page.crossed
    notes = [given["href"] for given in page.all("a") if "/notes/" in given.get("href", "")]
    assert any(href.startswith("/notes/cassette-12-spline") for href in notes), notes


def test_the_tool_is_named_first_and_each_caution_stands_before_its_step(counter: Counter) -> None:
    text = counter.visitor()(counter.card(TWENTY)).text
    tool = text.index("the 20-spline freewheel remover")
    for word, times in (("NOTICE", 1), ("WARNING", 2), ("CAUTION", 2)):
        assert text.count(word) == times
        assert text.index(word) > tool
    assert text.index("Case code") < tool < text.index("wall A, peg 5") < text.index("Answered on")
    for caution, step in (
        ("Leave the freewheel’s own face ring alone", "Push the remover in by hand"),
        ("The tool can slip", "Clamp the remover"),
        ("jams against the clamp", "Stop after a quarter turn"),
        ("If you put a wheel or brake back wrongly", "Start the freewheel by hand"),
    ):
        assert text.index(caution) < text.rindex(step), step


def test_an_unfinished_case_names_no_tool(counter: Counter) -> None:
    page = Markup(counter.visitor()(counter.card("12 splines")).text)
    assert "Not finished yet" in page.text
    assert "Started on" in page.text
    assert "Still possible" in page.text
    assert "Remover" not in page.text


def test_what_somebody_wrote_is_not_on_it_and_nothing_of_theirs_becomes_markup(counter: Counter) -> None:
    text = counter.visitor()(counter.card("20 splines <script>alert(1)</script> call me on 555", TWENTY)).text
    assert "alert(1)" not in text
    assert "555" not in text


def test_a_card_shows_the_case_as_it_stands_now(counter: Counter) -> None:
    link = counter.card("12 splines")
    assert "Not finished yet" in counter.visitor()(link).text
    counter.card(TWENTY)
    assert "a freewheel with 20 splines" in counter.visitor()(link).text


def test_below_another_address_all_links_carry_it(counter: Counter) -> None:
    link = counter.card(TWENTY)
    page = Markup(counter.visitor(root="/shop")(f"/shop{link}").text)
    for tag, name in (("a", "href"), ("img", "src"), ("link", "href")):
        for given in page.all(tag):
            if given[name].startswith("/"):
                assert given[name].startswith("/shop/"), given


@pytest.mark.parametrize("way", ["", "/end", "/qr.svg"])
def test_nothing_of_a_card_is_kept_or_listed(counter: Counter, way: str) -> None:
    headers = counter.visitor()(counter.card(TWENTY) + way).headers
    assert headers["cache-control"] == "no-store"
    assert "noindex" in headers["x-robots-tag"]
    assert "etag" not in headers
    assert headers["referrer-policy"] == ("same-origin" if way == "/end" else "no-referrer")


# --- the square code ----------------------------------------------------------------------------------------------


def test_the_square_code_leads_to_the_card(counter: Counter) -> None:
    link = counter.card(TWENTY)
    visitor = counter.visitor(guide=replace(counter.guide, address=PAGES))
    (image,) = (given for given in Markup(visitor(link).text).all("img") if given["src"].endswith("qr.svg"))
    drawn = visitor(image["src"])
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert "sandbox" in drawn.headers["content-security-policy"]
    assert read(drawn.content) == f"{PAGES}{link}"


def test_where_no_address_is_set_the_square_code_leads_to_where_it_was_asked_for(counter: Counter) -> None:
    link = counter.card(TWENTY)
    assert read(counter.visitor()(f"{link}/qr.svg").content) == f"http://shop.example.org{link}"
    below = counter.visitor(root="/shop")(f"/shop{link}/qr.svg")
    assert read(below.content) == f"http://shop.example.org/shop{link}"


# --- links that show nothing --------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["", "/qr.svg", "/end"])
def test_wrong_over_and_taken_back_are_all_alike(counter: Counter, way: str) -> None:
    visitor = counter.visitor()
    ended, over = counter.card(TWENTY), counter.card("thanks")
    assert visitor(f"{ended}/end", "POST").status_code == 200
    counter.clock.wait(seconds=1)
    late = counter.card("thanks")
    counter.clock.now += LASTS - timedelta(seconds=1)
    links = [
        ended,
        over,
        "/card/nothing",
        f"/card/{'x' * 32}",
        "/card/K7M-4QX",
        f"/card/{'x' * 5000}",
        "/card/%00%F0%9F%9A%B2",
    ]
    answers = [visitor(link + way) for link in links]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    kept = [{k: v for k, v in answer.headers.items() if k != "date"} for answer in answers]
    assert all(headers == kept[0] for headers in kept)
    assert "There’s no card here" in answers[0].text
    assert visitor(late + way).status_code == 200, "this one is still good for a second"


def test_a_person_who_holds_a_card_may_take_it_back_and_every_other_of_the_case(counter: Counter) -> None:
    visitor = counter.visitor()
    first, second = counter.card(TWENTY), counter.card("thanks")
    asked = Markup(visitor(f"{first}/end").text)
    assert "Cancel this card?" in asked.text
    assert {"method": "post"} in asked.all("form")
    assert visitor(first).status_code == 200, "asking takes nothing back"
    ended = visitor(f"{first}/end", "POST")
    assert (ended.status_code, "The card is cancelled" in ended.text) == (200, True)
    assert [visitor(link).status_code for link in (first, second)] == [404, 404]
    assert visitor(f"{first}/end", "POST").status_code == 404


def test_no_other_site_takes_a_card_back(counter: Counter) -> None:
    visitor, link = counter.visitor(), counter.card(TWENTY)
    assert visitor(f"{link}/end", "POST", headers={"origin": "https://evil.example"}).status_code == 403
    assert visitor(f"{link}/end", "POST", headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert visitor(link).status_code == 200


def test_nobody_tries_many_links_right_or_wrong(counter: Counter, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(card, "Buckets", partial(Buckets, clock=lambda: 0.0))  # no time goes by, however busy it is
    visitor, link = counter.visitor(), counter.card(TWENTY)
    for _ in range(int(TRIES.burst)):
        assert visitor("/card/wrong").status_code == 404
    refused = [visitor("/card/wrong"), visitor(link), visitor(f"{link}/qr.svg"), visitor(f"{link}/end", "POST")]
    assert {answer.status_code for answer in refused} == {429}
    assert all(int(answer.headers["retry-after"]) >= 1 for answer in refused)
    assert visitor.at("203.0.113.8")(link).status_code == 200


def test_without_a_store_there_are_no_cards(pages: Visitor) -> None:
    assert pages("/card/nothing").status_code == 404
    assert "/card" not in pages("/notes/").text


def test_a_label_is_there_for_a_bike_and_for_no_other_case(counter: Counter) -> None:
    guide = replace(counter.guide, address=PAGES)
    other = counter.card(TWENTY)
    with counter.store.begin() as tx:
        number = tx.open_case("bike:K7M-4QY", "K7M-4QY", "rear-sprockets", NOW)
        tx.append(number, 0, rows_of(open_case(guide, "K7M-4QY", "en", NOW).events, {}))
        Bikes(tx).take_in(number, "blue tourer", "Sam <b>", "", "", NOW, None, apart=True)
        link = label_link(tx, number, "", NOW)
    page = counter.visitor(guide=guide)(link)
    assert page.status_code == 200
    assert page.headers["content-type"].startswith("image/svg+xml")
    assert page.headers["referrer-policy"] == "no-referrer"
    assert "Sam &lt;b&gt;" in page.text
    image = Image.open(io.BytesIO(png(Picture(page.text, WIDTH, HEIGHT, "", ""), 1000)))
    assert [found.text for found in zxingcpp.read_barcodes(image)] == [f"{PAGES}{link.removesuffix('/label.svg')}"]
    for nowhere in (f"{other}/label.svg", "/card/nothing/label.svg"):
        assert counter.visitor(guide=guide)(nowhere).status_code == 404
