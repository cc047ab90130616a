"""Commands about tools, and the one that begins like them: each with what does it."""

from collections.abc import Callable
from functools import partial

from triagebot.counter.duty import off_duty
from triagebot.counter.keeping import keep, unkeep
from triagebot.counter.lending_changes import extend
from triagebot.counter.lending_commands import found, gone, lend, returned
from triagebot.counter.work import Attended, Work

TOOLWORK: dict[str, Callable[[Work, str], Attended | None]] = {
    "lend": lend,
    "returned": returned,
    "extend": extend,
    "keep": keep,
    "unkeep": unkeep,
    "off-duty": off_duty,
    "lost": partial(gone, "lost"),
    "broken": partial(gone, "broken"),
    "sold": partial(gone, "sold"),
    "found": found,
}
