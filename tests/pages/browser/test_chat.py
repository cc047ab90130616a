"""The chat page in a real browser: whole conversations by mouse, by keys alone and without scripts; what is closed,
reloaded, restarted and cut off in between loses nothing."""

import re
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Route, expect

from tests.pages.browser.chatting import SURE, answer_to, at_the_side, begin, bubbles, count, next_said, question, write
from tests.pages.browser.conftest import DESKTOP, PHONE, SIZES, OpenPage
from tests.pages.browser.served import Served

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desktop"])
def test_a_whole_conversation_by_mouse(open_page: OpenPage, size: tuple[int, int]) -> None:
    page = open_page(size=size)
    assert not at_the_side(page)
    begin(page)
    for _ in range(12):
        if SURE.search(page.locator("#log").inner_text()):
            break
        before, open_now = count(page), question(page)
        answer = answer_to(open_now)
        choice = page.locator("#answers").get_by_role("button", name=answer)
        if choice.count():
            choice.first.click()
            next_said(page, before)
        else:
            write(page, answer)
        assert not at_the_side(page), open_now
    expect(page.locator(".theirs b", has_text="4-notch freewheel remover, 24 mm").first).to_be_visible()
    assert page.locator(".theirs .signal").all_inner_texts()[0] == "WARNING", "the gravest first"
    note = page.locator(".theirs a", has_text="Freewheel with 4 notches, 24 mm")
    assert note.get_attribute("href") == "/notes/freewheel-4-notch-24"
    for image in page.locator(".theirs img").all():
        assert len(image.get_attribute("alt") or "") > 20
    note.click()
    expect(page.locator("h1")).to_contain_text("Freewheel with 4 notches")
    page.go_back()
    expect(page.locator(".theirs b", has_text="4-notch freewheel remover, 24 mm").first).to_be_visible()


def test_a_whole_conversation_by_keys_alone(open_page: OpenPage) -> None:
    page = open_page(size=DESKTOP)

    def focused() -> str:
        return str(page.evaluate("document.activeElement.closest('#answers') ? 'choice' : document.activeElement.id"))

    def tab_to(words: str) -> None:
        for _ in range(40):
            page.keyboard.press("Tab")
            reached = "document.activeElement === document.body ? '' : document.activeElement.textContent"
            if words in str(page.evaluate(f"({reached}) || document.activeElement.id")):
                return
        pytest.fail(f"there is no way to {words!r} by keys")

    tab_to("Ask me")
    page.keyboard.press("Enter")
    expect(page.locator(".question")).to_have_count(1)
    for _ in range(12):
        page.wait_for_function("() => !document.querySelector('[aria-busy=true]')")
        if SURE.search(page.locator("#log").inner_text()):
            break
        before, open_now = count(page), question(page)
        answer = answer_to(open_now)
        choices = page.locator("#answers button, #answers input:not([type=hidden])")
        place = next((n for n, words in enumerate(choices.all_inner_texts()) if answer in words), None)
        if place is None:
            if focused() != "text":
                tab_to("text")
            page.keyboard.type(answer)
            page.keyboard.press("Enter")
            next_said(page, before)
            assert focused() == "text", "who writes stays where they write"
        else:
            if focused() != "choice":
                tab_to(choices.first.inner_text().split("\n")[-1])
            for _ in range(place):
                page.keyboard.press("Tab")
            assert answer in str(page.evaluate("document.activeElement.textContent"))
            assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
            page.keyboard.press("Space")
            next_said(page, before)
            page.wait_for_function("() => !document.querySelector('[aria-busy=true]')")
            first = page.locator("#answers :not(.aside) > .choice")
            assert focused() == ("choice" if first.count() else "text"), "the focus is lost"
    assert SURE.search(page.locator("#log").inner_text())
    tab_to("More")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    before = count(page)
    page.keyboard.press("Enter")
    next_said(page, before)
    expect(page.locator(".theirs").last).to_contain_text("These words always work")
    assert focused() == "text"


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desktop"])
def test_a_whole_conversation_without_scripts(open_page: OpenPage, size: tuple[int, int]) -> None:
    page = open_page(size=size, java_script_enabled=False)
    assert "I’m the bot" in page.locator("#log").inner_text()
    page.get_by_role("button", name="Ask me").click()
    for _ in range(12):
        if SURE.search(page.locator("#log").inner_text()):
            break
        open_now = question(page)
        answer = answer_to(open_now)
        choice = page.locator("#answers").get_by_role("button", name=answer)
        before = count(page)
        if choice.count():
            choice.first.click()
        else:
            page.get_by_label("Your answer or question").fill(answer)
            page.get_by_role("button", name="Send", exact=True).click()
        next_said(page, before)
        assert page.url.endswith("/#now")
    assert SURE.search(page.locator("#log").inner_text())
    page.locator("summary").click()
    page.get_by_role("button", name="Delete everything about me").click()
    page.get_by_role("button", name="Yes, delete it").click()
    expect(page.locator("#log")).to_contain_text("I’ve deleted everything I had kept about you")
    assert page.context.cookies() == []
    page.get_by_label("Your answer or question").fill("it stays still")
    page.get_by_role("button", name="Send", exact=True).click()
    expect(page.locator("#log")).to_contain_text("The middle stays still, then.")
    assert count(page) == 1


