"""Who is on duty: now, from a time on, or until one ("off duty from 3", "off duty 45 min").

What a member's standing has of it is true, false, or from when and until when they are off.
"""

from datetime import datetime

from triagebot.cases.tickets import OFF, is_off
from triagebot.counter.times import until
from triagebot.counter.work import Attended, Work, answer
from triagebot.shop import fold
from triagebot.store.staff import Staff, Tickets


def off_duty(work: Work, rest: str = "") -> Attended | None:
    """A member goes off duty; None where what stands behind it is no time."""
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
