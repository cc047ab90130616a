"""Who is on duty: now, from a time on, until one, or between two ("off duty from 3", "off duty 45 min", "off 2-3").

What a member's standing has of it is true, false, or from when and until when they are off.
"""

import re
from datetime import datetime

from triagebot.cases.tickets import OFF, is_off
from triagebot.counter.times import until
from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold
from triagebot.store.staff import Staff, Tickets


def off_duty(work: Work, rest: str = "") -> Attended | None:
    """A member goes off duty; None where what stands behind it is no time."""
    if (made := _between(work, rest)) is not None:
        return made
    first, _, behind = rest.strip().partition(" ")
    later = fold(first) in work.words.duty_from
    moment = _moment(work, behind if later else rest) if rest.strip() else None
    if rest.strip() and moment is None:
        return None
    if moment is None:
        _stand(work, off=True)
        return answer(work.texts("staff-off-duty"))
    _stand(work, off={"from": moment.isoformat()} if later else {"until": moment.isoformat()})
    return answer(work.texts("staff-off-duty-from" if later else "staff-off-duty-until", at=work.when(moment)))


def off_between(work: Work, text: str) -> Attended | None:
    """A line that says from or until when a member is off ("off 2-3", "lunch from 12 to 1", "off from 3"); None for
    any other."""
    said = " ".join(fold(text).split())
    first = next((each for each in work.words.off_between if said.startswith(f"{each} ")), None)
    rest = " ".join(text.split())[len(first) :].strip() if first is not None else ""
    if not any(sign.isdigit() for sign in rest):
        return None
    begins = any(fold(rest).startswith(f"{each} ") for each in (*work.words.duty_from, *work.words.duty_until))
    return _between(work, rest) or (off_duty(work, rest) if begins else None)


def _between(work: Work, text: str) -> Attended | None:
    """Two times of day with a word or a dash between them; where the first is over, they are off at once."""
    from_words, until_words = "|".join(work.words.duty_from), "|".join(work.words.duty_until)
    match = re.fullmatch(
        rf"(?:(?:{from_words}) )?(\d[\w:.]*) ?(?:[-–]| (?:{until_words}) ) ?(\d[\w:.]*)", text.strip(" .!")
    )
    if match is None:
        return None
    begins, ends = (_moment(work, said) for said in match.groups())
    if begins is None or ends is None:
        return None
    if ends <= begins:
        _stand(work, off={"until": ends.isoformat()})
        return answer(work.texts("staff-off-duty-until", at=work.when(ends)))
    _stand(work, off={"from": begins.isoformat(), "until": ends.isoformat()})
    return answer(work.texts("staff-off-duty-between", begins=work.when(begins), ends=work.when(ends)))


def back_on_duty(work: Work) -> Attended:
    """A member is on duty again."""
    _stand(work, off=False)
    return answer(work.texts("staff-on-duty", waiting=Tickets(work.tx).waiting()))


def on_duty(work: Work) -> Attended:
    """Who is on duty, and who is not."""
    members = Staff(work.tx).members()
    on = [each.name for each in members if not is_off(each, work.now)]
    off = [each.name for each in members if is_off(each, work.now)]
    between = work.texts("staff-between")
    return answer(work.texts("staff-who-is-on", on=between.join(on) or "none", off=between.join(off) or "none"))


def _moment(work: Work, text: str) -> datetime | None:
    hours = work.guide.shop.hours
    return until(work.words, text, work.now, hours) or until(
        work.words, f"{next(iter(work.words.times['until']))} {text}", work.now, hours
    )


def _stand(work: Work, *, off: object) -> None:
    Staff(work.tx).stand(work.member, {**work.member.standing, OFF: off})