def test_a_reload_shows_everything_and_goes_on(open_page: OpenPage) -> None:
    page = open_page()
    begin(page)
    write(page, "9 sprockets")
    write(page, "it stays still")
    before = bubbles(page)
    assert len(before) == 6
    assert before[0].startswith("> Ask me")
    assert before[2] == "> 9 sprockets"
    assert before[4] == "> it stays still"
    page.reload()
    expect(page.locator("#log .said")).to_have_count(6)
    assert bubbles(page) == before
    write(page, "4 notches")
    assert len(bubbles(page)) == 8


def test_the_server_may_be_restarted_in_the_middle(open_page: OpenPage, served: Served) -> None:
    page = open_page()
    begin(page)
    served.stop()
    page.get_by_label("Your answer or question").fill("9 sprockets")
    page.keyboard.press("Enter")
    expect(page.locator("#notice")).to_contain_text("Nothing is lost")
    expect(page.locator(".mine.kept-back")).to_have_count(1)
    assert count(page) == 1
    page.get_by_label("Your answer or question").fill("it stays still")
    page.keyboard.press("Enter")
    served.start()
    expect(page.locator("#log .theirs")).to_have_count(3)
    expect(page.locator("#notice")).to_be_empty()
    expect(page.locator(".mine.kept-back")).to_have_count(0)
    said = page.locator("#log .theirs").all_inner_texts()
    assert "9 sprockets" in said[1]
    assert "it stays put" in said[2]
    write(page, "4 notches")


def test_what_was_being_sent_when_the_page_was_closed_is_sent_once(open_page: OpenPage, served: Served) -> None:
    page = open_page()
    begin(page)
    lost: list[str] = []

    def swallow(route: object) -> None:
        """The server takes it, and its answer is lost on the way."""
        lost.append(route.request.post_data)  # type: ignore[attr-defined]
        route.fetch()  # type: ignore[attr-defined]
        route.abort()  # type: ignore[attr-defined]

    page.route("**/chat/say", swallow, times=1)
    page.get_by_label("Your answer or question").fill("9 sprockets")
    page.keyboard.press("Enter")
    expect(page.locator("#notice")).to_contain_text("Nothing is lost")
    with page.expect_request("**/chat/messages?*"):  # it listens once nothing is left to send
        page.reload()
    expect(page.locator("#log .theirs")).to_have_count(2)
    assert len(lost) == 1
    assert count(page) == 2
    assert served.delivery.counts.duplicates == 1
    assert [words for words in bubbles(page) if words.startswith("> 9")] == ["> 9 sprockets"]


def test_a_double_click_counts_once(open_page: OpenPage, served: Served) -> None:
    page = open_page()
    page.get_by_role("button", name="Ask me").dblclick()
    expect(page.locator(".question")).to_have_count(1)
    page.get_by_label("Your answer or question").fill("9")
    page.get_by_role("button", name="Send", exact=True).dblclick()
    next_said(page, 1)
    choices = page.locator("#answers .choice")
    if not choices.count():
        page.get_by_role("button", name="I don’t know").dblclick()
    else:
        choices.first.dblclick()
    next_said(page, 2)
    write(page, "the wheel is out")  # one goes after the other: what was sent twice would stand before this
    assert count(page) == 4
    assert page.locator(".mine").count() == 4
    assert served.delivery.counts.received == 4


def test_a_double_click_without_scripts_begins_one_conversation(open_page: OpenPage, served: Served) -> None:
    page = open_page(java_script_enabled=False)
    page.get_by_role("button", name="Ask me").dblclick()
    expect(page).to_have_url(re.compile("/#now$"))  # the second click cuts off the navigation that the first began
    expect(page.locator(".question")).to_have_count(1)
    assert count(page) == 1
    assert served.delivery.counts.received == 1


def test_two_tabs_are_one_conversation(open_page: OpenPage) -> None:
    one = open_page()
    other = open_page(beside=one)
    begin(one)
    other.bring_to_front()
    other.get_by_label("Your answer or question").fill("9 sprockets")
    other.keyboard.press("Enter")
    expect(other.locator("#log .theirs")).to_have_count(2)
    expect(one.locator("#log .theirs")).to_have_count(2)
    old = one.locator("#answers").inner_html()
    write(other, "it stays still")
    expect(one.locator("#log .theirs")).to_have_count(3)
    assert one.locator("#answers").inner_html() != old, "what is open is open everywhere"
    assert [words for words in bubbles(one) if words.startswith("> ")] == [
        "> Ask me one question at a time",
        "> 9 sprockets",
        "> it stays still",
    ]


