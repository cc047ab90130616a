"""The gauge sheet to print, and outlines at true size on the screen.

Rules of this file:
- the addresses: /gauge, /gauge.pdf, /gauge/page-<n>.svg (each takes `paper` and `country`) and /gauge/screen;
- which paper and whose coins somebody gets who has not said: those of the country in which the shop is; where its time
  zone lies in none, by the country in the browser's languages, else the one where the texts are written as they are;
- how well a card sets the scale of a screen (`SET`), and how a chosen outline is said to the bot: as a length with its
  uncertainty in words that anybody may type, so that every channel takes it.
"""

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from triagebot.conversation.wording import habits, number
from triagebot.errors import UsageError
from triagebot.gauge import (
    CARD,
    PAPERS,
    Outline,
    Paper,
    Sheet,
    alike_in_words,
    card_outline,
    coins_of,
    country_in,
    country_of,
    expanded_mm,
    gauge_sheet,
    paper_of,
    pdf_elsewhere,
    reading_from_outline,
    screen_outlines,
    size_reading,
)
from triagebot.pages.chat_visitor import fresh, visitor_of
from triagebot.pages.headers import ALONE
from triagebot.pages.site import AN_HOUR, CHECKED, NEVER, NavEntry, Part, Reader, Site, answer, languages_of, threaded
from triagebot.topics import Texts

#: A card's shorter side is set to within this, mm either way, all alike within that.
SET = 0.5
SCALE = SET / sqrt(3) / CARD[1]
#: The means by which a length read off the screen is known to the topic.
SCREEN = "screen-gauge"
#: Pixels (of the page) a mm that a screen may have: below, a wall of a hall; above, no card fits on it.
LEAST, MOST = 2.5, 11.0
#: Room round an outline, mm.
ROUND = 1.0

#: Codes in the tables of countries that stand for none.
NONE = frozenset({"EU", "EZ", "UN", "QO", "ZZ", "XA", "XB"})
#: Sheets, and what else takes long to make, that are kept ready.
KEPT = 32

#: A browser's own reader shows the file with the styles that it needs.
READ = "default-src 'none'; object-src 'self'; style-src 'unsafe-inline'; frame-ancestors 'none'"


@dataclass(frozen=True, slots=True)
class Shape:
    """An outline as the page shows it: its lines, the square round them (mm), what it is, how exactly it is read off
    this screen ("" for one that is a range anyway), and what to tell the bot."""

    id: str
    path: str
    box: str
    mm: float
    label: str
    within: str
    say: str


def part(site: Site) -> Part:
    """A topic in which nothing is measured at true size has no such pages."""
    if not screen_outlines(site.guide.topic):
        return Part(())
    gauge = Gauge(site)
    routes = (
        threaded("/gauge", gauge.home),
        threaded("/gauge.pdf", gauge.pdf),
        threaded("/gauge/page-{place:int}.svg", gauge.picture),
        threaded("/gauge/screen", gauge.screen),
    )
    return Part(routes, (NavEntry("gauge-nav", "/gauge"),))


