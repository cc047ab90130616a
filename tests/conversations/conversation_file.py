"""Written-out conversations: read from a file, held with the bot, written out again.

A file is what somebody would read aloud. Its head says what it shows and how it must end:

    The miscounter, who gets the number right at the second try.
    ends: answer remover-12-spline

Then come what the person says (`> …`), what the bot says (as it is), and time that passes (`(3 days later)`).
To write the bot's part anew after a change of wording: `python -m tests.conversations.conversation_file`, then read it.
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from triagebot.conversation import Case, Guide, Message, Reply, greet, load_guide, open_case, plain, turn
from triagebot.shop import built_in_shop, load_shop
from triagebot.topics import built_in_topic, load_topic

FOLDER = Path(__file__).parent
START = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
CODE = "K7M-4QX"
_LATER = re.compile(r"\((?P<number>\d+) (?P<unit>minutes|hours|days) later\)")


@dataclass(frozen=True)
class Written:
    """A conversation on paper: `said` are the person's lines and the pauses, in order; `whole` the file as it is."""

    title: str
    ends: str
    said: tuple[str, ...]
    whole: str


def read(path: Path) -> Written:
    """Read a file; raises ValueError when it has no `ends:` line."""
    whole = path.read_text(encoding="utf-8")
    head, _, rest = whole.partition("\n\n")
    ends = next((line[5:].strip() for line in head.split("\n") if line.startswith("ends:")), "")
    if not ends:
        raise ValueError(f"{path.name}: the head must say how it ends (ends: answer remover-…)")
    said = tuple(line for line in rest.split("\n") if line.startswith("> ") or line == ">" or _LATER.fullmatch(line))
    return Written(head, ends, said, whole)


def guide() -> Guide:
    topic = load_topic(built_in_topic())
    return load_guide(topic, load_shop(built_in_shop(), topic))


def hold(guide: Guide, written: Written) -> tuple[str, Case, Reply]:
    """Hold the conversation; gives it written out, with the case and the last reply."""
    now = START
    greeted = greet(guide, open_case(guide, CODE, "en", now), now)
    case, reply = greeted.case, greeted.reply
    parts = [written.title, shown(reply)]
    for line in written.said:
        later = _LATER.fullmatch(line)
        if later:
            now += timedelta(**{later["unit"]: int(later["number"])})
            parts.append(line)
            continue
        taken = turn(guide, case, Message(line[2:]), now)
        case, reply = taken.case, taken.reply
        now += timedelta(minutes=1)
        parts += [line, shown(reply)]
    return "\n\n".join(parts) + "\n", case, reply


def shown(reply: Reply) -> str:
    """What the bot says; addresses of files on this machine are cut to the file's name."""
    return re.sub(r"file://\S*/", "file://…/", plain(reply)).strip("\n")


def main() -> None:
    loaded = guide()
    for path in sorted(FOLDER.glob("*.txt")):
        path.write_text(hold(loaded, read(path))[0], encoding="utf-8")


if __name__ == "__main__":
    main()
