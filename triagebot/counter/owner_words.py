"""What an owner does at the machine that runs the bot and not in a chat: who is staff, the report, backups. A line that
asks for one of these is answered with the command.
"""

from decimal import Decimal

from triagebot.conversation.shop_offers import money
from triagebot.counter.work import Attended, Work, answer, is_ordinary
from triagebot.shop import fold
from triagebot.store.loans import Loans
from triagebot.store.staff import Staff


def owner_words(work: Work, text: str) -> Attended | None:
    """The command that does what a line asks for; None for any other line."""
    said = " ".join(text.replace("’", "'").strip(" .!?").split())
    for kind, patterns in work.words.owner_lines.items():
        for pattern in patterns:
            match = pattern.fullmatch(said)
            if match is None:
                continue
            name = (match.groupdict().get("name") or "").strip()
            if name and not _may_be_called(work, name, member=kind == "remove"):
                continue
            if kind == "deposits":
                return answer(_deposits(work))
            shown = name if name[:1].isupper() else name.title()
            return answer(work.texts(f"staff-owner-{kind}", name=shown or "NAME", role=work.member.role))
    return None


def _may_be_called(work: Work, name: str, *, member: bool) -> bool:
    """Whether somebody is called so; with `member`, one of the staff."""
    members = {fold(each.name) for each in Staff(work.tx).members()}
    return fold(name) in members or not (member or any(is_ordinary(work, fold(word)) for word in name.split()))


def _deposits(work: Work) -> str:
    """How much customers have left for the tools that they have now."""
    lent = [work.shop.tool_for(loan.tool) for loan in Loans(work.tx).out() if not loan.why]
    paid = [own.deposit for own in lent if own is not None and own.deposit]
    total = money(work.guide, work.texts, sum(paid, Decimal(0)))
    return work.texts("staff-owner-deposits", count=len(paid), money=total)
