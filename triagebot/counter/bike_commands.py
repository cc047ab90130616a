"""What the staff do with a bike that its owner left: take it in, put it away, take it up again, find it, label it, and
delete who it belongs to.

Rules of this file:
- "new" is a bike, its owner, when it is wanted, how they are reached, in this order, with commas between; when and how
  are known by their form, so they may stand anywhere behind the bike; the code of a case from the chat ties it to that;
- who a bike belongs to is deleted by "forget CODE", said twice; a case that was opened for the bike alone goes with it.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from triagebot.cases.labels import label_link, wanted_day
from triagebot.cases.loaded import rows_of, unfolded
from triagebot.cases.outdated import named_then
from triagebot.conversation import Case, open_case
from triagebot.counter.bench_answer import apart
from triagebot.counter.bench_line import read_line
from triagebot.counter.bikes import called, in_full, on_the_stand, put_away, put_on_the_stand
from triagebot.counter.case_commands import at_the_counter
from triagebot.counter.lending_commands import where_else
from triagebot.counter.times import until
from triagebot.counter.tool_lookup import tell_served, tools_in
from triagebot.counter.work import Attended, Work, answer, looks_like_a_code, named_case
from triagebot.messages.codes import new_code
from triagebot.shop import fold
from triagebot.store import StoreConflict
from triagebot.store.bikes import Bike, Bikes
from triagebot.store.forgetting import own_cases, take_back_messages
from triagebot.store.staff import Staff

if TYPE_CHECKING:
    from triagebot.store import StoredCase

#: So many bikes are listed at once.
MOST_LISTED = 12
#: How often another code is tried when one is in use already.
_CODES = 5
#: No name of a bike or a person is longer.
_LONGEST = 80
#: What a member's standing has of a bike that is to be forgotten, until it is said again.
ASKED_TO_FORGET = "asked-to-forget"
#: No day is said in more words.
_LONGEST_DAY = 4
_CONTACT_WITHIN = re.compile(r"\S+@\S+\.\S+|(?<!\w)\+?\d[\d()/-]*(?: [\d()/-]+)*\d{3,}(?!\w)")
_CONTACT = re.compile(r"\S+@\S+|\+?[\d\s()/.-]{6,}")


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What stands behind "new". `stored` is the case from the chat that it belongs to; `unknown` a code that no case
    has."""

    what: str
    whose: str = ""
    contact: str = ""
    note: str = ""
    wanted: datetime | None = None
    stored: "StoredCase | None" = None
    unknown: str = ""


def new_bike(work: Work, rest: str) -> Attended | None:
    """A bike is here. Where the words say what is seen of a wheel and no more: None, and with a bike on the stand they
    are asked which they mean."""
    if "," not in rest and read_line(work.guide, work.texts.language, rest).facts:
        return None if on_the_stand(work) is None else answer(work.texts("staff-bike-or-line"))
    said = taken_in(work, rest)
    if said.unknown:
        return answer(work.texts("staff-no-case", code=said.unknown.upper()))
    if not said.what:
        return answer(work.texts("staff-bike-how"))
    number, code = (said.stored.id, said.stored.code) if said.stored is not None else _opened(work)
    Bikes(work.tx).take_in(
        number, said.what, said.whose, said.contact, said.note, work.now, said.wanted, apart=said.stored is None
    )
    put_on_the_stand(work, number)
    work.did("took-in", number)
    bike = Bikes(work.tx).of(number)
    assert bike is not None, "it has just been written"
    return answer(work.texts("staff-bike-new", code=code, bike=in_full(work, bike)))


def taken_in(work: Work, rest: str) -> TakenIn:
    """What "new" says of a bike."""
    parts = rest.split(",") if "," in rest else _parts(work, rest)
    what, *others = [part.strip()[:_LONGEST] for part in parts]
    said = TakenIn(what.strip(" ."))
    for part in filter(None, others):
        said = _with(work, said, part)
    return said


