"""What a line about a case, the queue or who is on duty means that is no command as it stands ("K7M-4QX mine").

Rules of this file:
- with a case's code, the words beside it say what is done; words that say nothing of the kind are asked about, for they
  may be meant for the customer;
- without one, only the queue, the next case, and who is on duty are spoken of.
"""

import re

from triagebot.counter.asked_back import MOST_OFFERED, ask_back
from triagebot.counter.duty import on_duty
from triagebot.counter.line_kinds import kinds_of_line
from triagebot.counter.work import Attended, Work, answer, named_case
from triagebot.messages.codes import read_code
from triagebot.shop import fold
from triagebot.store.bikes import Bikes
from triagebot.store.staff import Member, Staff

#: No phrase has more words.
_LONGEST = 5
#: "to" and a name.
_NAMED = 3
#: What may be meant of a case, and that of it which goes on with the words.
_FOR_A_CASE = ("claim", "release", "snooze", "close", "reopen", "case", "note", "say")
_WITH_WORDS = ("close", "note", "say", "snooze")
#: A deed beside so many words that say something else is asked about, where these are likely of another kind.
_SAYS_MORE, _LIKELY = 2, 0.25


def meant_of_case(work: Work, text: str, code: str, when: str = "") -> str | Attended | None:
    """What a line with a code in it comes to: the command, or what is asked back. `when` is the time that it names."""
    before, after = _apart(text, code)
    ahead = [word for word in fold(before).split() if word not in work.words.before_codes]
    if ahead[:1] and ahead[0] in work.words.tells and all(word in work.words.told for word in ahead[1:]) and after:
        while (clause := after.partition(" "))[2] and fold(clause[0]) in work.words.that_clause:
            after = clause[2]
        return f"say {code} {after}"
    if (name := _for_whom(work, before, after)) is not None:
        return hand_over(work, code, name)
    if fold(before).split()[:1] and fold(before).split()[0] in work.words.inquires:
        return f"case {code}"
    words = fold(f"{before} {after}").split()
    found = [(command, phrase) for phrase, command in work.words.of_a_case.items() if _stands(words, phrase)]
    commands = list(dict.fromkeys(c for c, _ in sorted(found, key=lambda row: -len(row[1].split()))))
    rest = f"{before} {after}"
    for _, phrase in sorted(found, key=lambda row: -len(row[1])):
        rest = _without(rest, phrase)
    rest = _without_fillers(work, rest)
    if not commands:
        whole = " ".join(f"{before} {after}".split())
        sleeps = [f"snooze {code} {when}"] if when else []
        return ask_back(work, [*sleeps, f"say {code} {whole}", f"case {code}"]) if whole.strip(" ?!.") else None
    command = commands[0]
    if command == "hand":
        return hand_over(work, code, rest)
    if command in ("claim", "release", "reopen") and (other := _rather(work, text, command, rest)):
        whole = " ".join((after or before).split())
        return ask_back(work, [f"{other} {code}{f' {whole}' if other in _WITH_WORDS else ''}", f"{command} {code}"])
    if command in ("case", "claim", "release", "reopen"):
        return f"{command} {code}"
    return f"{command} {code} {rest}".strip()


def _rather(work: Work, text: str, command: str, rest: str) -> str:
    """The other command that a line is likelier of, where it says more than one; else ""."""
    if len(rest.split()) < _SAYS_MORE:
        return ""
    kinds = kinds_of_line(work, text)
    other = next((kind for kind in kinds.likely(_LIKELY) if kind in _FOR_A_CASE), "")
    return other if other != command else ""


def meant_of_queue(work: Work, text: str) -> str | Attended | None:
    """What a line without a code says of the queue or of who is on duty; None for any other."""
    said = " ".join(fold(text).split())
    command = work.words.of_the_queue.get(said)
    if command is None and len(said) <= 40:
        padded = f" {said} "
        near = [(phrase, each) for phrase, each in work.words.of_the_queue.items() if f" {phrase} " in padded]
        rest = [
            word
            for phrase, _ in near
            for word in _without(said, phrase).split()
            if word not in work.words.queue_fillers
        ]
        command = near[0][1] if near and not rest else None
    return on_duty(work) if command == "who-is-on" else command


