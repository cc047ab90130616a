"""What people may write to the bot, for tests that try anything: strategies and draws named after what is said."""

import random
import string

from hypothesis import strategies as st

from tests.conversation.guides import shipped_guide
from triagebot.conversation import Message

COMMANDS = ("help", "back", "change", "restart", "stop", "person", "how do I check?", "why", "continue", "yes", "no")
ASKED = ("how tight does it go back?", "which cassette can I buy?", "do I need gloves?", "how do I take it off?")
SMALL_TALK = (*ASKED, "hello", "thanks", "ok", "hm", "what a nice day it is today", "you are useless", "I don't know")
ABSURD = (
    "",
    " ",
    "\n\n",
    "\t",
    "\0\x01\x1b[31m\x7f",
    "\ufeff",
    "\u202e23 mm\u202c",
    "كم عدد الأسنان",
    "שלום 12",
    "🚲🔧😀",
    "👩‍🔧",
    "<b>12</b><script>alert(1)</script>",
    "'; DROP TABLE cases; --",
    "{{ 7 * 7 }} ${HOME} %s %n",
    "0",
    "-4",
    "400",
    "1e9",
    "NaN",
    "inf mm",
    "-inf",
    "40 inches",
    "1/0",
    "7/0 inch",
    "99999999999999999999999999",
    "½",
    "²³",
    "٣ splines",
    "1e999 mm",
    "0x1F",
    "\ud800",
)
LONG = ("a" * 10_000, "12 " * 3_000, "not " * 2_000, "🚲" * 10_000)
TEMPLATES = (
    "{n}",
    "{n} splines",
    "{n} notches",
    "{n} sprockets",
    "{n} or {m}",
    "{n} to {m}",
    "{x} mm",
    "about {x}mm by calliper",
    "{x} mm with a ruler",
    "between {x} and {y} mm",
    "{y} cm",
    "{n}/{m} inch",
    "{x}",
    "a bit wider than a 1 euro coin",
    "smaller than a 2 euro coin",
    "no wait, {n} splines",
    "not {n}",
    "it has {n} splines, about {x} mm, and it stays still",
    "the middle turns",
    "it doesn't turn",
    "it coasts",
    "fixed",
    "the wheel is still in the bike",
    "the wheel is out",
    "the notches are worn",
    "it has a motor",
    "there is a cable out of the axle",
    "single speed, notches on the outside edge",
    "change the count",
    "change size",
    "how do I measure it?",
    "the first one",
)


def choices_and_labels() -> list[str]:
    """Every id and every label of every choice of the topic that ships."""
    guide = shipped_guide()
    texts = guide.language("en").texts
    pairs = [(question, choice) for question in guide.topic.flow.questions for choice in question.choices]
    return [*dict.fromkeys(choice for _, choice in pairs), *(guide.label(texts, q, choice) for q, choice in pairs)]


def texts() -> st.SearchStrategy[str]:
    """Anything that may be typed: answers, commands, small talk, absurdities, and any characters at all."""
    numbers = st.integers(0, 60)
    lengths = st.one_of(st.floats(15, 50), st.floats(0, 500)).map(lambda x: f"{x:.1f}")
    told = st.builds(
        lambda template, n, m, x, y: template.format(n=n, m=m, x=x, y=y),
        st.sampled_from(TEMPLATES),
        numbers,
        numbers,
        lengths,
        lengths,
    )
    listed = st.sampled_from([*choices_and_labels(), *(str(n) for n in range(1, 6))])
    return st.one_of(told, told, listed, st.sampled_from(COMMANDS + SMALL_TALK + ABSURD), st.text(max_size=60))


def presses() -> st.SearchStrategy[str]:
    """Ids that a button may send: choices of any question, commands, and what no button has."""
    commands = ["unsure", "how", "back", "help", "person", "restart", "stop", "change", "resume", "yes", "no"]
    return st.one_of(st.sampled_from([*choices_and_labels(), *commands, "", "colour"]), st.text(max_size=20))


def messages() -> st.SearchStrategy[Message]:
    typed = st.builds(Message, texts())
    return st.one_of(typed, typed, typed, st.builds(lambda choice: Message(choice=choice), presses()))


def fuzzed(draw: random.Random) -> str:
    """One message of a fuzzed run: pieces of what people say, cut, doubled and sprinkled with anything."""
    pieces = []
    for _ in range(draw.choice((1, 1, 1, 2, 3))):
        kind = draw.random()
        if kind < 0.5:
            number = draw.choice((draw.randint(0, 60), draw.randint(-9, 10**6)))
            pieces.append(
                draw.choice(TEMPLATES).format(
                    n=number, m=draw.randint(0, 30), x=round(draw.uniform(0, 60), 1), y=draw.randint(0, 500)
                )
            )
        elif kind < 0.75:
            pieces.append(draw.choice((*COMMANDS, *SMALL_TALK, *choices_and_labels())))
        elif kind < 0.84:
            pieces.append(draw.choice(ABSURD))
        elif kind < 0.85:
            pieces.append(draw.choice(LONG)[: draw.choice((50, 1_000, 10_000))])
        else:
            pieces.append("".join(chr(draw.randrange(*draw.choice(_ALPHABETS))) for _ in range(draw.randint(0, 20))))
    text = draw.choice((" ", ", ", ". ", "", "\n")).join(pieces)
    if draw.random() < 0.2 and text:
        at = draw.randrange(len(text))
        text = text[:at] + draw.choice(string.printable) + text[at + draw.randint(0, 2) :]
    return text


#: First code point and the one after the last: ASCII, the alphabets of the world, private use and beyond.
_ALPHABETS = ((32, 127), (0, 0x3000), (0xE000, 0x110000))
