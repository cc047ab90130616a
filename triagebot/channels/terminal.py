"""The conversation in a terminal, or through a pipe: choices numbered, answers by number, word or free text."""

import sys
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, TextIO

from triagebot.conversation import Message, Reply
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.desk import Heard, Sitting

_WIDTH = 88


def talk(sitting: "Sitting", person: str, language: str, source: TextIO, out: TextIO, *, new: bool = False) -> None:
    """Talk until the person stops or the input ends; what was said is kept, and goes on next time."""
    by_hand = source.isatty() and out.isatty()
    texts = sitting.guide.language(language).texts
    heard = sitting.arrive(person, language, new=new)
    show(heard.reply, out, by_hand)
    for line in _said(source, out, texts, by_hand):
        heard = sitting.hear(person, Message(line), language)
        show(heard.reply, out, by_hand)
        if heard.reply.status == "stopped" or _left(heard):
            return
    out.write("\n" + texts("left-open", code=heard.case.code) + "\n")


def _left(heard: "Heard") -> bool:
    """Whether the last thing that happened was a goodbye after the end."""
    last = heard.case.events[-1]
    return heard.case.now.outcome is not None and getattr(last, "what", "") == "stop"


def _said(source: TextIO, out: TextIO, texts: Texts, by_hand: bool) -> Iterator[str]:
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
    out.write("\n")
    for paragraph in filter(None, reply.text.split("\n\n")):
        for line in paragraph.split("\n"):
            _wrapped(line, out, bold=styled and _warns(line))
        out.write("\n")
    if reply.question is not None:
        for line in reply.question.text.split("\n"):
            _wrapped(line, out, bold=styled)
        for number, choice in enumerate(reply.question.choices, 1):
            _wrapped(f"  {number}. {choice.label}", out, hang="     ")
        aside = " · ".join(choice.label for choice in reply.question.aside)
        out.write(f"\033[2m  ({aside})\033[0m\n" if styled else f"  ({aside})\n")
    out.flush()


def _warns(line: str) -> bool:
    word = line.split(" ", 1)[0]
    return len(word) > 3 and word.isupper()


def _wrapped(line: str, out: TextIO, bold: bool = False, hang: str = "") -> None:
    text = textwrap.fill(
        line, _WIDTH, subsequent_indent=hang or _hang(line), break_long_words=False, break_on_hyphens=False
    )
    out.write(f"\033[1m{text}\033[0m\n" if bold else f"{text}\n")


def _hang(line: str) -> str:
    """List items hang under their own text."""
    for mark in ("– ", "1. ", "2. ", "3. ", "4. ", "5. ", "6. ", "7. "):
        if line.startswith(mark):
            return " " * len(mark)
    return ""


def standard_streams() -> tuple[TextIO, TextIO]:
    """Standard input and output, reading whatever bytes come in as text."""
    for stream in (sys.stdin, sys.stdout):
        stream.reconfigure(encoding="utf-8", errors="replace")  # type: ignore[union-attr]
    return sys.stdin, sys.stdout
