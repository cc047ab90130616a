"""`python -m tests.counter.screen [FILE]`: a day of somebody who works at the shop, as their phone shows it, with the
customer beside it. Written out from what went out; nothing is made up."""

from pathlib import Path

from tests.counter.shop import Shop
from tests.written import quoted, write_out

#: Who says what, in order; CODE is the customer's case.
DAY = (
    ("ada", "INVITATION"),
    ("ada", "12 spl 23.4 stays"),
    ("ada", "4n 40"),
    ("ada", "12 spl"),
    ("ada", "2"),
    ("ada", "no name on it"),
    ("ada", "3 outer 40 turns"),
    ("ada", "coasts"),
    ("ada", "cass 12 spl 22,8"),
    ("ada", "dunno"),
    ("ada", "4n 24 worn"),
    ("ada", "9 notches 52"),
    ("ada", "12 spl 2.3"),
    ("ada", "which does the small four fit"),
    ("ada", "tools for 4 notch 24-25"),
    ("ada", "whats the brumel"),
    ("bob", "hello"),
    ("bob", "it stays still, 4 notches"),
    ("bob", "about 40 mm"),
    ("bob", "person"),
    ("ada", "queue"),
    ("ada", "case CODE"),
    ("ada", "claim CODE"),
    ("eve", "INVITATION"),
    ("eve", "claim CODE"),
    ("ada", "canned"),
    ("ada", "say CODE bring-it"),
    ("ada", "snooze CODE until 15:00"),
    ("ada", "queue"),
    ("bob", "I come at four"),
    ("ada", "close"),
    ("ada", "close 12 spl fitted"),
    ("ada", "close 4n 40 fitted"),
    ("ada", "history CODE"),
    ("ada", "case CODE"),
    ("ada", "queue"),
    ("ada", "lend small four to Ben until tomorrow"),
    ("ada", "lend crab claw to CODE for 2h"),
    ("ada", "lend odd twelve to Ben"),
    ("ada", "out"),
    ("ada", "4n 24 calliper"),
    ("ada", "returned small four"),
    ("ada", "today"),
    ("olga", "OWNER"),
    ("olga", "today"),
    ("ada", "asdf"),
    ("ada", "try"),
    ("ada", "12 splines"),
    ("ada", "done"),
    ("ada", "help"),
)


def written(folder: Path) -> str:
    shop, lines = Shop(folder), ["# A day at the shop", ""]
    seen: dict[str, int] = {}

    def news(who: str) -> None:
        from triagebot.conversation import plain

        for shown in shop.recorded.screens[who][seen.get(who, 0) :]:
            lines.extend([f"**The bot, to {who.capitalize()}**", "", *quoted(plain(shown.reply)), ""])
        seen[who] = len(shop.recorded.screens[who])

    for who, text in DAY:
        said = text
        if text == "INVITATION":
            said = shop.invitation(name=who.capitalize())
        elif text == "OWNER":
            said = shop.invitation("owner", who.capitalize())
        elif "CODE" in text:
            said = text.replace("CODE", shop.code("bob"))
        lines += [f"**{who.capitalize()}**", "", said, ""]
        shop.says(who, said)
        news(who)
        for other in ("ada", "bob", "eve", "olga"):
            news(other)
    shop.end()
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    write_out(written)
