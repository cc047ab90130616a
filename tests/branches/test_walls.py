"""Nothing of one branch is seen at another: each has words of its own, which nobody else is ever shown, on SQLite and
in schemas of one PostgreSQL."""

import re
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from io import BytesIO
from itertools import permutations
from pathlib import Path
from zipfile import ZipFile

import httpx
import pytest
from PIL import Image

from tests.branches.chain import PLANTED, Chain, asked
from tests.commands import PATIENCE
from tests.doubles.telegram import Person, Telegram
from tests.doubles.telegram_tests.fixtures import served
from tests.store import cluster
from tests.store.engines import server

__all__ = ["served", "server"]


@dataclass
class Branch:
    """One of them, and what was seen there. Its member of staff is at a terminal beside the process that serves."""

    chain: Chain
    name: str
    seen: list[str] = field(default_factory=list)
    code: str = ""
    secrets: dict[str, str] = field(default_factory=dict)

    @property
    def word(self) -> str:
        return PLANTED[self.name]

    def __post_init__(self) -> None:
        self.browser = httpx.Client(
            base_url=f"{self.chain.address}/b/{self.name}", timeout=PATIENCE, follow_redirects=True
        )
        json = {"accept": "application/json"}
        self.guest = httpx.Client(base_url=self.browser.base_url, timeout=PATIENCE, headers=json)

    @property
    def bot(self) -> str:
        return self.chain.tokens[self.name]

    def tells(self, *lines: str) -> str:
        """What its member of staff reads, without its line breaks."""
        done = self.chain.command("talk", "--branch", self.name, said="".join(f"{line}\n" for line in lines))
        assert done.returncode == 0, done.stderr
        return " ".join(done.stdout.split())

    def joins(self) -> None:
        invited = self.chain.command("staff", "invite", "--branch", self.name, "--name", f"{self.word}a")
        self.seen.append(self.tells(invited.stdout.split()[0]))

    def opens(self, path: str) -> httpx.Response:
        got = self.browser.get(path)
        self.seen.append(got.text)
        return got

    def link(self, text: str) -> str:
        """The end of an address below this branch's pages that somebody was sent."""
        found = re.search(rf"{re.escape(str(self.browser.base_url).rstrip('/'))}/(\S+)", text)
        assert found is not None, text
        return found[1]

    def lives(self, ada: Person) -> None:
        """A customer asks for a person and gives words of her own; her bike is left here, and a tool is lent."""
        bot = self.bot
        ada.start(bot=bot)
        ada.wait_for(lambda screen: bool(screen.from_bots), bot=bot)
        asked(ada, "4 notches, it stays still, 40 mm", bot)
        self.secrets["card"] = self.link(asked(ada, "person", bot, "/card/"))
        ada.write(f"it is the bike with the {self.word} bell", bot=bot)
        self.joins()
        found = re.search(r"\b\w{3}-\w{3}\b", self.tells("queue"))
        assert found is not None
        self.code = found[0]
        told = self.tells(f"new blue tourer, {self.word}, {self.code}", f"lend the big four to {self.word}", "login")
        self.seen.append(told)
        self.secrets["door"] = self.link(told)
        self.secrets["export"] = self.link(asked(ada, "export", bot, "/export/"))
        self.seen.append(ada.screen(bot=bot).drawn())
        assert self.browser.post(self.secrets["door"]).status_code == 200
        self.says_on_the_page()

    def says_on_the_page(self) -> None:
        """Somebody else comes to the chat page, with a photo."""
        said = self.guest.post("/chat/say", json={"text": f"12 splines, says {self.word}", "key": "a"})
        assert said.status_code == 200
        picture = BytesIO()
        Image.new("RGB", (20, 20), "red").save(picture, "JPEG")
        sent = self.guest.post("/chat/photo", files={"photo": ("p.jpg", picture.getvalue(), "image/jpeg")})
        assert sent.status_code in (200, 303), sent.text
        self.seen.append(self.guest.get("/").text)


@pytest.fixture(params=["sqlite", "postgresql"])
def branches(request: pytest.FixtureRequest, platform: Telegram, tmp_path: Path) -> Iterator[dict[str, Branch]]:
    """Three branches at each of which the same customer has been."""
    with ExitStack() as stack:
        more = {}
        if request.param == "postgresql":
            socket = request.getfixturevalue("server")
            more["DATABASE"] = cluster.url_for(socket, tmp_path / "data")
            stack.callback(cluster.drop_all, socket)
        chain = Chain(platform, tmp_path, more)
        stack.callback(chain.end)
        chain.start()
        made = {name: Branch(chain, name) for name in PLANTED}
        ada = platform.add_person("Ada")
        for branch in made.values():
            stack.enter_context(branch.browser)
            stack.enter_context(branch.guest)
            branch.lives(ada)
        yield made


