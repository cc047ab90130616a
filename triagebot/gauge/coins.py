"""The coins of a reader's country, from the topic's list of gauges.

This file decides which gauges are coins of a country. A coin's id begins with its currency's code, in
small letters, and a hyphen (`eur-10c`); which currencies a country has is looked up in the Unicode consortium's tables.
"""

from dataclasses import dataclass

from triagebot.errors import UsageError
from triagebot.topics import Texts, Topic


@dataclass(frozen=True, slots=True)
class Coin:
    """A coin: its id in the topic's list of gauges, and its diameter, mm. Its name is the text `gauge-coin-<id>`."""

    id: str
    mm: float


def coins_of(topic: Topic, country: str) -> tuple[Coin, ...]:
    """The coins in use in a country (ISO 3166 code of two letters, either case), the smallest first; none where the
    topic lists none. Raises UsageError for what is no country's code."""
    from babel import Locale
    from babel.numbers import get_territory_currencies

    code = country.upper()
    if len(code) != 2 or code not in Locale("en").territories:
        raise UsageError(f"{country!r} is no country's code; use two letters, such as de or gb")
    currencies = tuple(f"{currency.lower()}-" for currency in get_territory_currencies(code))
    found = [Coin(name, mm) for name, mm in topic.gauges.items() if name.startswith(currencies)]
    return tuple(sorted(found, key=lambda coin: coin.mm))


def all_coins(topic: Topic) -> tuple[Coin, ...]:
    """Every coin that the topic lists: the gauges whose id begins with a currency's code (ISO 4217)."""
    from babel import Locale

    known = Locale("en").currencies
    return tuple(Coin(name, mm) for name, mm in topic.gauges.items() if name.partition("-")[0].upper() in known)


def country_in(zone: str) -> str:
    """The country in which a time zone lies ("Europe/London": GB); "" for one that lies in none or in several."""
    from babel.core import get_global

    territory = str(get_global("zone_territories").get(zone, ""))
    return "" if territory in ("001", "ZZ") else territory  # the world, and nowhere


def country_of(texts: Texts) -> str:
    """The country where these texts' numbers are written as they are: the best guess where nobody says more."""
    from babel import Locale

    return Locale.parse(texts("locale"), sep="-").territory or ""
