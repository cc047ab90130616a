"""Understanding: an ordinary message takes about a millisecond at most, and no rubbish takes long."""

import random
import string
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

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
AT_RANDOM, LIKE_THE_WORST = 250, 350
LENGTH = 2000
#: A message is at most so many pieces, said again and again.
MOST_PIECES = 12
#: While these are open; None: nothing is.
SETTINGS = (None, "count", "size", "fitting", "spin", "marking")


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


@dataclass(frozen=True)
class _Hostile:
    """A message as a search makes it: pieces, how often the whole of them is said, and words of `seed` where a piece
    is a gap. Said anew, its gaps are filled with words that nobody has typed before."""

    pieces: tuple[str, ...]
    seed: int

    def text(self, own: Sequence[str], fresh: random.Random) -> str:
        chance, said = random.Random(self.seed), []
        length = 0
        while length < LENGTH:
            for piece in self.pieces:
                filled = _filled(piece, own, chance, fresh)
                said.append(filled)
                length += len(filled)
        return "".join(said)[:LENGTH]


#: Gaps: one of our own words, one of them mistyped, no word at all, a number, a length.
_OWN, _SLIP, _NONSENSE, _NUMBER, _SIZE = "<own>", "<slip>", "<nonsense>", "<number>", "<size>"
_GAPS = (_OWN, _SLIP, _NONSENSE, _NUMBER, _SIZE)


def _filled(piece: str, own: Sequence[str], chance: random.Random, fresh: random.Random) -> str:
    word = chance.choice(own)
    match piece:
        case "<own>":
            return f"{word} "
        case "<slip>":
            at = fresh.randrange(1, max(len(word), 2))
            return f"{word[:at]}{fresh.choice(string.ascii_lowercase)}{word[at + fresh.randrange(2) :]} "
        case "<nonsense>":
            return "".join(fresh.choices(string.ascii_lowercase, k=fresh.randint(3, 9))) + " "
        case "<number>":
            return f"{chance.randint(0, 60)} "
        case "<size>":
            return f"{chance.randint(1, 500) / 10:g} {chance.choice(('mm', 'cm', 'inch', 'mm or'))} "
        case _:
            return piece


def _pieces(guide: Guide) -> list[str]:
    """What hostile messages are made of: marks that fold to several letters, numbers, joints, phrases that begin many
    others, every word of ours, and gaps."""
    own = sorted(guide.language("en").words.vocabulary)
    odd = ["㎜½", "½", "１", "١", "ﷺ", "①", "㎝", "1/2", "7/8 ", "12", "12 ", "1-", "1.", "9" * 12, "12 or ", "12 to "]
    joints = ["not ", "no ", "and ", "or ", "a ", "-", "- ", "'", '"', "<a", "(", "?", ". ", ", ", "\n", "x ", "minus "]
    longer = ["the middle ", "of them ", "of an inch ", "twenty ", "if it ", "my mate says ", "splines ", "wider than "]
    longer += ["no wait ", "it turns ", "it stays ", "i cant see any ", "i said ", "but ", "don't know ", "notches "]
    return [*odd, *joints, *longer, *(f"{word} " for word in own), *_GAPS * (len(own) // 10)]


def _changed(one: _Hostile, pieces: Sequence[str], chance: random.Random) -> _Hostile:
    """A message like another: a piece more, less, twice or in another's place, or other words in the gaps."""
    parts = list(one.pieces)
    at = chance.randrange(len(parts))
    match chance.randrange(5):
        case 0:
            parts.insert(at, chance.choice(pieces))
        case 1 if len(parts) > 1:
            del parts[at]
        case 2:
            parts.insert(at, parts[at])
        case 3:
            return _Hostile(one.pieces, chance.randrange(1 << 30))
        case _:
            parts[at] = chance.choice(pieces)
    return _Hostile(tuple(parts[:MOST_PIECES]), one.seed)


def _cost(say: Callable[[], str], setting: Setting, times: int) -> float:
    """Processor time of understanding it, ms: the least of some times."""
    spent = []
    for _ in range(times):
        text = say()
        before = time.process_time()
        understand(text, setting)
        spent.append(1000 * (time.process_time() - before))
    return min(spent)


def test_the_dearest_message_that_a_search_finds(guide: Guide, figures: Figures) -> None:
    chance, fresh, pieces = random.Random(11), random.Random(12), _pieces(guide)
    own = sorted(guide.language("en").words.vocabulary)
    settings = [guide.setting("en", question) for question in SETTINGS]

    def priced(one: _Hostile, times: int = 2) -> tuple[float, _Hostile]:
        return max(_cost(lambda: one.text(own, fresh), setting, times) for setting in settings), one

    lone = [(piece,) for piece in (*_GAPS, *pieces[:60])]
    mixed = [tuple(chance.choices(pieces, k=chance.randint(1, MOST_PIECES // 2))) for _ in range(AT_RANDOM)]
    found = [priced(_Hostile(parts, n)) for n, parts in enumerate((*lone, *mixed))]
    for _ in range(LIKE_THE_WORST):
        found.sort(key=lambda each: -each[0])
        found.append(priced(_changed(chance.choice(found[:8])[1], pieces, chance)))
    found.sort(key=lambda each: -each[0])
    worst, one = max((priced(each, 7) for _, each in found[:8]), key=lambda each: each[0])
    told = f"{worst:.1f} ms of processor for {''.join(one.pieces)!r} again and again"
    figures(f"the dearest {LENGTH} characters of {len(found)}", told, f"<= {LONGEST} ms")
    assert worst <= LONGEST, told
