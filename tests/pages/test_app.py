"""The app around the pages: headers, limits, faults, languages, what may be kept, health and figures."""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from prometheus_client import CollectorRegistry, Counter
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from tests.pages.conftest import NOW, Visitor
from tests.pages.markup import Markup
from triagebot.conversation import Guide
from triagebot.pages import Limits, Part, Site, app, policy
from triagebot.pages.app import PARTS
from triagebot.pages.guard import address_of
from triagebot.pages.site import languages_of
from triagebot.rates import Rate
from triagebot.topics import Texts

PATHS = ("/notes/", "/notes/cassette-12-spline", "/nothing", "/health", "/static/style.css", "/notes", "/")


async def _broken(request: Request) -> Response:
    raise ValueError("what somebody wrote: secret")


async def _heard(request: Request) -> Response:
    return PlainTextResponse(str(len(await request.body())))


async def _framed(request: Request) -> Response:
    return PlainTextResponse("x", headers={"content-security-policy": policy("https://shop.example.org")})


def trying(site: Site) -> Part:
    """A part such as others add: one page that fails, one that listens, one that may be framed."""
    routes = (
        Route("/broken", _broken, methods=["GET", "POST"]),
        Route("/heard", _heard, methods=["POST"]),
        Route("/heard/long", _heard, methods=["POST"]),
        Route("/framed", _framed),
    )
    return Part(routes, bodies={"/heard/long": 1_000_000})


@pytest.fixture
def trial(guide: Guide) -> Visitor:
    return Visitor(app(guide, parts=(*PARTS, trying), clock=lambda: NOW))


# --- headers ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [*PATHS, "/broken", "/pictures/fastening/cassette-12-spline.svg"])
@pytest.mark.parametrize("method", ["GET", "HEAD", "DELETE"])
def test_every_answer_has_the_headers(trial: Visitor, path: str, method: str) -> None:
    headers = trial(path, method).headers
    rules = headers["content-security-policy"]
    assert "default-src 'none'" in rules
    assert "frame-ancestors 'none'" in rules
    assert "unsafe" not in rules or "sandbox" in rules
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["x-frame-options"] == "DENY"
    assert "set-cookie" not in headers


def test_a_page_may_say_who_frames_it(trial: Visitor) -> None:
    headers = trial("/framed").headers
    assert "frame-ancestors https://shop.example.org" in headers["content-security-policy"]
    assert "x-frame-options" not in headers


def test_pages_hold_nothing_that_the_policy_forbids_and_fetch_nothing_from_elsewhere(pages: Visitor) -> None:
    for path in ("/notes/", "/notes/cassette-12-spline", "/notes/?q=clamp", "/nothing"):
        page = Markup(pages(path).text)
        for tag, given in page.elements:
            assert tag not in ("script", "style", "iframe", "object")
            assert not [name for name in given if name == "style" or name.startswith("on")], given
            for name in ("src", "action"):
                assert given.get(name, "/").startswith("/"), given
            assert tag != "link" or given["href"].startswith("/static/")


# --- limits -------------------------------------------------------------------------------------------------------


def test_what_is_too_much_is_refused_whether_announced_or_not(trial: Visitor) -> None:
    def dripping(size: int) -> object:
        async def drip() -> object:
            for _ in range(size // 1000):
                yield b"x" * 1000

        return drip()

    assert trial("/heard", "POST", content=b"x" * 65_536).text == "65536"
    assert trial("/heard", "POST", content=b"x" * 65_537).status_code == 413
    assert trial("/heard", "POST", content=dripping(64_000)).text == "64000"
    refused = trial("/heard", "POST", content=dripping(200_000))
    assert refused.status_code == 413
    assert "That was too large" in refused.text
    assert trial("/heard/long", "POST", content=dripping(900_000)).text == "900000"
    assert trial("/heard/long", "POST", content=b"x" * 1_000_001).status_code == 413
    unread = trial("/heard", "POST", headers={"content-length": "nonsense"})
    assert unread.status_code == 400
    assert "I couldn’t read that" in unread.text


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),
        ({"origin": "http://shop.example.org"}, 200),
        ({"origin": "https://evil.example"}, 403),
        ({"origin": "http://shop.example.org.evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({"sec-fetch-site": "same-origin", "origin": "https://shop.example.org"}, 200),
        ({"sec-fetch-site": "none"}, 200),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"sec-fetch-site": "cross-site", "origin": "http://shop.example.org"}, 403),
        ({"origin": "http://[bad"}, 403),
    ],
)
def test_nothing_is_written_for_a_page_of_somebody_else_s(trial: Visitor, headers: dict[str, str], status: int) -> None:
    told = trial("/heard", "POST", headers=headers)
    assert told.status_code == status
    assert ("That came from another site" in told.text) == (status == 403)
    assert trial("/notes/", headers=headers).status_code == 200, "reading is for everybody"


