"""The coins of a reader's country."""

import pytest

from triagebot.errors import UsageError
from triagebot.gauge import coins_of
from triagebot.gauge.coins import all_coins, country_of
from triagebot.topics import Texts, Topic


@pytest.mark.parametrize(
    ("country", "currency", "count"),
    [("de", "eur", 5), ("FR", "eur", 5), ("gb", "gbp", 5), ("US", "usd", 5), ("ch", "chf", 3), ("in", "inr", 4)],
)
def test_a_country_has_its_own_coins_the_smallest_first(topic: Topic, country: str, currency: str, count: int) -> None:
    coins = coins_of(topic, country)
    assert len(coins) == count
    assert all(coin.id.startswith(f"{currency}-") for coin in coins)
    sizes = [coin.mm for coin in coins]
    assert sizes == sorted(sizes)
    assert all(topic.gauges[coin.id] == coin.mm for coin in coins)


def test_a_country_with_two_currencies_has_the_coins_of_both(topic: Topic) -> None:
    assert {coin.id[:3] for coin in coins_of(topic, "pa")} == {"usd"}, "and the other one is not listed"


def test_where_no_coin_is_listed_there_is_none(topic: Topic) -> None:
    assert coins_of(topic, "br") == ()


@pytest.mark.parametrize("country", ["", "d", "germany", "xx", "001", "d€", "../"])
def test_what_is_no_country_is_refused(topic: Topic, country: str) -> None:
    with pytest.raises(UsageError, match="no country's code"):
        coins_of(topic, country)


def test_all_coins_are_all_gauges_but_the_card(topic: Topic) -> None:
    assert set(topic.gauges) - {coin.id for coin in all_coins(topic)} == {
        "card-long-side",
        "card-short-side",
    }


def test_the_texts_say_where_they_are_read(texts: Texts) -> None:
    assert country_of(texts) == "GB"
