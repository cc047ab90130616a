"""The parts of the pages that are made from the code, so that they cannot drift.

`python -m tests.documents` writes them anew; `test_documents.py` compares.
"""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from tests.conversations.conversation_file import CODE, FOLDER, START, guide, read, shown
from triagebot.conversation import Message, greet, open_case, plain, turn
from triagebot.conversation.blocks import Finding
from triagebot.conversation.housekeeping import kept_rows
from triagebot.conversation.machine import whole
from triagebot.settings import settings_table
from triagebot.shop import retention
from triagebot.topics import built_in_topic, catalogue_table, load_texts, load_topic, mermaid

ROOT = Path(__file__).resolve().parent.parent
SHOWN = "miscounter.txt"


def conversation() -> str:
    """One of the written-out conversations, held with the bot up to its answer."""
    kept = guide()
    greeted = greet(kept, open_case(kept, CODE, "en", START), START)
    case, parts = greeted.case, [plain(greeted.reply)]
    for line in read(FOLDER / SHOWN).said:
        taken = turn(kept, case, Message(line.removeprefix("> ")), START)
        case, reply = taken.case, taken.reply
        parts += [line, shown(reply)]
        if reply.of(Finding):
            break
    return "```text\n" + "\n\n".join(parts) + "\n```"


def machine() -> str:
    return f"```mermaid\n{mermaid(whole(load_topic(built_in_topic()).flow)).strip()}\n```"


def catalogue() -> str:
    topic = load_topic(built_in_topic())
    table = catalogue_table(topic, load_texts(topic.folder, "en"))
    return "```text\n" + "\n".join(line.rstrip() for line in table.strip().split("\n")) + "\n```"


def simulation() -> str:
    command = [sys.executable, "-m", "triagebot", "simulate", "--people", "2000", "--seed", "1"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return f"```text\n{done.stdout.rstrip()}\n```"


def kept() -> str:
    """What is kept of people, why and how long."""
    shop, texts = guide().shop, guide().language("en").texts
    rows = [(row, texts(f"kept-{row.id}").rstrip(":")) for row in retention().values()]
    table = ["| in `keep` | what, and why | how long | at least |", "| --- | --- | --- | --- |"]
    for (row, what), line in zip(rows, kept_rows(texts, shop), strict=True):
        long = line.partition(f"{what}: ")[2]
        name, least = (f"`{row.id}`", f"{row.least} d") if row.days is not None else ("", "")
        table.append(f"| {name} | {what} | {long} | {least} |")
    return "\n".join(table)


PARTS: dict[str, dict[str, Callable[[], str]]] = {
    "README.md": {"conversation": conversation, "simulation": simulation},
    "triagebot/conversation/README.md": {"machine": machine},
    "triagebot/topics/README.md": {"catalogue": catalogue},
    "deploy/README.md": {"settings": settings_table, "kept": kept},
}


def with_part(text: str, name: str, made: str) -> str:
    """`text` with what stands between the marks of `name` replaced. Raises ValueError without the marks."""
    start, end = f"<!-- {name} -->", f"<!-- end of {name} -->"
    before, found, rest = text.partition(start)
    _, closed, after = rest.partition(end)
    if not found or not closed:
        raise ValueError(f"there are no marks for {name!r}")
    return f"{before}{start}\n{made.strip()}\n{end}{after}"


def main() -> None:
    for file, parts in PARTS.items():
        text = (ROOT / file).read_text(encoding="utf-8")
        for name, make in parts.items():
            text = with_part(text, name, make())
        (ROOT / file).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