def to_whom(work: Work, said: str) -> Attended | None:
    """Which of the member's cases "tell him four is fine" is for, asked back; None where nobody is told ("tell me"), or
    they have none."""
    first, _, text = said.partition(" ")
    if fold(first) in work.words.articles:
        first, _, text = text.partition(" ")
    theirs = [bike.code for bike in Bikes(work.tx).here() if not bike.apart and fold(first) in fold(bike.whose).split()]
    held = [work.tx.code_of(ticket.case) for ticket in work.tickets.held_by(work.member.person)]
    codes = (theirs or held)[:MOST_OFFERED]
    coded = any(named_case(work.tx, word) is not None for word in text.split())
    common = work.guide.language(work.texts.language).words.common
    named = first.isalpha() and not common(fold(first)) and fold(first) not in work.words.senses
    somebody = fold(first) in work.words.told or named
    if not somebody or not text or not codes or coded:
        return None
    if named and fold(first) not in work.words.told and not theirs:
        shown = work.texts("staff-between").join(codes)
        return answer(work.texts("staff-tell-nobody", name=first, codes=shown, count=len(codes)))
    return ask_back(work, [f"say {code} {text}" for code in codes])


def is_for_another(work: Work, text: str, code: str) -> bool:
    """Whether a line gives a case to another member."""
    return _for_whom(work, *_apart(text, code)) is not None


def _for_whom(work: Work, before: str, after: str) -> str | None:
    """Who a case goes to: "CODE to Ruth", "claim CODE for Ruth"; None where that is not said, or it is the member."""
    said = fold(after).split()
    claims = work.words.of_a_case.get(fold(before)) == "claim"
    given = not before.strip() and said[:1] and said[0] in work.words.lent_to
    if not (given or (claims and said[:1] and said[0] in (*work.words.lent_to, *work.words.wanted_by))):
        return None
    name = after.split(maxsplit=1)[1] if len(said) > 1 else ""
    own = fold(name) in (fold(work.member.name), "me", "myself")
    return None if own or not name or (given and len(said) > _NAMED) else name


def hand_over(work: Work, code: str, rest: str) -> Attended:
    """Gives a case to another member."""
    stored = work.tx.case_by_code(code)
    first = re.split(r"[,;.:]", rest.strip(" ,.:"))[0]
    name = " ".join(word for word in first.split() if fold(word) not in work.words.lent_to).strip(" ,.!")
    member = _called_so(work, name)
    if stored is None or member is None:
        names = work.texts("staff-between").join(each.name for each in Staff(work.tx).members())
        return answer(work.texts("staff-hand-whom", name=name or "none", names=names))
    ticket = work.tickets.of(stored.id)
    if not work.may(ticket):
        holder = ticket.holder if ticket is not None else None
        return answer(work.texts("staff-not-yours", name=work.name_of(holder), code=code))
    work.tickets.open(stored.id, "staff", work.now)
    work.tickets.release(stored.id)
    work.tickets.claim(stored.id, member.person)
    work.did("handed", stored.id, to=member.name)
    return answer(work.texts("staff-handed", code=code, name=member.name))


def _called_so(work: Work, name: str) -> Member | None:
    """The member of this name; the owner, where that is what they are called and there is one."""
    words = [word for word in fold(name).split() if word not in work.words.articles]
    owners = [each for each in Staff(work.tx).members() if each.role == "owner"]
    if words == [fold(work.texts("staff-called-owner"))] and len(owners) == 1:
        return owners[0]
    return Staff(work.tx).named(name)


def _apart(text: str, code: str) -> tuple[str, str]:
    """What stands before the code and behind it."""
    words = text.split()
    for place in range(len(words)):
        for length in (1, 2):
            if read_code(" ".join(words[place : place + length]).strip(",.:;?!")) == code:
                return " ".join(words[:place]), " ".join(words[place + length :])
    return text, ""


def _stands(words: list[str], phrase: str) -> bool:
    parts = phrase.split()
    return any(words[place : place + len(parts)] == parts for place in range(len(words)))


def _without(text: str, phrase: str) -> str:
    pattern = r"\W+".join(map(re.escape, phrase.split()))
    return re.sub(rf"(?<!\w){pattern}(?!\w)", " ", text.replace("’", "").replace("'", ""), count=1, flags=re.IGNORECASE)


def _without_fillers(work: Work, rest: str) -> str:
    words = rest.strip(" ,.;:!?").split()
    while words and fold(words[0]) in work.words.case_fillers:
        words = words[1:]
    return " ".join(words)
