"""The conversation in a terminal, or through a pipe: choices numbered, answers by number, word or free text.

Decided here: how wide lines are, and what is bold. Bold and dim only repeat what the words say.
"""

import re
import sys
import textwrap
from collections.abc import Iterator
from shutil import get_terminal_size
from typing import TYPE_CHECKING, TextIO

from triagebot.conversation import Message, Reply
from triagebot.conversation.reply import CUT, plain_of, sent_on

if TYPE_CHECKING:
    from triagebot.delivery import Heard, WaitingClient

#: Longer lines are hard to read, and shorter ones than this are not worth wrapping.
_WIDEST, _NARROWEST = 88, 24

_BOLD, _DIM, _PLAIN = "\033[1m", "\033[2m", "\033[0m"
#: What starts a line whose next lines hang under its text: a dash, a number, a choice.
_ITEM = re.compile(r"– |\d+\. |  \d+\. |  \(")


def talk(
    waiting_client: "WaitingClient", person: str, language: str, source: TextIO, out: TextIO, *, new: bool = False
) -> None:
    """Talk until the person stops or the input ends; what was said is kept, and goes on next time."""
    by_hand = source.isatty() and out.isatty()
    texts = waiting_client.guide.language(language).texts
    heard = waiting_client.arrive(person, language, new=new)
    show(heard.reply, out, by_hand)
    for line in _said(source, out, by_hand):
        heard = waiting_client.hear(person, Message(line), language)
        show(heard.reply, out, by_hand)
        if heard.reply.status == "stopped" or _left(heard):
            return
    if heard.case is None:  # one of the staff
        return
    last = texts("left-open" if heard.case.now.outcome is None else "goodbye", code=heard.case.code)
    out.write(f"\n{_wrapped(last, _width(by_hand))}\n")


def _left(heard: "Heard") -> bool:
    """Whether the last thing that happened was a goodbye after the end."""
    if heard.case is None:
        return False
    last = heard.case.events[-1]
    return heard.case.now.outcome is not None and getattr(last, "what", "") == "stop"


def _said(source: TextIO, out: TextIO, by_hand: bool) -> Iterator[str]:
    if by_hand:
        import readline  # noqa: F401  line editing and history for input()

        while True:
            try:
                yield input("\n> ")
            except (EOFError, KeyboardInterrupt):
                return
    for raw in source:
        line = raw.rstrip("\r\n")
        out.write(f"\n> {line}\n")
        yield line


def show(reply: Reply, out: TextIO, styled: bool) -> None:
    """Write one reply: prose wrapped, the question and what warns made bold where the terminal can."""
    width = _width(styled)
    blocks = [
        "\n".join(_wrapped(line, width, _BOLD if styled and _warns(line) else "") for line in paragraph.split("\n"))
        for paragraph in filter(None, reply.text.split("\n\n"))
    ]
    if reply.forward:
        blocks.append(f"{CUT}\n{plain_of(sent_on(reply.forward))}\n{CUT}")  # not wrapped: it is copied as it is
    if reply.question is not None:
        lines = [_wrapped(line, width, _BOLD if styled else "") for line in reply.question.text.split("\n")]
        choices = reply.question.choices if reply.forward is None else ()
        lines += [_wrapped(f"  {n}. {choice.label}", width) for n, choice in enumerate(choices, 1)]
        aside = " · ".join(choice.label for choice in reply.question.aside)
        lines.append(_wrapped(f"  ({aside})", width, _DIM if styled else ""))
        blocks.append("\n".join(lines))
    if reply.offers:
        offers = " · ".join(choice.label for choice in reply.offers)
        blocks.append(_wrapped(f"  ({offers})", width, _DIM if styled else ""))
    out.write("\n" + "\n\n".join(blocks) + "\n")
    out.flush()


def _width(by_hand: bool) -> int:
    """How wide lines may be, in characters: as the terminal is, or as is good to read."""
    return max(_NARROWEST, min(_WIDEST, get_terminal_size().columns - 1)) if by_hand else _WIDEST


def _warns(line: str) -> bool:
    """Whether a line begins with a signal word, which stands in capitals."""
    word = line.split(" ", 1)[0]
    return len(word) > 3 and word.isupper()


def _wrapped(line: str, width: int, style: str = "") -> str:
    item = _ITEM.match(line)
    text = textwrap.fill(
        line,
        width,
        subsequent_indent=" " * len(item[0]) if item else "",
        break_long_words=False,
        break_on_hyphens=False,
    )
    return f"{style}{text}{_PLAIN}" if style else text


def standard_streams() -> tuple[TextIO, TextIO]:
    """Standard input and output, reading whatever bytes come in as text."""
    for stream in (sys.stdin, sys.stdout):
        stream.reconfigure(encoding="utf-8", errors="replace")  # type: ignore[union-attr]
    return sys.stdin, sys.stdout
