"""`python -m tests.channels.telegram.screen [FILE]`: a new user's conversation as the phone shows it, in Markdown, with
its pictures beside it. Written out from what the fake platform was sent; nothing is made up."""

import asyncio
import sys
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.channels.telegram.stage import Rider, polling
from tests.conversation.guides import shipped_guide
from tests.doubles.telegram import Screen, Shown, serve
from triagebot.pictures import picture, png


async def conversation(folder: Path) -> tuple[Screen, dict[str, str]]:
    """Ada and her freewheel, with a look at how to count, a step back and a goodbye; and which picture is which."""
    with serve() as platform:
        async with polling(platform, folder) as stage:
            ada = stage.person("Ada")
            rider = Rider(ada)
            screen = await rider.start()
            looked = stepped = False
            while "Remover:" not in screen.last.text:
                if screen.last.kind == "photo" and not looked:
                    looked = True
                    ada.press("How do I check?")
                    await rider.next_after(len(screen.from_bots))
                elif looked and not stepped and len(rider.asked) >= 3:
                    stepped = True
                    ada.press("Back")
                    await rider.next_after(len(screen.from_bots))
                screen = await rider.answer()
            ada.write("thanks")
            await rider.next_after(len(screen.from_bots))
            await stage.quiet()
            named = {digest: name for name, digest in await _names(stage.channel._sender._gallery)}
            return ada.screen(), named


async def _names(gallery: object) -> list[tuple[str, str]]:
    drawings, names = gallery._drawings, gallery._names  # type: ignore[attr-defined]
    return [(which[0], names[each.digest]) for which, each in drawings.items() if each.digest in names]


def file_of(name: str) -> str:
    return f"{name.replace(':', '-')}.png"


def written(screen: Screen, pictures: dict[str, str]) -> str:
    lines = [f"# {shipped_guide().shop.name}: a first conversation", ""]
    for message in screen.messages:
        lines += [f"**{'Ada' if message.person else 'The bot'}**", ""]
        if message.picture:
            name = pictures.get(message.picture, message.picture)
            lines += [f"![{name}]({file_of(name)})", ""]
        lines += [*_text(message), ""]
        lines += ["> " + " ".join(f"`{button.text}`" for button in row) + "  " for row in message.rows]
        lines += [""] if message.rows else []
    return "\n".join(lines).rstrip() + "\n"


def _text(message: Shown) -> list[str]:
    """The words, bold and slanted as the phone has them. Offsets are in UTF-16 units."""
    units = message.text.encode("utf-16-le")
    marks = {"bold": "**", "italic": "*"}
    at: dict[int, str] = {}
    for entity in message.entities:
        mark = marks.get(entity["type"], "")
        start, end = entity["offset"], entity["offset"] + entity["length"]
        at[start] = at.get(start, "") + mark
        at[end] = mark + at.get(end, "")
    places = sorted({0, *at, len(units) // 2})
    parts = [at.get(start, "") + units[2 * start : 2 * end].decode("utf-16-le") for start, end in pairwise(places)]
    whole = "".join([*parts, at.get(places[-1], "")])
    return [f"{line}  " if line else "" for line in whole.split("\n")]


def main() -> None:
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "telegram-screen/conversation.md")
    target.parent.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory() as folder:
        screen, pictures = asyncio.run(conversation(Path(folder)))
    target.write_text(written(screen, pictures), encoding="utf-8")
    texts = shipped_guide().language("en").texts
    for name in set(pictures.values()):
        (target.parent / file_of(name)).write_bytes(png(picture(shipped_guide().topic, name, texts)))
    print(target)


if __name__ == "__main__":
    main()
