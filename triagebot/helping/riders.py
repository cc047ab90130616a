"""Cases that mentors open for riders: opened, named, joined, listed."""

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.cases.loaded import LoadedCase, rows_of, unfolded
from triagebot.conversation import Case, Choice, Guide, Message, Reply, follow, look, open_case, turn
from triagebot.conversation.blocks import Offers, Question, Remark
from triagebot.conversation.mentoring import helping, to_mentor
from triagebot.conversation.reply import told
from triagebot.helping.seats import Here, Spoken, answer, called
from triagebot.helping.words import cleaned, free
from triagebot.store import StoreConflict
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction
    from triagebot.store.parties import Party

#: The buttons under the question whether to join.
JOIN, DECLINE = "mentor-join", "mentor-decline"
#: How often another case code is tried when one is in use already.
_CODES = 5


def opened(here: Here, name: str) -> Spoken:
    """A case for a rider elsewhere; "" for one that has no name yet."""
    from triagebot.store.parties import Party  # late: it needs the database library

    for attempt in range(_CODES):
        begun = open_case(here.guide, here.fresh(), here.language, here.now)
        case = follow(begun, helping(begun))
        try:
            number = here.tx.open_case(here.person, case.code, case.topic, case.opened, "mentor")
            break
        except StoreConflict:
            if attempt == _CODES - 1:
                raise
    here.tx.append(number, 0, rows_of(case.events, {}))
    party = Party(number, case.code, here.lookup_hash, "mentor")
    if name:
        return named(here, LoadedCase(number, case), party, name)
    here.parties.change(party)
    return Spoken(case, answer(here.texts()("mentor-name-it")), number)


def named(here: Here, held: LoadedCase, party: "Party", name: str) -> Spoken:
    """The case gets its name, and the first question is put."""
    party = renamed(here, party, name)
    taken = turn(here.guide, held.case, Message(choice="resume"), here.now)
    here.tx.append(held.number, len(held.case.events), rows_of(taken.events, {}))
    reply = to_mentor(here.guide, taken.case, party.name, taken.reply, joined=False, ended=False)
    first = here.texts(held.case.language)("mentor-opened", name=party.name)
    return Spoken(taken.case, reply.first(Remark(first, "mentor-opened")), held.number)


def renamed(here: Here, party: "Party", name: str) -> "Party":
    """The case is called so from now on, or nearly so where another case of this mentor's has the name."""
    party = replace(party, name=free(cleaned(name), here.parties.helped(party.person), party.case))
    here.parties.change(party)
    return party


def consent(guide: Guide, case: Case) -> Reply:
    """Who sees what, and whether that is all right."""
    texts = guide.language(case.language).texts
    offers = (Choice(JOIN, texts("mentor-consent-yes")), Choice(DECLINE, texts("mentor-consent-no")))
    return told(texts("mentor-consent", shop=guide.shop.name), offers=offers)


def left_alone(guide: Guide, case: Case, now: datetime, why: str) -> Reply:
    """What the rider reads whose mentor takes no part any more, with what is open."""
    texts, reply = guide.language(case.language).texts, look(guide, case, now)
    stands = () if case.now.outcome not in (None, "stopped") else reply.said
    return replace(reply, blocks=(Remark(texts(why), why), *stands, *reply.of(Question, Offers)))


def listed(here: Here, language: str) -> str | None:
    """A mentor's cases, a line each; None for a person who helps nobody."""
    helped, texts = here.parties.helped(here.lookup_hash), here.texts(language)
    if not helped:
        return None
    rows = [
        texts(
            "mentor-cases-row",
            name=called(texts, party),
            code=party.code,
            stands=_stands(texts, case_of(here.tx, party).case),
        )
        for party in helped
    ]
    return "\n".join([texts("mentor-cases-head"), *rows, texts("mentor-cases-foot")])


def case_of(tx: "Transaction", party: "Party") -> LoadedCase:
    """The case in which somebody takes part."""
    stored = tx.case(party.case)
    assert stored is not None, "a party goes with its case"
    return unfolded(stored)


def _stands(texts: Texts, case: Case) -> str:
    if case.now.outcome is not None:
        return texts(f"mentor-stands-{case.now.outcome}")
    if case.now.question is None:
        return texts("mentor-stands-begun")
    return texts("mentor-stands-asked", question=texts(f"question-{case.now.question}.name"))