def test_no_branch_sees_anything_of_another(branches: dict[str, Branch]) -> None:
    assert len({branch.code for branch in branches.values()}) == 3
    for here, there in permutations(branches.values(), 2):
        _tries_codes(here, there)
        _tries_links(here, there)
        _tries_cookies(here, there)
    for branch in branches.values():
        _looks_at_everything(branch)
        _asks_commands(branch)
    for branch in branches.values():
        everything = "\n".join(branch.seen)
        assert branch.word in everything
        for other in branches.values():
            if other is not branch:
                assert other.word not in everything, other.word
                assert other.code not in everything
                assert other.secrets["card"] not in everything
    _nothing_in_common(branches)


def _tries_codes(here: Branch, there: Branch) -> None:
    """A member here names a case of another branch: it is not known."""
    code = there.code
    told = here.tells(f"show {code}", f"close {code} fitted", code, f"claim {code}", f"find {there.word}")
    assert f"There’s no case {code}." in told
    assert "find no" in told
    assert not re.search(f"{there.word}(a|son)? (Workshop|Yard|room|bell|bench)", told)
    assert f"blue tourer, {there.word}" not in told
    done = here.chain.command("staff", "label", code, "--branch", here.name)
    assert done.returncode == 2
    assert "is the case of no bike that was left here" in done.stderr


def _tries_links(here: Branch, there: Branch) -> None:
    """The end of a link that leads into another branch leads nowhere here."""
    for what, path in there.secrets.items():
        got = httpx.get(f"{here.browser.base_url}{path}", timeout=PATIENCE)
        assert got.status_code in (403, 404, 410), (what, got.status_code)
        assert there.word not in got.text
    for path in ("", "/card", "/photo/1", "/photo/2"):
        assert here.browser.get(f"/counter/case/{there.code}{path}").status_code == 404


def _tries_cookies(here: Branch, there: Branch) -> None:
    """What a browser has for one branch opens nothing at another, under either's name."""
    for client, page in ((there.browser, "/counter"), (there.guest, "/chat/messages?after=0")):
        assert client.cookies
        for name, value in client.cookies.items():
            assert name.endswith(f"-of-{there.name}")
            for given in (name, name.replace(f"-of-{there.name}", f"-of-{here.name}")):
                got = httpx.get(f"{here.browser.base_url}{page.lstrip('/')}", cookies={given: value}, timeout=PATIENCE)
                assert there.word not in got.text
                assert (
                    got.status_code == 403 or got.json() == {"known": False, "messages": []} or not got.json()["known"]
                )


def _looks_at_everything(branch: Branch) -> None:
    told = branch.tells("queue", "today", "late", "who has the big four", "list", "team", branch.code, "help")
    assert f"Lent out: {branch.word}" in told
    assert "Nobody has it" in told or "Waiting" in told, "nobody at another branch has claimed or closed it"
    branch.seen.append(told)
    for path in ("/", "/notes/", "/notes/?q=bench", "/notes/freewheel-4-notch-40", "/gauge", "/counter", "/metrics"):
        branch.opens(path)
    for other in PLANTED.values():
        if other != branch.word:
            assert (
                "bench"
                not in branch.browser.get(f"/notes/?q={other}").text.lower().split("<main")[1].split("</main")[0]
            )
    assert branch.opens(f"/counter/case/{branch.code}").status_code == 200
    assert branch.opens(f"/{branch.secrets['card']}").status_code == 200
    export = branch.browser.get(f"/{branch.secrets['export']}")
    with suppress(UnicodeDecodeError), ZipFile(BytesIO(export.content)) as files:
        branch.seen += [files.read(name).decode() for name in files.namelist()]


def _asks_commands(branch: Branch) -> None:
    for words in (("staff", "list"), ("report",), ("letters",), ("tidy", "--dry-run"), ("doctor", "--offline")):
        done = branch.chain.command(*words, "--branch", branch.name)
        branch.seen += [done.stdout, done.stderr]


def _nothing_in_common(branches: dict[str, Branch]) -> None:
    """What is the same for all, and the files of each, hold nobody's words."""
    (chain,) = {id(branch.chain): branch.chain for branch in branches.values()}.values()
    shared = "".join(chain.page(path)[1] for path in ("/health", "/ready", "/metrics", "/nothing"))
    shared += chain.said().decode()
    for branch in branches.values():
        assert branch.word not in shared
        assert branch.code not in shared
        for other in branches.values():
            files = (chain.folder / "data" / "branches" / other.name).rglob("*")
            assert not any(branch.word.encode() in path.read_bytes() for path in files if path.is_file())
