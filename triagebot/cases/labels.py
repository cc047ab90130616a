"""A label for a bike: the case it belongs to, whose it is, when it is wanted, and a square code that leads to the case.

The square code holds the address of the case's card, where people can reach the pages; without pages, the case's code.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from babel.dates import format_date

from triagebot.cases.cards import card_address
from triagebot.conversation import Guide
from triagebot.conversation.wording import habits
from triagebot.pictures import Picture, lines_of, number, on_paper
from triagebot.store.bikes import Bike, Bikes
from triagebot.store.grants import Grants
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction, View

#: A label hangs on its bike for longer than a customer looks at a card.
LASTS = timedelta(days=60)
#: The size of a label, and of its square code, mm; of the code's margin and of its letters.
WIDTH, HEIGHT, SQUARE = 89.0, 36.0, 30.0
_MARGIN, _LARGE, _SMALL, _LEADING = 3.0, 8.0, 4.2, 5.2
#: So many lines stand beneath the code.
_MOST_LINES = 4


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on it: the case's code, and lines in words; `leads_to` is what the square code holds."""

    code: str
    lines: tuple[str, ...]
    leads_to: str


def label_link(tx: "Transaction", number: int, address: str, now: datetime) -> str:
    """Where a new label of the case with this number is; `address` is that of the pages, without a slash."""
    return f"{card_address(address, Grants(tx).issue('card', number, {}, now, now + LASTS))}/label.svg"


def label_of(view: "View", guide: Guide, texts: Texts, number: int, leads_to: str) -> Label | None:
    """The label of the bike of a case; None for a case without one. `leads_to`: the code itself, where that is ""."""
    bike = Bikes(view).of(number)
    if bike is None:
        return None
    day = wanted_day(guide, texts, bike)
    wanted = texts("label-wanted", day=day) if day else ""
    return Label(bike.code, (bike.what, bike.whose, wanted), leads_to or bike.code)


def wanted_day(guide: Guide, texts: Texts, bike: Bike) -> str:
    """The day on which a bike is to be ready; "" for any."""
    if bike.wanted is None:
        return ""
    # A day ends with its last moment: the midnight behind it belongs to the next.
    day = (bike.wanted - timedelta(microseconds=1)).astimezone(guide.shop.zone).date()
    shown = str(format_date(day, "EEE d MMM", locale=habits(texts)))
    return shown if _bare(guide, bike.wanted) else f"{shown}, {bike.wanted.astimezone(guide.shop.zone):%H:%M}"


def _bare(guide: Guide, wanted: datetime) -> bool:
    """Whether a moment is a day and no more: it ends that day, or the shop opens or closes then."""
    hours, moment = guide.shop.hours, timedelta(minutes=1)
    before, after = hours.opening_at(wanted - moment), hours.opening_at(wanted)
    edge = (before is not None and before.closes == wanted) or (after is not None and after.opens == wanted)
    return edge or (wanted + moment).astimezone(guide.shop.zone).date() != wanted.astimezone(guide.shop.zone).date()


def drawn(label: Label) -> Picture:
    """The label at true size."""
    import segno  # late: a label is printed now and then

    rows = list(segno.make_qr(label.leads_to, error="m").matrix)
    one = SQUARE / len(rows)
    dots = [
        f"M{number(_MARGIN + x * one)} {number(_MARGIN + y * one)}h{number(one)}v{number(one)}h{number(-one)}z"
        for y, row in enumerate(rows)
        for x, dark in enumerate(row)
        if dark
    ]
    left, top = 2 * _MARGIN + SQUARE, _MARGIN + _LARGE
    wide = WIDTH - left - _MARGIN
    lines = [each for line in label.lines if line for each in lines_of(line, wide, _SMALL)][:_MOST_LINES]
    words = [_line(left, top, label.code, _LARGE)]
    words += [_line(left, top + _LEADING * place, line, _SMALL) for place, line in enumerate(lines, 1)]
    alone = ", ".join(filter(None, label.lines))
    body = f'<path d="{"".join(dots)}" fill="#000000"/>{"".join(words)}'
    return on_paper("label", WIDTH, HEIGHT, label.code, alone, body)


def _line(x: float, y: float, text: str, em: float) -> str:
    return f'<text x="{number(x)}" y="{number(y)}" font-size="{number(em)}">{escape(text)}</text>'
