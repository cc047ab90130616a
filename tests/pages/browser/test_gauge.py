"""The gauge pages in a real browser: a card sets the scale, outlines are true to it, and the chosen one is said in the
chat."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.pages.browser.axe import Axe, faults_everywhere
from tests.pages.browser.conftest import DESKTOP, PHONE, SIZES, OpenPage
from tests.pages.browser.served import Served

pytestmark = pytest.mark.slow

#: A bank card's sides, mm (ISO/IEC 7810, ID-1), and two sorts of screen, pixels a mm.
WIDE, HIGH = 85.60, 53.98
PHONE_SCALE, DESKTOP_SCALE = 6.1, 4.3


def set_to(page: Page, px: float) -> None:
    """Moves the slider to a width in pixels, as a finger does."""
    page.locator("#side").evaluate(
        "(side, px) => { side.value = px; side.dispatchEvent(new Event('input', { bubbles: true })); }", px
    )


def width_of(page: Page, selector: str) -> float:
    return float(page.locator(selector).first.evaluate("e => e.getBoundingClientRect().width"))


def card_lines(page: Page) -> float:
    """Distance of the left and the right line of the card's outline on the screen, pixels."""
    return float(page.locator("#card path").evaluate("e => e.getBoundingClientRect().width"))


def true_sizes(page: Page) -> dict[str, float]:
    """The width on the screen of every outline's lines, pixels, by its name."""
    return dict(
        page.evaluate(
            """[...document.querySelectorAll('svg.true')].map(e => [e.getAttribute('aria-label'),
            e.firstElementChild.getBoundingClientRect().width])"""
        )
    )


def calibrated(page: Page, scale: float, side: float) -> None:
    set_to(page, round(scale * side * 4) / 4)
    page.get_by_role("button", name="The card fits the outline").click()
    expect(page.locator("#compare")).to_be_visible()


@pytest.mark.parametrize("path", ["/gauge", "/gauge/screen"])
def test_the_pages_can_be_used_by_everybody(open_page: OpenPage, axe: Axe, path: str) -> None:
    page = open_page(path, bypass_csp=True)
    assert faults_everywhere(page, axe, SIZES) == {}
    if path == "/gauge/screen":
        page.get_by_role("button", name="The card fits the outline").click()
        expect(page.locator("#compare")).to_be_visible()
        assert faults_everywhere(page, axe, SIZES) == {}


@pytest.mark.parametrize(
    ("size", "scale", "side"), [(PHONE, PHONE_SCALE, HIGH), (DESKTOP, DESKTOP_SCALE, WIDE)], ids=["phone", "desktop"]
)
def test_what_a_card_sets_is_what_outlines_are_drawn_at(
    open_page: OpenPage, size: tuple[int, int], scale: float, side: float
) -> None:
    page = open_page("/gauge/screen", size=size)
    assert ("upright" in page.locator("#lay").inner_text()) == (size == PHONE)
    set_to(page, round(scale * side * 4) / 4)
    assert card_lines(page) == pytest.approx(scale * side, abs=0.3)
    page.get_by_role("button", name="The card fits the outline").click()
    for label, px in true_sizes(page).items():
        sizes = [float(mm) for mm in re.findall(r"[\d.]+(?=\u00a0mm| mm)", label)]
        assert px / scale == pytest.approx(max(sizes), rel=0.002), label


def test_buttons_and_keys_move_the_line_by_little(open_page: OpenPage) -> None:
    page = open_page("/gauge/screen")
    before = card_lines(page)
    page.get_by_role("button", name="A little wider").click()
    assert card_lines(page) - before == pytest.approx(0.5, abs=0.01)
    page.get_by_role("button", name="A little narrower").click()
    page.get_by_role("button", name="A little narrower").click()
    assert card_lines(page) - before == pytest.approx(-0.5, abs=0.01)
    page.locator("#side").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert card_lines(page) == pytest.approx(before, abs=0.3)
    assert re.fullmatch(r"\d+\.\d pixels", page.locator("#side").get_attribute("aria-valuetext") or "")


def test_no_screen_that_cannot_be_is_believed(open_page: OpenPage) -> None:
    page = open_page("/gauge/screen", size=DESKTOP)
    for asked, least, most in ((0, 2.5, 2.6), (99_999, 6.0, 11.0)):
        set_to(page, asked)
        assert least <= card_lines(page) / WIDE <= most
        assert not page.evaluate("document.documentElement.scrollWidth > window.innerWidth")


@pytest.mark.parametrize("kept", ['{"scale": 1000}', "null", "nonsense", '"x"', '{"scale": "4"}', "[]"])
def test_what_is_remembered_wrongly_is_asked_for_anew(open_page: OpenPage, kept: str) -> None:
    page = open_page("/gauge/screen")
    page.evaluate("kept => localStorage.setItem('gauge-scale', kept)", kept)
    page.reload()
    expect(page.locator("#calibrate")).to_be_visible()
    expect(page.locator("#compare")).to_be_hidden()


