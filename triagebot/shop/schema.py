"""What the files of a shop folder may say, and the rules of shape that each must keep.

This file decides which keys a shop's files may have, their kinds and their ranges. What one file says
about another, or about the topic, is in `agreement.py` (must hold) and `check.py` (ought to hold).
Money is in the shop's own currency.
"""

import re
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    field_validator,
    model_validator,
)

from triagebot.shop.hours import Closure, Span, parse_spans
from triagebot.shop.retention import shortened


def _written(pattern: str, how: str) -> AfterValidator:
    """Text that fits `pattern`; the complaint says `how` it is written, in words for the person who edits the file."""

    def fits(text: str) -> str:
        if re.fullmatch(pattern, text) is None:
            raise ValueError(f"write {how}, not {text!r}")
        return text

    return AfterValidator(fits)


Id = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=48)]
Slug = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=64)]
#: One line that people read.
Line = Annotated[
    str, StringConstraints(strip_whitespace=True, max_length=200), _written(r"[^\x00-\x1f\x7f]+", "one line of text")
]
Language = Annotated[str, _written(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*", "a language like en or pt-BR")]


def _amount(value: Any) -> Any:
    """An amount as it is written elsewhere, with a comma, is explained and not guessed: 1,250 is one of two."""
    if isinstance(value, str) and (found := re.fullmatch(r"(\d+),(\d{1,2})", value.strip())):
        raise ValueError(f"write {found[1]}.{found[2]}")
    if isinstance(value, str) and re.fullmatch(r"[^\d\s]?\s*\d[\d.,]*\s*[^\d\s]*", value.strip()):
        try:
            Decimal(value.strip())
        except ArithmeticError:
            raise ValueError(f"write an amount like 11.90, not {value!r}; the currency is in shop.yaml") from None
    return value


Money = Annotated[Decimal, Field(ge=0, le=100_000, decimal_places=2), BeforeValidator(_amount)]


def _day(value: Any) -> Any:
    """Dates are written as in 2026-12-24; which number is the month in others, nobody can tell."""
    if isinstance(value, str):
        try:
            return date.fromisoformat(value.strip())
        except ValueError:
            raise ValueError(f"write a date as year-month-day, like 2026-12-24, not {value!r}") from None
    return value


Day = Annotated[date, BeforeValidator(_day)]


class Row(BaseModel):
    """Frozen, with the keys of the file: words with hyphens, no others."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, defer_build=True, alias_generator=lambda name: name.replace("_", "-")
    )


# --- shop.yaml ----------------------------------------------------------------------------------------------------


def _spans(value: Any) -> Any:
    return parse_spans(value or "") if value is None or isinstance(value, str) else value


DayHours = Annotated[tuple[Span, ...], BeforeValidator(_spans)]


class Week(Row):
    """Hours a weekday; a day that is not named is closed."""

    monday: DayHours = ()
    tuesday: DayHours = ()
    wednesday: DayHours = ()
    thursday: DayHours = ()
    friday: DayHours = ()
    saturday: DayHours = ()
    sunday: DayHours = ()

    @property
    def days(self) -> tuple[tuple[Span, ...], ...]:
        """Monday first."""
        return tuple(getattr(self, name) for name in WEEKDAYS)


WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


class ClosedDates(Row):
    """One date (`on`) or a run of dates (`from`, `to`, both closed), with the reason that people are told."""

    on: Day | None = None
    start: Annotated[Day | None, Field(alias="from")] = None
    to: Day | None = None
    reason: Line

    @model_validator(mode="after")
    def _one_form(self) -> "ClosedDates":
        run = self.start is not None and self.to is not None
        if (self.on is not None) == run or (self.on is not None and (self.start or self.to)):
            raise ValueError("give either on (one date) or from and to (both are closed)")
        if self.start is not None and self.to is not None and self.to < self.start:
            raise ValueError("to lies before from")
        return self

    @property
    def closure(self) -> Closure:
        first, last = self.on or self.start, self.on or self.to
        assert first is not None  # one of the two forms, see above
        assert last is not None
        return Closure(first, last, self.reason)


class Contact(Row):
    """How the shop is reached. `person` says, in a sentence of the shop's own, how to get hold of somebody."""

    phone: Annotated[str, _written(r"\+?[0-9][0-9 ()/.-]{3,30}", "a number like +44 1632 960 000")] | None = None
    e_mail: Annotated[str, _written(r"[^\s@]+@[^\s@]+\.[^\s@]+", "an address like shop@example.org")] | None = None
    street: Line | None = None
    person: Line

    @property
    def line(self) -> str:
        """Telephone, mail and address in a row; where there is none of them, the shop's own sentence."""
        return ", ".join(each for each in (self.phone, self.e_mail, self.street) if each) or self.person


Places = Annotated[int, Field(ge=0, le=100)]


class Visits(Row):
    """How many people may come for work in each part of a day, and how many days ahead they may ask."""

    morning: Places = 0
    afternoon: Places = 0
    evening: Places = 0
    days_ahead: Annotated[int, Field(ge=1, le=90)] = 28

    @model_validator(mode="after")
    def _has_places(self) -> "Visits":
        if not (self.morning or self.afternoon or self.evening):
            raise ValueError("say how many may come: morning, afternoon or evening; or take visits out")
        return self


class Holds(Row):
    """For how many days a tool is kept for somebody at most."""

    days: Annotated[int, Field(ge=1, le=30)]


class ShopFile(Row):
    """shop.yaml. `review_months`: how long a procedure note may go without being read again by somebody who knows.
    `hand_over`: what of the topic's `shop-referrals` is for a person here. `visits`, `holds`: people may ask for these,
    and the staff answer. `keep`: what is kept for fewer days than `retention.yaml` says. `share_tools`: the branches of
    the same chain whose staff may ask which tools hang here."""

    name: Line
    kind: Line
    language: Language
    time_zone: str
    currency: Annotated[str, _written(r"[A-Z]{3}", "a currency's three letters, like EUR")] | None = None
    hours: Week
    closed: tuple[ClosedDates, ...] = ()
    contact: Contact
    notes_address: Annotated[str, _written(r"https?://[^\s?#]+", "an address like https://example.org/n")] | None = None
    review_months: Annotated[int, Field(ge=1, le=120)] = 24
    hand_over: tuple[Id, ...] = ()
    share_tools: tuple[Id, ...] = ()
    visits: Visits | None = None
    holds: Holds | None = None
    keep: Annotated[dict[Id, int], AfterValidator(shortened)] = {}

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, name: str) -> str:
        try:
            ZoneInfo(name)
        except (LookupError, ValueError, OSError):
            raise ValueError(f"there is no time zone {name!r}; they are written like Europe/London") from None
        return name


# --- tools.yaml ---------------------------------------------------------------------------------------------------

Offer = Literal["lends", "sells", "shop-use-only"]


class Tool(Row):
    """One of the topic's removers or accessories, as this shop has it: by its own name, and where it hangs.

    `deposit` goes with lending, `price` with selling. `count` 0: the shop owns none just now (broken, lost). `carry` is
    how much of a burden it is to take along, where most tools are 1.
    """

    tool: Id
    name: Line
    hangs: Line
    count: Annotated[int, Field(ge=0, le=1000)] = 1
    offers: Annotated[
        tuple[Offer, ...], Field(min_length=1), BeforeValidator(lambda v: [v] if isinstance(v, str) else v)
    ]
    deposit: Money | None = None
    price: Money | None = None
    carry: Annotated[float, Field(gt=0, le=100)] = 1.0

    @model_validator(mode="after")
    def _offers_agree(self) -> "Tool":
        if "shop-use-only" in self.offers and len(self.offers) > 1:
            raise ValueError("shop-use-only stands alone: such a tool is neither lent nor sold")
        if self.deposit is not None and "lends" not in self.offers:
            raise ValueError("a deposit is for a tool that the shop lends")
        if self.price is not None and "sells" not in self.offers:
            raise ValueError("a price is for a tool that the shop sells")
        return self


class ToolsFile(Row):
    """tools.yaml. `not_held`: what the topic names and this shop knowingly does not have."""

    tools: tuple[Tool, ...]
    not_held: tuple[Id, ...] = ()


# --- services.yaml ------------------------------------------------------------------------------------------------


class Service(Row):
    """What the shop does itself. It covers fastenings by id or by system; `damaged` ones too, or sound ones only.

    Takes so many `minutes` while the person waits, or so many `days`. Without a price it is asked for or free: `name`
    says so.
    """

    id: Id
    name: Line
    fastenings: tuple[Id, ...] = ()
    systems: tuple[Id, ...] = ()
    damaged: bool = False
    price: Money | None = None
    minutes: Annotated[int, Field(ge=1, le=600)] | None = None
    days: Annotated[int, Field(ge=1, le=90)] | None = None

    @model_validator(mode="after")
    def _says_what_and_how_long(self) -> "Service":
        if not self.fastenings and not self.systems:
            raise ValueError("say which fastenings or systems this covers")
        if (self.minutes is None) == (self.days is None):
            raise ValueError("give either minutes or days")
        return self


class ServicesFile(Row):
    """services.yaml, which a shop may leave out."""

    services: tuple[Service, ...] = ()


# --- makers.yaml --------------------------------------------------------------------------------------------------


class Maker(Row):
    """A maker's name as it is shown, and the other spellings that customers use."""

    name: Line
    also: tuple[Line, ...] = ()


class MakersOfChoice(Row):
    """The makers that mean one choice of the topic's question about markings; `label` is that choice in few words."""

    choice: Id
    label: Line
    makers: tuple[Maker, ...] = ()


class MakersFile(Row):
    choices: tuple[MakersOfChoice, ...]


# --- links.yaml ---------------------------------------------------------------------------------------------------


class NoteElsewhere(Row):
    """Where something is read outside this shop folder. `title` is what people see; the note's own if not given."""

    address: Annotated[str, _written(r"https?://[^\s<>\"]+", "an address like https://example.org/two-prong#off")]
    title: Line | None = None


def _elsewhere(value: Any) -> Any:
    return {"address": value} if isinstance(value, str) else value


#: What a link of the table stands for: a note, one section of it, or a fastening.
Signpost = Annotated[
    str, _written(r"[^\s#]+(#[^\s#]+)?", "a note, a note and its section (note#section), or a fastening")
]


class LinksFile(Row):
    """links.yaml, which a shop may leave out: notes, sections and fastenings that are described elsewhere."""

    links: dict[Signpost, Annotated[NoteElsewhere, BeforeValidator(_elsewhere)]] = {}


# --- replies.yaml -------------------------------------------------------------------------------------------------

#: Some sentences, over several lines if need be.
Prose = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=1000),
    _written(r"[^\x00-\x09\x0b-\x1f\x7f]+", "plain text without tabs"),
]


class CannedReply(Row):
    """What the staff often write, under a word of their own; `title` is what they see in the list, `text` what goes to
    the person, by language."""

    id: Id
    title: Line
    text: Annotated[dict[Language, Prose], Field(min_length=1)]

    def in_language(self, *languages: str) -> str:
        """The text in the first of these languages that it has; else in the first that there is."""
        return next((self.text[each] for each in languages if each in self.text), next(iter(self.text.values())))


class RepliesFile(Row):
    """replies.yaml, which a shop may leave out."""

    replies: tuple[CannedReply, ...] = ()