class Gauge:
    """The requests of the gauge pages, each in a thread of its own."""

    def __init__(self, site: Site) -> None:
        self._site = site
        self._topic = site.guide.topic
        self._sheet = lru_cache(maxsize=KEPT)(self._drawn)
        self._pdf = lru_cache(maxsize=KEPT)(lambda *asked: pdf_elsewhere(self._sheet(*asked)))
        self._countries = lru_cache(maxsize=KEPT)(self._named)
        self._kinds = lru_cache(maxsize=KEPT)(self._shapes)

    def home(self, request: Request) -> Response:
        reader = self._site.reader(request)
        try:
            paper, country = self._wanted(request, reader)
        except UsageError:
            paper, country = self._guessed(request, reader)
        sheet = self._sheet(paper, country, reader.texts)
        query = urlencode({"paper": paper, "country": country.lower(), "lang": reader.language})
        return self._site.page(
            request,
            "gauge.html",
            here="/gauge",
            sheet=sheet,
            query=query,
            paper=paper,
            papers=tuple(PAPERS),
            country=country,
            countries=self._countries(reader.texts),
            alike=alike_in_words(self._topic, reader.texts),
        )

    def pdf(self, request: Request) -> Response:
        reader = self._site.reader(request)
        paper, country = self._asked(request, reader)
        name = f"gauge-sheet-{paper.lower()}.pdf"
        headers = {"content-disposition": f'inline; filename="{name}"', "content-security-policy": READ}
        body = self._pdf(paper, country, reader.texts)
        return answer(request, body, "application/pdf", keep=CHECKED, vary=True, headers=headers)

    def picture(self, request: Request) -> Response:
        """A page of the sheet, to look at before it is printed."""
        reader = self._site.reader(request)
        pages = self._sheet(*self._asked(request, reader), reader.texts).pages
        place = request.path_params["place"]
        if not 1 <= place <= len(pages):
            raise HTTPException(404)
        svg = pages[place - 1].picture().svg.encode()
        headers = {"content-security-policy": ALONE}
        return answer(request, svg, "image/svg+xml", keep=AN_HOUR, vary=True, headers=headers)

    def screen(self, request: Request) -> Response:
        reader = self._site.reader(request)
        store = self._site.store
        chat = self._site.delivery is not None and store is not None
        known = store is not None and visitor_of(request, store.cipher) is not None
        width, height, _ = CARD
        body = self._site.render(
            reader,
            "gauge-screen.html",
            here="/gauge",
            kinds=self._kinds(reader.texts),
            card=card_outline(),
            wide=width,
            high=height,
            least=LEAST,
            most=MOST,
            chat=chat,
            alike=alike_in_words(self._topic, reader.texts),
            key=secrets.token_urlsafe(16) if chat else "",
            start=fresh() if chat and not known else "",
        )
        return answer(request, body, keep=NEVER if chat else CHECKED, vary=True)

    # --- inside ---------------------------------------------------------------------------------------------------

    def _drawn(self, paper: Paper, country: str, texts: Texts) -> Sheet:
        return gauge_sheet(self._topic, texts, paper, coins_of(self._topic, country))

    def _asked(self, request: Request, reader: Reader) -> tuple[Paper, str]:
        """Raises HTTPException for a paper or a country that is none."""
        try:
            return self._wanted(request, reader)
        except UsageError:
            raise HTTPException(404) from None

    def _wanted(self, request: Request, reader: Reader) -> tuple[Paper, str]:
        """What the address asks for, and what is guessed for the rest. Raises UsageError."""
        paper, country = self._guessed(request, reader)
        if said := request.query_params.get("country", ""):
            coins_of(self._topic, said)
            country = said.upper()
            paper = paper_of(country)
        if said := request.query_params.get("paper", ""):
            known = {name.lower(): name for name in PAPERS}
            if said.lower() not in known:
                raise UsageError(f"there is no paper {said!r}")
            paper = known[said.lower()]
        return paper, country

    def _guessed(self, request: Request, reader: Reader) -> tuple[Paper, str]:
        known = {code for code, _ in self._countries(reader.texts)}
        here = country_in(self._site.guide.shop.zone.key)
        if here in known:
            return paper_of(here), here
        for tag in languages_of(request.headers.get("accept-language", "")):
            country = tag.rpartition("-")[2].upper()
            if "-" in tag and country in known:
                return paper_of(country), country
        country = country_of(reader.texts)
        return paper_of(country), country

    def _named(self, texts: Texts) -> tuple[tuple[str, str], ...]:
        """The countries whose coins the topic lists, by name."""
        names = habits(texts).territories
        codes = [code for code in map(str, names) if len(code) == 2 and code.isalpha() and code not in NONE]
        known = [(code, str(names[code])) for code in codes if coins_of(self._topic, code)]
        return tuple(sorted(known, key=lambda row: row[1]))

    def _shapes(self, texts: Texts) -> Mapping[str, Sequence[Shape]]:
        """The outlines by what there is to grip."""
        found: dict[str, list[Shape]] = {}
        for outline in screen_outlines(self._topic):
            found.setdefault(texts(f"gauge-kind-{outline.kind}"), []).append(self._shape(outline, texts))
        return found

    def _shape(self, outline: Outline, texts: Texts) -> Shape:
        side = outline.high_mm + 2 * ROUND
        box = f"{-side / 2:g} {-side / 2:g} {side:g} {side:g}"
        within, say = self._within(outline, texts), self._say(outline, texts)
        return Shape(outline.id, outline.svg_path_mm, box, side, outline.label(texts), within, say)

    def _within(self, outline: Outline, texts: Texts) -> str:
        """How exactly an outline is read off a screen; "" where it is a range anyway."""
        if outline.low_mm != outline.high_mm:
            return ""
        reading = reading_from_outline(self._topic, outline.id, SCALE)
        return texts("gauge-within", half=expanded_mm(self._topic, reading, SCREEN))

    def _say(self, outline: Outline, texts: Texts) -> str:
        """What to tell the bot: how many of what, and how wide, in words that `means-screen-gauge` is understood by."""
        counted = f"label-count-{outline.kind}" if outline.count else f"label-{outline.kind}"
        what = texts(counted, count=outline.count)
        if outline.low_mm != outline.high_mm:
            low, high = number(texts, outline.low_mm), number(texts, outline.high_mm)
            return texts("gauge-say-range", what=what, low=low, high=high)
        reading = reading_from_outline(self._topic, outline.id, SCALE)
        half = round(size_reading(self._topic, reading, SCREEN).half_width, 1)
        given = {"what": what, "size": number(texts, reading.mm)}
        return texts("gauge-say-about", **given, half=number(texts, half)) if half else texts("gauge-say", **given)
