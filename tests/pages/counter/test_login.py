"""Getting to the counter page and leaving it: links that count once, sessions, and who is shut out."""

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import httpx
import pytest

from tests.counter.shop import Shop
from tests.pages.counter.conftest import Counter
from triagebot.conversation import Guide
from triagebot.counter import dismiss
from triagebot.counter.login import LINK_LASTS, SESSION_LASTS, log_in, login_link, member_at
from triagebot.pages import app
from triagebot.pages.counter import TRIES
from triagebot.store.staff import Staff


@contextmanager
def opened(folder: Path, guide: Guide | None = None) -> Iterator[Shop]:
    made = Shop(folder, guide=guide)
    try:
        yield made
    finally:
        made.end()


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with opened(tmp_path) as made:
        yield made


def test_a_link_logs_in_once_and_looking_at_it_uses_nothing_up(counter: Counter) -> None:
    link, first, second = counter.link("Ada"), counter.browser(), counter.browser()
    for _ in range(3):  # as a messenger's preview does
        assert first.opens(link).status_code == 200
    assert "lets Ada in" in first.words
    assert not first.http.cookies
    first.sends(link)
    assert "Nobody is waiting" in first.words
    assert second.sends(link).status_code == 403
    assert "doesn’t work" in second.words
    assert second.opens("/counter").status_code == 403


def test_a_newer_link_ends_the_older(counter: Counter) -> None:
    older, newer = counter.link("Ada"), counter.link("Ada")
    assert counter.browser().sends(older).status_code == 403
    assert counter.browser().sends(newer).status_code == 200


def test_links_and_sessions_end_by_themselves(shop: Shop) -> None:
    shop.staff("ada")
    ada, now, a_second = shop.member("ada"), shop.clock(), timedelta(seconds=1)
    assert ada is not None

    def secret() -> str:
        return login_link(tx, ada, "", now).rpartition("/")[2]

    with shop.writing() as tx:
        assert log_in(tx, secret(), now + LINK_LASTS, str) is None
        session = log_in(tx, secret(), now + LINK_LASTS - a_second, str)
        assert session is not None
        ends = now + LINK_LASTS - a_second + SESSION_LASTS
        assert member_at(tx, session, ends - a_second) is not None
        assert member_at(tx, session, ends) is None


def test_an_invitation_opens_the_page_and_counts_once(counter: Counter) -> None:
    code, browser = counter.invitation("Bea"), counter.browser()
    browser.opens(f"/counter/enter/{code}")
    assert "lets Bea in" in browser.words
    browser.sends(f"/counter/enter/{code}")
    assert browser.opens("/counter").status_code == 200
    assert "Bea" in browser.words
    with counter.served.store.read() as view:
        assert Staff(view).named("Bea") is not None
    assert counter.browser().sends(f"/counter/enter/{code}").status_code == 403


def test_logging_out_ends_the_session_and_not_only_the_cookie(counter: Counter) -> None:
    ada = counter.member("Ada")
    secret = ada.http.cookies["counter"]
    ada.presses("/counter/leave")
    assert "not logged in" in ada.words
    other = counter.browser()
    other.http.cookies.set("counter", secret)
    assert other.opens("/counter").status_code == 403


def test_who_leaves_the_staff_is_out_at_once_and_stays_out_when_back(counter: Counter) -> None:
    ada, link = counter.member("Ada"), counter.link("Ada")
    _, code = counter.customer()
    ada.opens(f"/counter/case/{code}")
    with counter.served.store.begin() as tx:
        member = Staff(tx).named("Ada")
        assert member is not None
        dismiss(tx, member, counter.served.delivery._clock())
    assert ada.presses("/claim").status_code == 403
    assert ada.opens("/counter").status_code == 403
    assert counter.browser().sends(link).status_code == 403
    with counter.served.store.begin() as tx:
        Staff(tx).admit(member.person, "staff", "Ada", counter.served.delivery._clock())
    assert ada.opens("/counter").status_code == 403


def test_who_is_not_logged_in_sees_nothing_of_it(counter: Counter) -> None:
    _, code = counter.customer()
    stranger = counter.browser()
    for address in ("/counter", f"/counter/case/{code}", f"/counter/case/{code}/card", "/counter/case/222-222"):
        assert stranger.opens(address).status_code == 403
        assert "notches" not in stranger.page
        assert code not in stranger.words
    assert stranger.opens(f"/counter/case/{code}/photo/1").status_code == 404
    assert stranger.sends(f"/counter/case/{code}/claim").status_code == 403


def test_the_cookie_is_for_this_host_no_script_and_no_other_site(counter: Counter) -> None:
    link = counter.link("Ada")
    got = counter.browser().http.post(link, follow_redirects=False)
    (cookie,) = got.headers.get_list("set-cookie")
    assert cookie.startswith("counter=")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
    assert "Secure" not in cookie


def test_over_https_the_cookie_is_secure_and_of_this_very_host(counter: Counter) -> None:
    served, link = counter.served, counter.link("Ada")
    pages = app(served.guide, served.delivery, served.store)

    async def log_in() -> list[str]:
        transport = httpx.ASGITransport(app=pages)
        async with httpx.AsyncClient(transport=transport, base_url="https://wheels.example") as client:
            return (await client.post(link)).headers.get_list("set-cookie")

    (cookie,) = asyncio.run(log_in())
    assert cookie.startswith("__Host-counter=")
    assert {"Secure", "HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))


def test_a_form_of_another_site_does_nothing(counter: Counter) -> None:
    ada = counter.member("Ada")
    _, code = counter.customer()
    for told in ({"sec-fetch-site": "cross-site"}, {"origin": "https://elsewhere.example"}):
        got = ada.http.post(f"/counter/case/{code}/claim", data={"key": "a"}, headers=told)
        assert got.status_code == 403
    ada.opens(f"/counter/case/{code}")
    assert "Claim" in ada.words


def test_nothing_of_it_is_kept_or_listed(counter: Counter) -> None:
    ada = counter.member("Ada")
    _, code = counter.customer()
    for address in ("/counter", f"/counter/case/{code}", f"/counter/case/{code}/card", counter.link("Ada")):
        got = ada.opens(address)
        assert got.headers["cache-control"] == "no-store"
        assert got.headers["x-robots-tag"] == "noindex, nofollow"
        assert "script-src 'self'" in got.headers["content-security-policy"]
        assert "style=" not in got.text


def test_nobody_may_try_many_links(counter: Counter) -> None:
    stranger, most = counter.browser(), int(TRIES.burst)
    codes = [stranger.opens("/counter/enter/BCDF-GHJK-MNPQ").status_code for _ in range(most + 1)]
    assert codes == [403] * most + [429]


@pytest.mark.parametrize("address", ["https://wheels.example", None])
def test_a_member_asks_for_a_link_in_a_chat(tmp_path: Path, guide: Guide, address: str | None) -> None:
    with opened(tmp_path, replace(guide, address=address)) as shop:
        shop.staff("ada")
        said = shop.says("ada", "link me")
        assert "enter" not in shop.says("bob", "link me")
    if address is None:
        assert "TRIAGEBOT_WEB_ADDRESS" in said
    else:
        assert f"{address}/counter/enter/" in said
        assert "10 minutes" in said