def _parts(work: Work, rest: str) -> list[str]:
    """What "red kids bike ana tues" or "black mtb for Tomas he needs it wednesday" says, as between commas: the day is
    the last words that mean one, the owner stands behind "for" or, with a day behind it, is the word before that."""
    contact = _CONTACT_WITHIN.search(rest)
    words = (f"{rest[: contact.start()]} {rest[contact.end() :]}" if contact is not None else rest).split()
    place, end = _day(work, words)
    behind = [" ".join(words[place:end])] if place < len(words) else []
    reached = len(rest[: contact.start()].split()) if contact is not None else len(words)
    head, note = words[: min(place, reached)], [*words[reached:place], *words[end:]]
    behind += [contact[0].strip()] if contact is not None else []
    behind += [" ".join(note)] if note else []
    named = next((n for n in range(1, len(head) - 1) if fold(head[n]) in work.words.owned_by), 0)
    if named:
        return [" ".join(head[:named]), head[named + 1], *behind]
    common = work.guide.language(work.texts.language).words.common
    if behind and len(head) > 1 and not common(fold(head[-1])):
        return [" ".join(head[:-1]), head[-1], *behind]
    return [" ".join(head), *behind]


def _day(work: Work, words: list[str]) -> tuple[int, int]:
    """Where the day stands on which a bike is wanted: the last words, or what begins with a day's name before a note;
    behind all words where none is said."""
    last = next((n for n in range(1, len(words)) if _wanted(work, " ".join(words[n:])) is not None), None)
    if last is not None:
        return last, len(words)
    named = {*work.words.times["tomorrow"], *work.words.times["closing"], *(d for n in work.words.weekdays for d in n)}
    for place in range(1, len(words)):
        begins = place + 1 if fold(words[place]) in work.words.wanted_by else place
        if begins >= len(words) or fold(words[begins]) not in named:
            continue
        for end in range(min(place + _LONGEST_DAY, len(words)), begins, -1):
            if _wanted(work, " ".join(words[place:end])) is not None:
                return place, end
    return len(words), len(words)


def _with(work: Work, said: TakenIn, part: str) -> TakenIn:
    found = named_case(work.tx, part)
    if found is not None and not found[1]:
        return replace(said, stored=found[0])
    if _CONTACT.fullmatch(part):
        return replace(said, contact=part)
    if (wanted := _wanted(work, part)) is not None:
        return replace(said, wanted=wanted)
    if looks_like_a_code(part) and any(character.isdigit() for character in part):
        return replace(said, unknown=part)
    if not said.whose:
        return replace(said, whose=part)
    return replace(said, note=f"{said.note}, {part}" if said.note else part)


def _wanted(work: Work, part: str) -> datetime | None:
    """ "Thursday", "by Thursday", "for Friday"."""
    first, _, rest = part.partition(" ")
    bare = rest if fold(first) in work.words.wanted_by and rest else part
    return until(work.words, bare, work.now, work.shop.hours)


def _opened(work: Work) -> tuple[int, str]:
    """A case of its own for a bike whose owner has none."""
    for attempt in range(_CODES):
        case = open_case(work.guide, new_code(), work.shop.language, work.now)
        try:
            number = work.tx.open_case(_owner(case.code), case.code, case.topic, work.now)
        except StoreConflict:
            if attempt == _CODES - 1:
                raise
            continue
        work.tx.append(number, 0, rows_of(case.events, {}))
        return number, case.code
    raise AssertionError("unreachable")


def _owner(code: str) -> str:
    """Whose a case is that was opened for a bike: nobody's who writes, so it is called after its code."""
    return f"bike:{code}"


def away(work: Work, rest: str) -> Attended:
    """The bike on the stand is put away."""
    at = on_the_stand(work)
    if at is None:
        return answer(work.texts("staff-bike-none"))
    stored, bike = at
    put_away(work, stored.id)
    return answer(work.texts("staff-bike-away", code=stored.code, what=bike.what))


def bikes(work: Work, rest: str) -> Attended:
    """All that are here; or the one that is named is taken up."""
    if not rest:
        rows = Bikes(work.tx).here()
        head = work.texts("staff-bikes-head", count=len(rows))
        return answer("\n".join([head, *rows_of_bikes(work, rows)]))
    found = [bike for bike in _found(work, rest) if bike.done is None]
    if len(found) != 1:
        return _several(work, found, rest)
    put_on_the_stand(work, found[0].case)
    return answer(work.texts("staff-bike-up", code=found[0].code, bike=in_full(work, found[0])))


