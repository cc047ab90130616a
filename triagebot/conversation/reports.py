"""What somebody reports from a step of the work: a message and a step in, a report out.

Decided here and nowhere else:
- trouble is never success: of all that a message reports the gravest counts (`GRAVEST`), but for what is told as over
  ("it slipped, but now it holds");
- something that might happen is not trouble yet, and a question about success is not success, nor is one whether
  something broke that it did ("it clicked, is it broken?");
- which of the things that people say of a step ends it is the step's to say (`ends`), and which way is the wrong one
  (`turns`). "It came out" is right of a wheel and wrong of a tool.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal, cast

from triagebot.conversation.understanding import Words
from triagebot.conversation.understanding.phrasebook import Phrasebook, keys_of, phrasebook, tables
from triagebot.topics import ENDINGS, Ending, Step, Trouble

#: Trouble, the gravest first. Before `noise` comes what the message says of success.
GRAVEST: tuple[Trouble | Literal["broke"], ...] = (
    "broke", "worn", "cable", "left-on", "wrong-way", "whip-slips", "slips", "turns-along", "fell-out",
    "does-not-go-in", "nothing-moves", "noise",
)  # fmt: skip
#: Trouble whose words mean nothing else at any step.
HARM = frozenset({"broke", "worn", "cable"})
#: What is over when success is told behind it, and what is only if the message says so ("but now it holds").
_OVER, _OVER_BY_NOW = frozenset({"does-not-go-in", "nothing-moves"}), frozenset({"whip-slips", "slips", "turns-along"})

What = Trouble | Ending | Literal["hurt", "broke", "done", "calm"]

_CLAUSE = re.compile(r"([^.!?;,:\n]+)([.!?;,:\n]*)")
#: Words behind which another clause begins.
_JOINTS = re.compile(r"\b(?:but|until|although|though|however)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Report:
    """What is reported: a trouble, that the step is done, another thing that ends steps, or (`calm`) that a trouble is
    not there. `asked`: it is asked, or might only happen. `again`: not for the first time. `hurt`: somebody is."""

    what: What
    asked: bool = False
    again: bool = False
    hurt: bool = False


@dataclass(frozen=True, slots=True)
class _Said:
    """One thing that is said: in which clause, whether it is asked or only might be, and whether it is so by now."""

    what: What
    clause: int
    asked: bool
    maybe: bool
    by_now: bool


def report(text: str, row: Step, language: str, words: Words) -> Report | None:
    """What a message reports from a step; None where it says nothing of the work."""
    said = list(_all_said(text, row, language, words))
    hurt = any(each.what == "hurt" and not each.maybe for each in said)
    again = bool(_marks(keys_of(text, words), language, "again"))
    best = [each for each in said if each.what in ("done", *ENDINGS)]
    troubles = [each for each in said if each.what in GRAVEST and not _is_over(each, best, said)]
    if any(each.what == "done" for each in best):
        troubles = [each for each in troubles if each.what != "noise"]
    real = [each for each in troubles if not each.maybe]
    if real or hurt:
        return Report(_gravest(real) if real else "hurt", again=again, hurt=hurt)
    if troubles:
        return Report(_gravest(troubles), asked=True)
    best = [each for each in best if each.what == "done"] or best
    if best:
        return Report(best[-1].what, asked=best[-1].asked or best[-1].maybe)
    return Report("calm") if any(each.what == "calm" for each in said) else None


def told_of(text: str, language: str, words: Words) -> frozenset[str]:
    """All that the phrases of a message may mean, at whichever step."""
    book = phrasebook(language, "reported")
    found = (meant for clause, _ in _clauses(text) for _, meant in _phrases(book, keys_of(clause, words)))
    return frozenset().union(*found)


def _gravest(troubles: Iterable[_Said]) -> What:
    return min((each.what for each in troubles), key=GRAVEST.index)


def _is_over(trouble: _Said, best: list[_Said], said: list[_Said]) -> bool:
    """Whether success is told behind a trouble, in a clause of its own and as the last thing."""
    if not best or best[-1] is not said[-1] or best[-1].asked or best[-1].clause <= trouble.clause:
        return False
    if trouble.what == "nothing-moves" and best[-1].what == "seated":  # "it won't move, it's really tight"
        return False
    return trouble.what in _OVER or (trouble.what in _OVER_BY_NOW and best[-1].by_now)


def _all_said(text: str, row: Step, language: str, words: Words) -> Iterator[_Said]:
    book, clauses = phrasebook(language, "reported"), list(_clauses(text))
    openers, tags, denying = (frozenset(tables(language).get(name, ())) for name in ("openers", "tags", "denying"))
    whether = frozenset(tables(language).get("asking-whether", ()))
    ought = bool(_marks(keys_of(text, words), language, "ought"))
    for place, (clause, mark) in enumerate(clauses):
        keys = keys_of(clause, words)
        tagged = place + 1 < len(clauses) and clauses[place + 1][1] == "?" and _folded(clauses[place + 1][0]) in tags
        if mark == "?" and place + 1 < len(clauses) and _begins_with(clauses[place + 1][0], words, denying):
            continue  # what was asked is denied at once
        asked = mark == "?" or tagged or _begins(keys, book.little) in openers
        maybe = [] if ought else _marks(keys, language, "maybe")
        asks_whether = asked and not ought and _begins(keys, book.little) in whether
        by_now = bool(_marks(keys, language, "by-now"))
        for start, meant in _phrases(book, keys):
            what = _what(meant, row)
            if what is not None:
                only = (asks_whether and what in HARM) or any(before <= start for before in maybe)
                yield _Said(what, place, asked, only, by_now)


def _clauses(text: str) -> Iterator[tuple[str, str]]:
    """The clauses of a message, each with the mark behind it."""
    for found in _CLAUSE.finditer(text):
        *before, last = [part for part in _JOINTS.split(found[1]) if part.strip()] or [""]
        yield from ((part, "") for part in before)
        if last:
            yield last, "?" if "?" in found[2] else found[2][:1]


def _folded(clause: str) -> str:
    return " ".join(clause.lower().replace("'", "").replace("’", "").split())


def _begins_with(clause: str, words: Words, any_of: frozenset[str]) -> bool:
    return next(iter(keys_of(clause, words)), "") in any_of


def _begins(keys: list[str], little: frozenset[str]) -> str:
    return next((key for key in keys if key not in little), "")


def _phrases(book: Phrasebook, keys: list[str]) -> list[tuple[int, frozenset[str]]]:
    """What a clause means as a whole, else what its phrases do."""
    whole = book.whole_of(keys)
    return [(0, whole)] if whole else book.everywhere(keys)


def _marks(keys: list[str], language: str, mark: str) -> list[int]:
    """Where phrases with this mark begin."""
    return [start for start, meant in phrasebook(language, "marks").everywhere(keys) if mark in meant]


def _what(meant: frozenset[str], row: Step) -> What | None:
    """What a phrase means at a step."""
    known = set(meant)
    if row.turns is not None:
        known |= {"moved"} if f"went-{row.turns}" in meant else set()
        wrong = {"went-clockwise", "went-anticlockwise"} - {f"went-{row.turns}"}
        known |= {"wrong-way"} if wrong & meant else set()
    if at_once := next((each for each in ("hurt", *HARM) if each in known), None):
        return cast(What, at_once)
    endings = [each for each in ENDINGS if each in known]
    if set(row.ends) & known or (endings and not row.ends):
        return "done"
    for what in (*GRAVEST, *endings, "calm"):
        if what in known:
            return cast(What, what)
    return None