def test_who_asks_too_often_waits_and_nobody_else_does(guide: Guide) -> None:
    limits = Limits(reading=Rate(3, 0.001), writing=Rate(1, 0.001))
    visitor = Visitor(app(guide, limits=limits, clock=lambda: NOW))
    assert [visitor("/notes/").status_code for _ in range(4)] == [200, 200, 200, 429]
    refused = visitor("/notes/")
    assert int(refused.headers["retry-after"]) > 100
    assert "Wait a moment" in refused.text
    assert visitor.at("203.0.113.8")("/notes/").status_code == 200
    assert [visitor("/notes/", "POST").status_code for _ in range(2)] == [405, 429], "writing has its own measure"
    assert visitor("/health").status_code == 200


@pytest.mark.parametrize(
    ("address", "bucket"),
    [
        ("203.0.113.7", "203.0.113.7"),
        ("::ffff:203.0.113.7", "203.0.113.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::1", "2001:db8:1:2::/64"),
        ("unix", "unix"),
    ],
)
def test_one_household_has_one_bucket(address: str, bucket: str) -> None:
    assert address_of({"client": (address, 1)}) == bucket
    assert address_of({"client": None}) == ""


def test_routes_of_others_stand_outside_the_limits_and_have_the_headers(guide: Guide) -> None:
    limits = Limits(writing=Rate(1, 0.001), body=10)
    visitor = Visitor(app(guide, limits=limits, extra_routes=[Route("/hook", _heard, methods=["POST"])]))
    for _ in range(3):
        answer = visitor("/hook", "POST", content=b"x" * 100)
        assert answer.text == "100"
        assert answer.headers["x-content-type-options"] == "nosniff"


# --- faults -------------------------------------------------------------------------------------------------------


def test_a_page_that_fails_says_so_without_its_reasons(trial: Visitor, caplog: pytest.LogCaptureFixture) -> None:
    answer = trial("/broken?q=private")
    assert answer.status_code == 500
    page = Markup(answer.text)
    assert "It wasn’t your fault" in page.text
    for text in (answer.text, caplog.text):
        assert "secret" not in text
        assert "private" not in text
        assert "Traceback" not in text
    assert "ValueError" in caplog.text
    assert "ValueError" not in answer.text


@pytest.mark.parametrize(
    ("path", "method", "status", "said"),
    [("/nothing", "GET", 404, "There’s no such page"), ("/notes/", "POST", 405, "You can’t do that here")],
)
def test_faults_are_pages_in_the_same_look(pages: Visitor, path: str, method: str, status: int, said: str) -> None:
    answer = pages(path, method)
    assert answer.status_code == status
    assert answer.headers["cache-control"] == "no-store"
    page = Markup(answer.text)
    assert said in page.text
    assert "/notes/" in [given["href"] for given in page.all("a")]
    assert (status == 405) == ("allow" in answer.headers)


