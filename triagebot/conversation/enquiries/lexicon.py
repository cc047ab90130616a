"""What the files of enquiries may say: how people ask for something in between, and which words they ask about."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Patterns = tuple[str, ...]
#: What names no day of the week, beside Monday (0) to Sunday (6).
WEEKEND, TOMORROW = 7, 8
#: Patterns that must all stand in one sentence, in any order.
Row = Annotated[tuple[str, ...], Field(min_length=1)]
#: Facts about a known fastening: how it goes back, which way it turns, its remover, and whether another one that looks
#: alike will do.
Says = Literal["refitting", "direction", "remover", "look-alike"]


class _Table(BaseModel):
    model_config = ConfigDict(
        extra="forbid", frozen=True, defer_build=True, alias_generator=lambda name: name.replace("_", "-")
    )


class Ways(_Table):
    """The ways in which people ask one thing: `rows` in a sentence that asks, `stated` in any, `alone` as the whole
    sentence; `orders` in any, and for certain, since they ask for something; `like` are examples, to be found like any
    other sentence. `about`: the tools that it asks of; where what is known needs none of them, the answer says so.
    `first`: it goes before others that are asked for in as many words. `told`: people tell it as well as ask it.
    `work`: it is asked with the tool in hand, and is no longer answered once the work was stopped. `leans`: it asks
    about the question that is open ("which bit?"), which helps with it in words of its own or says how to check."""

    rows: tuple[Row, ...] = ()
    stated: tuple[Row, ...] = ()
    orders: tuple[Row, ...] = ()
    alone: Patterns = ()
    like: Patterns = ()
    says: Says | None = None
    first: bool = False
    told: bool = False
    work: bool = False
    leans: bool = False
    about: tuple[str, ...] = ()


class Term(_Table):
    """A word that people ask about, in its spellings, and the picture that shows what it means."""

    words: Patterns
    picture: str | None = None


class Difference(_Table):
    """Words that are asked about together, and the entry of the glossary that tells them apart."""

    of: tuple[str, str]
    text: str


class EnquiryWords(_Table):
    """A file of enquiries: the program's own or a topic's."""

    openers: Patterns = ()
    tags: Patterns = ()
    leads: Patterns = ()
    asking: Patterns = ()
    asking_weakly: Patterns = ()
    wishing: Patterns = ()
    question_words: Patterns = ()
    auxiliaries: Patterns = ()
    subjects: Patterns = ()
    joints: Patterns = ()
    fillers: Patterns = ()
    directly: Patterns = ()
    directly_behind: Patterns = ()
    asking_it: Patterns = ()
    lacking: Patterns = ()
    meanwhile: Patterns = ()
    telling: Patterns = ()
    weekdays: tuple[Patterns, ...] = ()
    weekend: Patterns = ()
    tomorrow: Patterns = ()
    today: Patterns = ()
    day_parts: dict[Literal["morning", "afternoon", "evening"], Patterns] = {}
    order_words: Patterns = ()
    shut_words: Patterns = ()
    not_shut: Patterns = ()
    ordinals: Patterns = ()
    months: tuple[Patterns, ...] = ()
    feasts: dict[str, tuple[int, int]] = {}
    next_day: Patterns = ()
    day_after: Patterns = ()
    parts: dict[str, str] = {}
    what_is: Patterns = ()
    tools: dict[str, Patterns] = {}
    glossary: dict[str, Term] = {}
    the_job: Patterns = ()
    differences: tuple[Difference, ...] = ()
    enquiries: dict[str, Ways] = {}