def find(work: Work, rest: str) -> Attended:
    """A case by its code, or by the bike or the person that it belongs to; or a tool."""
    named = named_case(work.tx, rest)
    if named is not None and not named[1] and (told := at_the_counter(work, named[0].code)) is not None:
        return told
    found = _found(work, rest)
    if len(found) == 1 and (told := at_the_counter(work, found[0].code)) is not None:
        return told
    return _several(work, found, rest)


def _several(work: Work, found: list[Bike], rest: str) -> Attended:
    if not found and (tools := tools_in(work.guide, work.texts, work.words, rest)):
        return Attended(tell_served(work.guide, work.texts, tools, rest, partial(where_else, work)))
    if not found:
        return answer(work.texts("staff-find-none", said=rest))
    return answer("\n".join([work.texts("staff-find-several", count=len(found)), *rows_of_bikes(work, found)]))


def _found(work: Work, rest: str) -> list[Bike]:
    """The bikes whose case, name, owner, contact or note is meant, the open ones first."""
    named = named_case(work.tx, rest)
    if named is not None and not named[1]:
        bike = Bikes(work.tx).of(named[0].id)
        return [bike] if bike is not None else []
    said = fold(rest)
    both = [bike for bike in Bikes(work.tx).all() if said and said in _all_words(bike)]
    return sorted(both, key=lambda bike: bike.done is not None)


def _all_words(bike: Bike) -> str:
    return fold(" ".join((bike.what, bike.whose, bike.contact, bike.note)))


def rows_of_bikes(work: Work, rows: Iterable[Bike]) -> list[str]:
    """Bikes, a line each."""
    rows = list(rows)
    told = [
        work.texts(
            "staff-bikes-row",
            code=bike.code,
            called=called(work, bike),
            wanted=wanted_day(work.guide, work.texts, bike) or "none",
            known=_known(work, bike) or "none",
        )
        for bike in rows[:MOST_LISTED]
    ]
    if len(rows) > MOST_LISTED:
        told.append(work.texts("staff-queue-more", count=len(rows) - MOST_LISTED))
    return told


def _known(work: Work, bike: Bike) -> str:
    """What its wheel was found to have, or that it is closed."""
    if bike.done is not None:
        return work.texts("staff-bikes-done")
    stored = work.tx.case(bike.case)
    return "" if stored is None else _named(work, unfolded(stored).case)


def _named(work: Work, case: Case) -> str:
    texts = work.texts
    return apart(texts, [texts(f"fastening-{each}.short") for each in named_then(case) if _has(work, each)])


def _has(work: Work, fastening: str) -> bool:
    return work.texts.has(f"fastening-{fastening}", "short")


def label(work: Work, stored: "StoredCase", rest: str) -> Attended:
    """Where the label of a bike is printed."""
    if Bikes(work.tx).of(stored.id) is None:
        return answer(work.texts("staff-no-bike", code=stored.code))
    if work.guide.address is None:
        return answer(work.texts("staff-label-command", code=stored.code))
    url = label_link(work.tx, stored.id, work.guide.address, work.now)
    return answer(work.texts("staff-label", code=stored.code, url=url))


def forget(work: Work, stored: "StoredCase", rest: str) -> Attended:
    """Deletes who a bike belongs to, and the case that was opened for it alone."""
    bike = Bikes(work.tx).of(stored.id)
    if bike is None:
        return answer(work.texts("staff-no-bike", code=stored.code))
    if work.member.standing.get(ASKED_TO_FORGET) != stored.id:
        Staff(work.tx).stand(work.member, {**work.member.standing, ASKED_TO_FORGET: stored.id})
        return answer(work.texts("staff-forget-sure", code=stored.code, called=called(work, bike)))
    Staff(work.tx).stand(work.member, {})
    put_away(work, stored.id)
    if not bike.apart:
        Bikes(work.tx).forget(stored.id)
        work.tx.forgot = True
        return answer(work.texts("staff-forgot-owner", code=stored.code))
    person = work.tx.lookup_hash(_owner(stored.code))
    take_back_messages(work.tx, person, own_cases(work.tx, person))
    work.tx.forget(_owner(stored.code))
    return answer(work.texts("staff-forgot", code=stored.code))
