"""Why a message was read as it was: which rule made each reading, what became of it, and on which words it stands.

The reader keeps nothing for this. While it reads, every reading that it makes is watched (`sys.setprofile`): the
function and line that made it, those that made it less sure, and the first that left it out. So a rule that somebody
adds tomorrow is seen without a word of its own; and nobody pays for it who does not ask.
"""

import dataclasses
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType
from typing import Any, TypeVar

from triagebot.conversation.enquiries import Enquiry
from triagebot.conversation.enquiring import enquired
from triagebot.conversation.understanding import Setting, plain_answer, reader
from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.counts_and_sizes import Doubt
from triagebot.conversation.understanding.finding import find
from triagebot.conversation.understanding.joining import Quantity
from triagebot.conversation.understood import Meaning
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, SizeReading, UnsureReading

_ROOM = str(Path(reader.__file__).parent)
_PLAIN = sys.modules[plain_answer.__module__].__file__
_UNDERSTAND = reader.understand.__code__
#: What rules make of words: each is a value that `replace` makes anew when a later rule knows more.
_MADE: dict[CodeType, type] = {kind.__init__.__code__: kind for kind in (Found, Doubt, Quantity)}
_REPLACE, _FIND, _ENQUIRED = dataclasses.replace.__code__, find.__code__, enquired.__code__
_READINGS = (BoundReading, ChoiceReading, CountReading, SizeReading, UnsureReading)


@dataclass(frozen=True, slots=True)
class Step:
    """One rule's part in a reading: `read`, `changed` or `left out`, the rule, and where it stands."""

    what: str
    rule: str
    place: str
    value: Any = field(repr=False)


@dataclass(slots=True)
class Thread:
    """One reading from the rule that made it to the last that changed it."""

    steps: list[Step]

    @property
    def value(self) -> Any:
        """The reading as it stands at the end."""
        return next(step.value for step in reversed(self.steps) if step.what != "left out")


@dataclass(slots=True)
class Look:
    """The text read once: a turn may read a message more than once, with another question open or none."""

    text: str
    setting: Setting
    threads: list[Thread] = field(default_factory=list)
    meaning: Meaning = field(default_factory=Meaning)


T = TypeVar("T")


def watched(act: Callable[[], T]) -> tuple[T, list[Look], Enquiry | None]:
    """What `act` returns, each time that a text was read meanwhile, and what was asked in between."""
    watcher = _Watcher()
    before = sys.getprofile()
    sys.setprofile(watcher.see)
    try:
        return act(), watcher.looks, watcher.enquiry
    finally:
        sys.setprofile(before)


class _Watcher:
    """Sees every call of the reader's own functions and every value that they make."""

    def __init__(self) -> None:
        self.looks: list[Look] = []
        self.enquiry: Enquiry | None = None
        self._open: list[Look] = []
        self._threads: dict[int, Thread] = {}
        self._given: dict[FrameType, list[Any]] = {}

    def see(self, frame: FrameType, event: str, result: Any) -> None:
        code = frame.f_code
        if event == "call":
            if code is _UNDERSTAND:
                self._open.append(Look(frame.f_locals["text"], frame.f_locals["setting"]))
                self.looks.append(self._open[-1])
            elif self._open and code in _MADE:
                self._make(frame)
            elif self._open and code.co_filename.startswith(_ROOM):
                arguments = [frame.f_locals[name] for name in code.co_varnames[: code.co_argcount]]
                self._given[frame] = [value for argument in arguments for value in _listed(argument)]
        elif event == "return" and code is _ENQUIRED:
            self.enquiry = result[0] if result else None
        elif event == "return" and self._open:
            given = self._given.pop(frame, [])
            if code is _UNDERSTAND:
                self._open.pop().meaning = result or Meaning()
            elif code.co_filename == _PLAIN and code.co_name.startswith("_") and isinstance(result, _READINGS):
                found = Found(result, 0, -1)
                self._open[-1].threads.append(Thread([Step("read", *_rule(frame), found)]))
            elif code is _FIND:
                mine = [thread.value for thread in self._open[-1].threads if isinstance(thread.value, Found)]
                self._leave_out(frame, mine, result)
            elif given and _holds_readings(result):
                self._leave_out(frame, given, result)

    def _make(self, frame: FrameType) -> None:
        value, by, what = frame.f_locals["self"], frame.f_back, "read"
        thread = Thread([])
        if by is not None and by.f_code is _REPLACE:
            known = self._threads.get(id(by.f_locals["obj"]))
            thread, what, by = known or thread, "changed" if known else "read", by.f_back
        if not thread.steps:
            self._open[-1].threads.append(thread)
        if by is not None:
            thread.steps.append(Step(what, *_rule(by), value))
        self._threads[id(value)] = thread

    def _leave_out(self, frame: FrameType, given: list[Any], result: Any) -> None:
        """Note the readings that a rule was given and did not hand on."""
        kept = {id(self._threads.get(id(value))) for value in _listed(result)}
        for value in given:
            thread = self._threads.get(id(value))
            if thread is not None and id(thread) not in kept and thread.steps[-1].what != "left out":
                thread.steps.append(Step("left out", *_rule(frame), value))


def _listed(value: Any) -> Iterator[Any]:
    """The readings in a list, or in the lists of a tuple."""
    for each in value if isinstance(value, tuple) else (value,):
        yield from (item for item in each if isinstance(item, Found)) if isinstance(each, list) else ()


def _holds_readings(result: Any) -> bool:
    """Whether a rule hands readings on, be it none: a list of nothing else, alone or in a tuple."""
    lists = [each for each in (result if isinstance(result, tuple) else (result,)) if isinstance(each, list)]
    return any(all(isinstance(item, Found) for item in each) for each in lists)


def _rule(frame: FrameType) -> tuple[str, str]:
    """The function that a frame runs, a comprehension counted to the function it stands in; and file and line."""
    line = frame.f_lineno
    while frame.f_code.co_name.startswith("<") and frame.f_back is not None:
        frame = frame.f_back
    return frame.f_code.co_name, f"{Path(frame.f_code.co_filename).name}:{line}"
