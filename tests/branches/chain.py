"""A chain of three branches in one installation, each with words of its own that nobody else has."""

import re
import shutil
import socket
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import urlopen

from tests import commands
from tests.channels.process import Process
from tests.channels.telegram.stage import fresh_token
from tests.doubles.telegram import Person, Screen, Telegram
from tests.doubles.telegram.people import PATIENCE
from triagebot.shop import built_in_shop

#: For each branch, a word that stands in its shop's name, its street, where its tools hang and in a note.
PLANTED = {"harbour": "Marlinspike", "north": "Zirconium", "old-town": "Quagmire"}


@dataclass
class Chain(Process):
    """Its folder, with `shops` and the data; its bots on the fake platform. What it was set up with is in `given`."""

    platform: Telegram
    folder: Path
    more: dict[str, str] = field(default_factory=dict)
    tokens: dict[str, str] = field(default_factory=dict)
    port: int = 0

    def __post_init__(self) -> None:
        for name, word in PLANTED.items():
            token = self.tokens[name] = fresh_token()
            self.platform.add_bot(token, f"bot{token[:9]}_bot")
            plant(self.folder / "shops" / name, word)
            file = self.folder / f"{name}.token"
            file.touch(mode=0o600)
            file.write_text(token, encoding="ascii")
            settings = f'telegram_token_file = "../../{file.name}"\n'
            (self.folder / "shops" / name / "settings.toml").write_text(settings, encoding="utf-8")
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]

    @property
    def settings(self) -> dict[str, str]:
        return {
            "SHOPS": str(self.folder / "shops"),
            "TELEGRAM_SERVER": self.platform.base_url.removesuffix("/bot"),
            "WEB_PORT": str(self.port),
            "WEB_ADDRESS": self.address,
            **self.more,
        }

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Gives back once it is ready."""
        before = self.said().count(b"pages and chat")
        self.launch(self.settings)
        assert self.process is not None
        while self.said().count(b"pages and chat") < before + len(PLANTED):
            assert self.process.poll() is None, self.said().decode()

    def command(self, *arguments: str | Path, said: str = "", **more: str) -> "subprocess.CompletedProcess[str]":
        given = {f"TRIAGEBOT_{name}": value for name, value in self.settings.items()}
        key = str(self.folder / "triagebot.key")
        return commands.run(*arguments, said=said, data=self.folder / "data", TRIAGEBOT_KEY_FILE=key, **given, **more)

    def page(self, path: str, **headers: str) -> tuple[int, str, dict[str, Any]]:
        """The status, the text and the headers of a page."""
        from urllib.request import Request

        try:
            with urlopen(Request(f"{self.address}{path}", headers=headers), timeout=PATIENCE) as answer:
                return answer.status, answer.read().decode(), dict(answer.headers)
        except HTTPError as error:
            return error.code, error.read().decode(), dict(error.headers)


def plant(folder: Path, word: str) -> None:
    """A copy of the example shop with a word of its own in all that people read of a shop."""
    shutil.copytree(built_in_shop(), folder)
    shop, tools = folder / "shop.yaml", folder / "tools.yaml"
    text = re.sub(r"^name: .*", f"name: The {word} Workshop", shop.read_text("utf-8"), count=1, flags=re.MULTILINE)
    shop.write_text(re.sub(r"street: .*", f"street: 3 {word} Yard", text), encoding="utf-8")
    tools.write_text(
        re.sub(r"hangs: (.*)", rf"hangs: \1 in the {word} room", tools.read_text("utf-8")), encoding="utf-8"
    )
    with (folder / "notes" / "freewheel-4-notch-40.md").open("a", encoding="utf-8") as note:
        note.write(f"\nAsk for the {word} bench.\n")


#: A question to which every shop has an answer that nothing else is answered with: until it comes, all before it came.
_LAST, _LAST_ANSWER = "who has the crab claw", "“the crab claw”: "


def asked(person: Person, text: str, bot: str, wanted: str = "") -> str:
    """The first message after it that has what is wanted (a pattern) in it."""
    before = len(person.screen(bot=bot).from_bots)
    person.write(text, bot=bot)

    def found(screen: Screen) -> list[str]:
        return [said.text for said in screen.from_bots[before:] if re.search(wanted, said.text)]

    return found(person.wait_for(lambda screen: bool(found(screen)), bot=bot))[0]


def answered(member: Person, text: str, bot: str) -> str:
    """All that a member of staff is told until the next thing that they ask is answered."""
    before = len(member.screen(bot=bot).from_bots)
    member.write(text, bot=bot)
    member.write(_LAST, bot=bot)

    def told(screen: Screen) -> list[str]:
        return [said.text for said in screen.from_bots[before:]]

    until = member.wait_for(lambda screen: any(said.startswith(_LAST_ANSWER) for said in told(screen)), bot=bot)
    return "\n".join(said for said in told(until) if not said.startswith(_LAST_ANSWER))


def staff_of(chain: Chain, *branches: str, name: str = "Bo") -> Person:
    """Somebody who has joined each of these branches by its own bot."""
    person = chain.platform.add_person(name)
    for branch in branches:
        code = chain.command("staff", "invite", "--branch", branch, "--name", name).stdout.split()[0]
        person.start(bot=chain.tokens[branch])
        person.wait_for(lambda screen: bool(screen.from_bots), bot=chain.tokens[branch])
        asked(person, code, chain.tokens[branch])
    return person