def test_a_later_message_comes_by_itself(open_page: OpenPage, served: Served) -> None:
    """As when a person answers: nobody has asked for it just then."""
    page = open_page()
    begin(page)
    assert count(page) == 1
    cookie = next(cookie["value"] for cookie in page.context.cookies() if cookie["name"] == "chat")
    conversation = served.store.cipher.lookup_hash("page", cookie)

    async def tell() -> None:
        from datetime import UTC, datetime

        from triagebot.messages import Commanded, Incoming

        content, at = Commanded("case"), datetime.now(UTC)
        await served.delivery.receive(
            Incoming("page", "later", conversation, {"conversation": conversation}, content, at)
        )

    served.do(tell)
    expect(page.locator("#log .theirs")).to_have_count(2)
    expect(page.locator(".theirs").last).to_contain_text("Your case code is")


def test_who_is_forgotten_is_forgotten_in_every_tab(open_page: OpenPage) -> None:
    page = open_page()
    other = open_page(beside=page)
    begin(page)
    write(page, "9 sprockets")
    other.bring_to_front()
    other.reload()
    expect(other.locator("#log .said")).to_have_count(4)
    page.bring_to_front()
    page.locator("summary").click()
    page.get_by_role("button", name="Delete everything about me").click()
    page.get_by_role("button", name="Yes, delete it").click()
    expect(page.locator("#log .said")).to_have_count(1)
    expect(page.locator("#log")).to_contain_text("I’ve deleted everything I had kept about you")
    assert page.context.cookies() == []
    assert page.evaluate("JSON.stringify([localStorage, sessionStorage])") == "[{},{}]"
    expect(other.locator("#intro")).to_be_visible()
    write(page, "it stays still")
    page.reload()
    assert "The middle stays still, then." in page.locator("#log").inner_text()
    assert "9 sprockets" not in page.locator("#log").inner_text()


def test_languages_to_choose_and_yes_or_no_are_buttons(open_page: OpenPage) -> None:
    page = open_page()
    begin(page)
    page.locator("summary").click()
    page.get_by_role("button", name="Delete everything about me").click()
    expect(page.locator("#answers button")).to_have_text(["Yes, delete it", "No, keep it"])
    page.get_by_role("button", name="No, keep it").click()
    expect(page.locator(".theirs").last).to_contain_text("I haven’t deleted anything")


@pytest.mark.parametrize("words", ["<img src=x onerror=alert(1)>", "<script>alert(1)</script>", "&lt;b&gt; ${1}"])
def test_what_somebody_writes_is_shown_as_it_was_written(open_page: OpenPage, words: str) -> None:
    page = open_page()
    write(page, f"{words} 2.3")
    for _ in range(2):
        assert f"> {words} 2.3" in bubbles(page)
        assert page.locator("#log script, #log [onerror]").count() == 0
        page.reload()


def test_where_cookies_are_refused_a_tab_keeps_its_conversation(open_page: OpenPage, served: Served) -> None:
    served.cookies = False
    page = open_page()
    begin(page)
    page.wait_for_function("() => sessionStorage.getItem('chat-secret')")
    write(page, "9 sprockets")
    before = bubbles(page)
    page.reload()
    expect(page.locator("#log .said")).to_have_count(len(before))
    assert bubbles(page) == before
    write(page, "it stays still")
    assert count(page) == 3
    assert page.context.cookies() == []


def test_a_slow_answer_is_announced(open_page: OpenPage) -> None:
    page = open_page(size=PHONE)
    begin(page)
    expect(page.locator("#thinking")).to_be_hidden()
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/chat/say", hold, times=1)
    page.get_by_label("Your answer or question").fill("9")
    page.keyboard.press("Enter")
    expect(page.locator("#thinking")).to_be_visible()
    held.pop().continue_()
    next_said(page, 1)
    expect(page.locator("#thinking")).to_be_hidden()


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "none"])
def test_a_photo_is_sent(open_page: OpenPage, tmp_path: Path, served: Served, scripts: bool) -> None:
    file, none = tmp_path / "mine.png", tmp_path / "none.png"
    Image.new("RGB", (400, 300), "orange").save(file)
    none.write_text("no picture")
    page = open_page(java_script_enabled=scripts)
    page.get_by_role("button", name="Ask me").click()
    expect(page.locator(".question")).to_have_count(1)
    for path, said in ((file, 2), (none, 2)):
        page.get_by_label("Send a photo").set_input_files(path)
        if not scripts:
            page.get_by_role("button", name="Send it").click()
        expect(page.locator("#log [data-number]")).to_have_count(said)
    expect(page.locator("#notice")).to_contain_text("That’s no photo that I can open")
    expect(page.locator(".theirs").last).to_contain_text("I’ll keep it for the person")
    assert served.delivery.counts.photos_kept == 1
    if scripts:
        expect(page.locator(".mine")).to_have_count(2)
        page.reload()
        expect(page.locator(".mine")).to_have_count(2)
        assert bubbles(page)[2] == "> A photo"
