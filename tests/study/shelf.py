"""Invented cases, said by a scripted person to the guide that ships, and a store that holds them."""

from collections.abc import Iterable
from datetime import timedelta
from pathlib import Path

from tests.conversation.guides import shipped_guide
from tests.store.fresh import open_fresh
from triagebot.cases.loaded import rows_of
from triagebot.conversation import Case, Guide
from triagebot.conversation.case import follow
from triagebot.conversation.events import Closed
from triagebot.testing import START, Clock, ScriptedPerson

FOUR_NOTCH = ("the wheel is out, the middle stays still", "four notches", "24.0 mm by calliper", "6 sprockets")
TWELVE = ("the wheel is out, the middle turns with the sprockets", "12 splines", "23.4 mm by calliper", "9 sprockets")


def said(
    *texts: str, code: str = "AAA-001", guide: Guide | None = None, presses: Iterable[str] = (), days: int = 0
) -> Case:
    """A case in which these texts were said one after another, then these choices pressed; begun `days` later."""
    clock = Clock(START + timedelta(days=days))
    person = ScriptedPerson(guide or shipped_guide(), clock, code)
    person.says(*texts)
    for choice in presses:
        person.presses(choice)
    return person.case


def closed(case: Case, fastening: str | None, fitted: bool | None = None) -> Case:
    """The case, closed an hour later."""
    return follow(case, Closed(case.touched + timedelta(hours=1), fastening, fitted, "Ada"))


def keep(folder: Path, cases: Iterable[Case]) -> Path:
    """Put cases into a new store in `folder`, as a delivery does; gives where its key lies."""
    key = folder.parent / "shelf.key"
    with open_fresh(folder, key) as store, store.begin() as tx:
        for number, case in enumerate(cases):
            kept = tx.open_case(f"terminal:p{number}", case.code, case.topic, case.opened)
            tx.append(kept, 0, rows_of(case.events, {"message": f"m{number}", "press": "a press"}))
    return key
