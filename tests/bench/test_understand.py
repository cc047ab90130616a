"""Understanding: an ordinary message takes about a millisecond at most, and no rubbish takes long."""

import random
import string
import time

import pytest

from tests.bench.clocks import Times
from tests.bench.conftest import Figures
from tests.bench.talks import TALKS
from triagebot.conversation import Guide
from triagebot.conversation.understanding import Setting, understand

pytestmark = pytest.mark.campaign

MEDIAN = 1.0
#: The longest message that is read takes at most this much processor time, ms, whatever stands in it.
LONGEST = 50.0
#: How many messages the search for the dearest one tries at random, and how many that are like the dearest found.
AT_RANDOM, LIKE_THE_WORST = 250, 150
LENGTH = 2000


def test_ordinary_messages(guide: Guide, figures: Figures) -> None:
    settings = [guide.setting("en", question) for question in (None, *guide.topic.questions)]
    said = [text for talk in TALKS for text in talk]
    understand("Hi, my 7-speed won't come off!", settings[0])
    first, again = Times(), Times()
    for times in (first, again):
        for text in said:
            for setting in settings if times is again else settings[:1]:
                times.run(lambda text=text, setting=setting: understand(text, setting))  # type: ignore[misc]
    figures("understanding a message, never heard before", str(first), f"median <= {MEDIAN} ms")
    figures("understanding a message, with every question open", str(again), f"median <= {MEDIAN} ms")
    sentences = Times()
    for text in (text for text in said if len(text.split()) > 4):
        sentences.run(lambda text=text: understand(text.upper(), settings[0]))  # type: ignore[misc]
    figures("understanding a sentence, five words and more", str(sentences), f"median <= {MEDIAN} ms")
    assert sentences.median <= MEDIAN
    assert first.median <= MEDIAN
    assert again.median <= MEDIAN


def _rubbish(guide: Guide) -> dict[str, str]:
    chance = random.Random(7)
    words = sorted(guide.language("en").words.vocabulary)
    signs = string.printable + "äßéøłЖ中🚲\u200f\u0663"
    return {
        "any signs": "".join(chance.choices(signs, k=LENGTH)),
        "letters": "".join(chance.choices(string.ascii_lowercase + "   ", k=LENGTH)),
        "digits": "".join(chance.choices("0123456789 ,./-", k=LENGTH)),
        "our own words": " ".join(chance.choices(words, k=LENGTH))[:LENGTH],
        "one word again": ("not " * LENGTH)[:LENGTH],
        "one number again": ("12 " * LENGTH)[:LENGTH],
        "brackets": ("<(" * LENGTH)[:LENGTH],
    }


def test_rubbish_as_long_as_is_read(guide: Guide, figures: Figures) -> None:
    bare, asked = guide.setting("en", None), guide.setting("en", "count")
    worst: tuple[float, str] = (0.0, "")
    for kind, text in _rubbish(guide).items():
        assert len(text) == LENGTH
        times = Times()
        for setting in (bare, asked) * 3:
            times.run(lambda text=text, setting=setting: understand(text, setting))  # type: ignore[misc]
        worst = max(worst, (times.median, kind))
        figures(f"understanding {LENGTH} characters, {kind}", str(times), f"median <= {LONGEST} ms")
    assert worst[0] <= LONGEST, worst


def _pieces(guide: Guide) -> list[str]:
    """What hostile messages are made of: marks that fold to several letters, numbers, joints, and our own words."""
    words = guide.language("en").words
    own = random.Random(3).sample(sorted(words.vocabulary), 60)
    odd = ["㎜½", "½", "１", "١", "ﷺ", "①", "㎝", "1/2", "7/8 ", "12", "12 ", "1-", "1.", "9" * 12, "12 or ", "12 to "]
    joints = ["not ", "no ", "and ", "or ", "a ", "-", "- ", "'", '"', "<a", "(", "?", ". ", ", ", "\n", "x ", "minus "]
    longer = ["the middle ", "of them ", "of an inch ", "twenty ", "if it ", "my mate says ", "splines ", "wider than "]
    return [*odd, *joints, *longer, *(f"{word} " for word in own), *(f"{word[:-1]}q " for word in own[:20])]


def _cost(text: str, setting: Setting) -> float:
    """Processor time of understanding it, ms: the less of two times."""
    spent = []
    for _ in range(2):
        before = time.process_time()
        understand(text, setting)
        spent.append(1000 * (time.process_time() - before))
    return min(spent)


def test_the_dearest_message_that_a_search_finds(guide: Guide, figures: Figures) -> None:
    chance, pieces = random.Random(11), _pieces(guide)
    settings = [guide.setting("en", question) for question in (None, "count", "size", "fitting")]

    def priced(parts: list[str]) -> tuple[float, list[str]]:
        text = ("".join(parts) * LENGTH)[:LENGTH]
        return max(_cost(text, setting) for setting in settings), parts

    found = [priced(chance.choices(pieces, k=chance.randint(1, 4))) for _ in range(AT_RANDOM)]
    for _ in range(LIKE_THE_WORST):
        found.sort(key=lambda one: -one[0])
        parts = list(chance.choice(found[:8])[1])
        parts[chance.randrange(len(parts))] = chance.choice(pieces)
        found.append(priced(parts + chance.choices(pieces, k=chance.randint(0, 1))))
    worst, parts = max(found, key=lambda one: one[0])
    told = f"{worst:.1f} ms of processor for {''.join(parts)!r} again and again"
    figures(f"the dearest {LENGTH} characters of {len(found)}", told, f"<= {LONGEST} ms")
    assert worst <= LONGEST, told