def test_the_scale_is_remembered_for_this_screen_and_set_anew_for_another(open_page: OpenPage) -> None:
    page = open_page("/gauge/screen")
    calibrated(page, PHONE_SCALE, HIGH)
    before = true_sizes(page)
    page.reload()
    expect(page.locator("#compare")).to_be_visible()
    assert true_sizes(page) == before
    page.evaluate(
        """const kept = JSON.parse(localStorage.getItem('gauge-scale'));
        localStorage.setItem('gauge-scale', JSON.stringify({ ...kept, ratio: kept.ratio * 1.25 }))"""
    )
    page.reload()
    expect(page.locator("#calibrate")).to_be_visible()
    expect(page.locator("#notice")).to_contain_text("lay the card on once more")
    calibrated(page, PHONE_SCALE, HIGH)
    page.get_by_role("button", name="Lay the card on again").click()
    expect(page.locator("#calibrate")).to_be_visible()
    assert page.evaluate("document.activeElement.id") == "calibrate-head"


def test_where_nothing_can_be_remembered_it_works_all_the_same(open_page: OpenPage) -> None:
    page = open_page("/")
    page.add_init_script("Object.defineProperty(window, 'localStorage', { get() { throw new Error('refused'); } });")
    page.goto(page.url + "gauge/screen")
    calibrated(page, PHONE_SCALE, HIGH)
    assert true_sizes(page)


def test_a_phone_turned_sideways_has_room_for_the_card_lengthwise(open_page: OpenPage) -> None:
    page = open_page("/gauge/screen")
    set_to(page, PHONE_SCALE * HIGH)
    page.set_viewport_size({"width": 844, "height": 390})
    expect(page.locator("#lay")).to_contain_text("lengthwise")
    assert card_lines(page) / WIDE == pytest.approx(PHONE_SCALE, abs=0.02), "what was set stays set"


@pytest.mark.parametrize("way", ["mouse", "keys"])
def test_the_outline_that_fits_is_said_in_the_chat(open_page: OpenPage, way: str) -> None:
    page = open_page("/")
    page.get_by_role("button", name="Ask me").click()
    expect(page.locator(".question")).to_have_count(1)
    page.goto(page.url.partition("#")[0].rstrip("/") + "/gauge/screen")
    if way == "mouse":
        calibrated(page, PHONE_SCALE, HIGH)
        page.locator("li", has_text="4 notches, 32").get_by_role("button", name="This one fits").click()
    else:
        page.locator("#fits").focus()
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "compare-head"
        for _ in range(60):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.getAttribute('aria-describedby')") == "what-notches-4-32":
                break
        page.keyboard.press("Enter")
    page.wait_for_url("**/#now")
    expect(page.locator("#log .mine").last).to_contain_text("4 notches, 32 ± 0.8 mm, on the screen gauge")
    expect(page.locator("#log .theirs").last).to_contain_text("the middle four")
    expect(page.locator("#log .theirs").last).to_contain_text("4 notches")


def test_without_a_conversation_choosing_begins_one(open_page: OpenPage, served: Served) -> None:
    page = open_page("/gauge/screen", size=DESKTOP)
    calibrated(page, DESKTOP_SCALE, WIDE)
    page.locator("li", has_text="12 splines, 23.4").get_by_role("button", name="This one fits").dblclick()
    page.wait_for_url("**/#now")
    expect(page.locator("#log")).to_contain_text("about 23.4 mm on the screen gauge")
    expect(page.locator("#log .mine")).to_have_count(1)  # pressed twice, said once
    with served.store.read() as view:
        assert view.connection.exec_driver_sql("SELECT count(*) FROM cases").scalar() == 1


def test_without_scripts_it_says_what_is_needed(open_page: OpenPage) -> None:
    page = open_page("/gauge/screen", java_script_enabled=False)
    expect(page.locator("main")).to_contain_text("need JavaScript", use_inner_text=True)
    expect(page.locator("#gauge")).to_be_hidden()
    page.locator("noscript a").click()
    expect(page.get_by_role("heading", name="Measure without a calliper")).to_be_visible()


def test_paper_and_coins_are_chosen_without_scripts(open_page: OpenPage) -> None:
    page = open_page("/gauge", java_script_enabled=False, locale="en-GB")
    page.get_by_label("Paper").select_option("letter")
    page.get_by_label("Coins from").select_option("US")
    page.get_by_role("button", name="Change").click()
    link = page.get_by_role("link", name="Open the sheet (US letter)").get_attribute("href") or ""
    assert "paper=letter" in link
    assert "country=us" in link
    answer = page.context.request.get(page.url.partition("/gauge")[0] + link)
    assert answer.headers["content-type"] == "application/pdf"
    assert page.locator(".sheets img").count() == 2
