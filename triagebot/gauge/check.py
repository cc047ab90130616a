"""Proof that a topic's gauge sheet can be drawn in every language that it speaks, before anybody prints it."""

from collections.abc import Iterator

from triagebot.errors import DataError, Problem
from triagebot.gauge.coins import all_coins
from triagebot.gauge.sheet import gauge_sheet
from triagebot.pictures import not_in_font
from triagebot.topics import Texts, Topic, languages, load_texts


def check_gauge(topic: Topic) -> tuple[Problem, ...]:
    """Every coin without a name, the first other text that the sheet lacks, and every character that the bundled font
    does not have; sorted. None when all is well. A text file that cannot be read is left to `check_topic`."""
    found: list[Problem] = []
    for language in languages(topic.folder):
        try:
            texts = load_texts(topic.folder, language)
        except DataError:
            continue
        try:
            found += _unwritable(topic, texts)
        except DataError as error:
            found += error.problems
    return tuple(sorted(set(found)))


def _unwritable(topic: Topic, texts: Texts) -> Iterator[Problem]:
    file = str(topic.folder / "text" / f"{texts.language}.ftl")
    coins = all_coins(topic)
    named = [coin for coin in coins if texts.has(f"gauge-coin-{coin.id}")]
    for coin in coins:
        if coin not in named:
            yield Problem(file, 0, 0, f"there is no text 'gauge-coin-{coin.id}', which names a coin of gauges.yaml")
    words = [line for page in gauge_sheet(topic, texts, "A4", named).pages for line in page.words]
    for line in dict.fromkeys(words):
        lacking = not_in_font(line)
        if lacking:
            message = f"the letters of the gauge sheet lack {' '.join(lacking)}, which “{line}” needs"
            yield Problem(file, 0, 0, message)
