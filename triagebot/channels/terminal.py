"""The conversation in a terminal, or through a pipe: choices numbered, answers by number, word or free text.

Bold and dim only repeat what the words say.
"""

import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from shutil import get_terminal_size
from threading import Event, Lock, Thread
from typing import TYPE_CHECKING, TextIO

from triagebot.conversation import Message, Reply
from triagebot.conversation.reply import Line, lines_of

if TYPE_CHECKING:
    from triagebot.delivery import Heard, WaitingClient

#: Longer lines are hard to read, and shorter ones than this are not worth wrapping.
_WIDEST, _NARROWEST = 88, 24

#: Every so many seconds it is looked whether something came in for them.
_LOOKS = 1.0
#: What may always be said stands in brackets, two characters in.
_ASIDE = 3
_BOLD, _DIM, _PLAIN = "\033[1m", "\033[2m", "\033[0m"


def talk(
    waiting_client: "WaitingClient", person: str, language: str, source: TextIO, out: TextIO, *, new: bool = False
) -> None:
    """Talk until the person stops or the input ends; what was said is kept, and goes on next time."""
    by_hand = source.isatty() and out.isatty()
    texts = waiting_client.guide.language(language).texts
    heard = waiting_client.arrive(person, language, new=new)
    show(heard.reply, out, by_hand)
    busy = Lock()
    with _listening(waiting_client, person, language, out, busy) if by_hand else nullcontext():
        for line in _said(source, out, by_hand):
            with busy:
                heard = waiting_client.hear(person, Message(line), language)
                show(heard.reply, out, by_hand)
            if heard.reply.status == "stopped" or _left(heard):
                return
    if heard.case is None:  # one of the staff
        return
    last = texts("left-open" if heard.case.now.outcome is None else "goodbye", code=heard.case.code)
    out.write(f"\n{_wrapped(Line(last), _width(by_hand))}\n")


@contextmanager
def _listening(waiting_client: "WaitingClient", person: str, language: str, out: TextIO, busy: Lock) -> Iterator[None]:
    """Shows what comes in for them while they sit there, above the line that they are writing."""
    from triagebot.errors import TriagebotError  # late: who gets one answer and goes needs none of it

    over = Event()

    def listen() -> None:
        import readline

        while not over.wait(_LOOKS):
            with busy:
                try:
                    news = waiting_client.news(person, language)
                except TriagebotError:  # the next message meets it, too, and tells them
                    continue
                if news is not None and not over.is_set():
                    out.write("\r\033[K")
                    show(news, out, styled=True)
                    out.write(f"\n> {readline.get_line_buffer()}")
                    out.flush()

    listener = Thread(target=listen, daemon=True, name="terminal-news")
    listener.start()
    try:
        yield
    finally:
        over.set()
        listener.join()


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
    """Write one reply: its lines wrapped, the question and what warns made bold where the terminal can."""
    width, written, sent_on = _width(styled), [], False
    for line in lines_of(reply.blocks):
        sent_on ^= line.mark == "cut"
        style = _BOLD if line.mark == "question" or line.head else _DIM if line.mark == "aside" else ""
        # What is to be sent on is not wrapped: it is copied as it is.
        text = line.plain if sent_on or line.mark == "cut" else _wrapped(line, width, style if styled else "")
        written.append(f"\n{text}" if line.gap else text)
    out.write("\n" + "\n".join(written) + "\n")
    out.flush()


def _width(by_hand: bool) -> int:
    """How wide lines may be, in characters: as the terminal is, or as is good to read."""
    return max(_NARROWEST, min(_WIDEST, get_terminal_size().columns - 1)) if by_hand else _WIDEST


def _wrapped(line: Line, width: int, style: str = "") -> str:
    """A line over as many rows as it takes; the next rows of an item hang under its text."""
    hangs = _ASIDE if line.mark == "aside" else len(line.item)
    text = textwrap.fill(
        line.plain,
        width,
        subsequent_indent=" " * hangs,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return f"{style}{text}{_PLAIN}" if style else text


def standard_streams() -> tuple[TextIO, TextIO]:
    """Standard input and output, reading whatever bytes come in as text."""
    for stream in (sys.stdin, sys.stdout):
        stream.reconfigure(encoding="utf-8", errors="replace")  # type: ignore[union-attr]
    return sys.stdin, sys.stdout