# --- what may be kept ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ["/notes/", "/notes/cassette-12-spline", "/pictures/fastening/cassette-12-spline.svg"])
def test_who_has_the_newest_is_told_so(pages: Visitor, path: str) -> None:
    first = pages(path)
    mark = first.headers["etag"]
    assert first.headers["vary"] == "accept-language, accept-encoding"
    for given in (mark, f"W/{mark}", f'"x", {mark}', "*"):
        again = pages(path, headers={"if-none-match": given})
        assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", mark)
    assert pages(path, headers={"if-none-match": '"x"'}).content == first.content
    head = pages(path, "HEAD")
    assert (head.status_code, head.content) == (200, b"")
    for name in ("etag", "content-type", "content-length", "cache-control"):
        assert head.headers[name] == first.headers[name]


def test_a_static_file_may_be_kept_for_ever_under_the_address_that_changes_with_it(pages: Visitor) -> None:
    page = Markup(pages("/notes/").text)
    for given in page.all("link"):
        assert "immutable" in pages(given["href"]).headers["cache-control"]
    for address in ("/static/style.css", "/static/style.css?v=old"):
        assert pages(address).headers["cache-control"] == "no-cache"


# --- languages ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "languages"),
    [
        ("de-AT,de;q=0.9,en;q=0.8", ["de-AT", "de", "en"]),
        ("en;q=0.1, fr", ["fr", "en"]),
        ("en;q=0", []),
        ("*", []),
        ("", []),
        ("pt-BR;q=nonsense", ["pt-BR", "pt"]),
        (";;;,,,q=1", []),
        ("x" * 10_000, []),
    ],
)
def test_languages_of_a_browser(header: str, languages: list[str]) -> None:
    assert languages_of(header) == languages


@pytest.fixture
def polyglot(guide: Guide) -> Visitor:
    """Two languages, told apart by nothing but their code."""
    english = guide.spoken["en"]
    other = Texts("de", english.texts._bundle, english.texts._file)
    spoken = {"en": english, "de": replace(english, texts=other)}
    return Visitor(app(Guide(guide.topic, guide.shop, spoken), clock=lambda: NOW))


def test_the_language_is_chosen_or_the_browser_s_or_the_shop_s(polyglot: Visitor) -> None:
    def language(path: str, **headers: str) -> str:
        return Markup(polyglot(path, headers=headers).text).all("html")[0]["lang"]

    german = {"accept-language": "fr, de-CH;q=0.8"}
    assert language("/notes/") == "en"
    assert language("/notes/", **german) == "de"
    assert language("/notes/?lang=en", **german) == "en"
    assert language("/notes/?lang=xx", **german) == "de"
    assert language("/nothing?lang=de") == "de"


def test_a_chosen_language_goes_along_and_one_of_the_browser_does_not(polyglot: Visitor) -> None:
    chosen = Markup(polyglot("/notes/cassette-12-spline?lang=de").text)
    within = [given["href"] for given in chosen.all("a") if given["href"].startswith("/")]
    assert within
    assert all("lang=de" in href.partition("#")[0] for href in within), within
    assert any(href.endswith("?lang=de#take-it-off") for href in within)
    assert {"name": "lang", "type": "hidden", "value": "de"} in Markup(polyglot("/notes/?lang=de").text).all("input")
    browser = Markup(polyglot("/notes/", headers={"accept-language": "de"}).text)
    assert not any("lang=" in given["href"] for given in browser.all("a") if given["href"].startswith("/"))
    assert {given["hreflang"] for given in browser.all("a") if "hreflang" in given} == {"en", "de"}


def test_below_another_address_all_links_carry_it(guide: Guide) -> None:
    visitor = Visitor(app(guide, clock=lambda: NOW), root="/shop")
    page = Markup(visitor("/shop/notes/cassette-12-spline").text)
    addresses = [given[name] for _, given in page.elements for name in ("href", "src") if name in given]
    assert all(a.startswith(("/shop/", "#", "tel:", "mailto:")) for a in addresses), addresses
    assert visitor("/shop/").headers["location"] == "/shop/notes/"
    assert visitor("/shop/notes?lang=en").headers["location"] == "/shop/notes/?lang=en"


# --- health and figures -------------------------------------------------------------------------------------------


