"""The card of a case in a real browser: on a phone, by a camera's eye, on paper, and taken back by keys alone."""

import io

import pypdfium2
import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Page, expect

from tests.pages.browser.axe import Axe, faults_everywhere
from tests.pages.browser.conftest import DESKTOP, PHONE, SIZES, OpenPage
from tests.pages.browser.served import Served
from triagebot.cases.cards import card_link
from triagebot.conversation import Guide, Message
from triagebot.delivery import WaitingClient

pytestmark = pytest.mark.slow

ANSWER = ("the wheel is out, it coasts, it stays still, 20 splines, 21.5 mm by calliper",)
LOOK_ALIKE = ("the wheel is out, it turns with the sprockets, 12 splines, coasts, 23 mm", *["I don’t know"] * 6)
CASES = {"answer": ANSWER, "look-alike": LOOK_ALIKE, "person": ("20 splines", "person"), "open": ("12 splines",)}


@pytest.fixture
def card(served: Served, guide: Guide) -> "Card":
    return Card(served, guide)


class Card:
    """Makes cards of new cases."""

    def __init__(self, served: Served, guide: Guide) -> None:
        self.served, self.waiting_client = served, WaitingClient(guide, served.store)

    def __call__(self, *said: str) -> str:
        for text in said:
            heard = self.waiting_client.hear("terminal:me", Message(text), "en")
        with self.served.store.begin() as tx:
            case = tx.case_by_code(heard.case.code)
            assert case is not None
            return card_link(tx, case.id, "", self.waiting_client.clock())


def read(picture: bytes) -> str:
    (found,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(picture)).convert("RGB"))
    return found.text


@pytest.mark.parametrize("case", CASES)
def test_a_card_can_be_read_by_everybody(open_page: OpenPage, card: Card, axe: Axe, case: str) -> None:
    page = open_page(card(*CASES[case]), bypass_csp=True)
    assert faults_everywhere(page, axe, SIZES) == {}
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        assert page.locator(".code").is_visible()
        assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('.code')).fontSize)") >= 36


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_reads_the_square_code_off_another_s_screen(
    open_page: OpenPage, served: Served, card: Card, scheme: str
) -> None:
    link = card(*ANSWER)
    page = open_page(link, size=PHONE, color_scheme=scheme)
    assert read(page.screenshot()) == f"{served.address}{link}", "it is in sight without scrolling"
    other = open_page(read(page.screenshot()).removeprefix(served.address), size=PHONE)
    expect(other.locator(".found")).to_have_text("I’m sure: you have a freewheel with 20 splines.")


def test_on_paper_it_is_two_sides_of_a5_with_code_cautions_and_square_code(
    open_page: OpenPage, served: Served, card: Card
) -> None:
    link = card(*ANSWER)
    page = open_page(link, size=DESKTOP)
    document = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
    assert len(document) == 2
    assert [round(side / 72 * 25.4) for side in document[0].get_size()] == [148, 210]
    words = [document[place].get_textpage().get_text_range() for place in range(2)]
    code = page.locator(".code").inner_text()
    for said in (code, "WARNING", "CAUTION", "the 20-spline freewheel remover"):
        assert said in words[0], said
    assert "Cancel this card" not in words[0] + words[1]
    picture = io.BytesIO()
    document[0].render(scale=200 / 72).to_pil().save(picture, "PNG")
    assert read(picture.getvalue()) == f"{served.address}{link}"


def test_it_is_taken_back_by_keys_alone(open_page: OpenPage, card: Card) -> None:
    link = card(*ANSWER)
    page = open_page(link)
    page.get_by_role("link", name="Cancel this card").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Cancel this card?")).to_be_visible()
    page.get_by_role("button", name="Yes, cancel it").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="The card is cancelled")).to_be_visible()
    assert status(page, link) == 404


def test_it_is_kept_by_the_person_who_thinks_better_of_it(open_page: OpenPage, card: Card) -> None:
    link = card(*ANSWER)
    page = open_page(f"{link}/end")
    page.get_by_role("link", name="No, keep it").click()
    expect(page.locator(".code")).to_be_visible()
    assert page.url.endswith(link)


def test_no_link_says_where_it_came_from(open_page: OpenPage, card: Card) -> None:
    link = card(*ANSWER)
    page = open_page(link)
    asked: list[str | None] = []
    page.on("request", lambda request: asked.append(request.header_value("referer")))
    page.locator(".links a").first.click()
    page.wait_for_url("**/notes/**")
    assert asked
    assert [referrer for referrer in asked if referrer and "/card/" in referrer] == []


def test_it_works_without_scripts_and_has_none(open_page: OpenPage, card: Card) -> None:
    page = open_page(card(*ANSWER), java_script_enabled=False)
    expect(page.locator(".found")).to_be_visible()
    assert page.locator("script").count() == 0


def status(page: Page, path: str) -> int:
    """Of an address, as this browser gets it."""
    return page.context.request.get(page.url.split("/card/")[0] + path).status