def test_health_names_the_edition_which_changes_with_any_byte(
    pages: Visitor, folder: Path, pages_of: Callable[..., Visitor]
) -> None:
    health = json.loads(pages("/health").text)
    assert health["ok"] is True
    assert len(health["edition"]) == 64
    assert json.loads(pages_of()("/health").text) == health
    with (folder / "tools.yaml").open("a", encoding="utf-8") as file:
        file.write("# a word\n")
    assert json.loads(pages_of()("/health").text)["edition"] != health["edition"]


def test_figures_are_shown_to_this_machine_and_its_network_only(guide: Guide) -> None:
    registry = CollectorRegistry()
    Counter("triagebot_trials", "Trials.", registry=registry).inc()
    visitor = Visitor(app(guide, registry=registry, clock=lambda: NOW), "127.0.0.1")
    visitor("/notes/cassette-12-spline")
    visitor("/nothing/private")
    text = visitor("/metrics").text
    assert "triagebot_trials_total 1.0" in text
    assert 'triagebot_page_seconds_count{route="notes.note",status="200"} 1.0' in text
    assert 'triagebot_page_seconds_count{route="none",status="404"} 1.0' in text
    assert "private" not in text
    assert visitor.at("10.1.2.3")("/metrics").status_code == 200
    assert visitor.at("8.8.8.8")("/metrics").status_code == 404
    assert visitor("/metrics", headers={"x-forwarded-for": "10.1.2.3"}).status_code == 404
    assert Visitor(app(guide), "127.0.0.1")("/metrics").status_code == 404


def test_text_is_compressed_for_who_takes_it_and_nothing_that_may_hold_a_secret(pages: Visitor, guide: Guide) -> None:
    for path in (
        "/notes/",
        "/notes/cassette-12-spline",
        pages("/notes/").text.partition('stylesheet" href="')[2].partition('"')[0],
    ):
        plain = pages(path, headers={"accept-encoding": "identity"})
        small = pages(path, headers={"accept-encoding": "br;q=1, gzip;q=0.8"})
        assert "content-encoding" not in plain.headers
        assert small.headers["content-encoding"] == "gzip"
        assert int(small.headers["content-length"]) < 0.5 * int(plain.headers["content-length"])
        assert small.content == plain.content
        assert "accept-encoding" in small.headers["vary"]
        assert "accept-encoding" in plain.headers["vary"]
        assert small.headers["etag"] != plain.headers["etag"]
        given = {"accept-encoding": "gzip", "if-none-match": small.headers["etag"]}
        assert pages(path, headers=given).status_code == 304
        assert "content-encoding" not in pages(path, headers={"accept-encoding": "gzip;q=0"}).headers
        assert (
            pages(path, "HEAD", headers={"accept-encoding": "gzip"}).headers["content-length"]
            == small.headers["content-length"]
        )
    assert "content-encoding" not in pages("/no-such-page", headers={"accept-encoding": "gzip"}).headers


def test_every_page_says_when_the_shop_is_open_and_how_to_reach_it(
    pages: Visitor, pages_of: Callable[..., Visitor]
) -> None:
    for path in ("/notes/", "/gauge", "/no-such-page"):
        page = Markup(pages(path).text)
        told = "".join(piece[1] for piece in page.pieces if piece[0] == "text")
        assert "Tuesday15:00–20:00Wednesday10:00–13:00, 14:00–18:00Thursday" in told
        assert "Monday" not in page.text
        leads = [given["href"] for given in page.all("a")]
        assert "tel:+441632960274" in leads
        assert "mailto:bench@lantern-and-ratchet.example.org" in leads
    assert "Closed from 24 December to 2 January: Winter break" in Markup(pages("/notes/").text).text
    for now, told in ((datetime(2027, 1, 2, 12, tzinfo=UTC), True), (datetime(2027, 1, 3, 12, tzinfo=UTC), False)):
        assert ("Winter break" in pages_of(now)("/notes/").text) == told
    assert "Closed on 12 June: We are all" in Markup(pages_of(datetime(2027, 6, 1, tzinfo=UTC))("/notes/").text).text
