"""What `triagebot serve` holds in memory on Telegram: after the start, after serving every page, after 1,000 turns.

The real command in a process of its own, on the platform's double, with the pages walked link by link from the home
page as a search engine would, and then simulated people who talk. Resident memory is read from the kernel, of the bot
alone (`self`) and with every process that it keeps (`all`), so that nothing is gained by moving work next door.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from http.client import HTTPConnection
from ipaddress import ip_address
from pathlib import Path
from subprocess import Popen
from time import sleep
from urllib.parse import urldefrag, urljoin, urlsplit

import pytest

from tests.bench.conftest import Figures
from tests.bench.telegram_runs import platform, resident
from tests.bench.telegram_script import scripts, write
from tests.channels.process import Process
from triagebot.conversation import Guide

pytestmark = [pytest.mark.campaign, pytest.mark.slow]

#: MB after the start: wanted (printed only) and allowed; how many more after every page was served once, most of it
#: pages of the libraries' files that were given back and are mapped again; how many more after every page once more.
WANTED, IDLE, MORE, AGAIN = 110, 112.0, 13.0, 1.0
TURNS, SEATS, SECONDS = 1000, 20, 10.0
#: People, and how many of them differ.
PEOPLE, DIFFERENT = 1000, 60
READY = b"pages and chat: "  # the last thing that it says when it starts
_LINK = re.compile(rb'(?:href|src)="([^"]+)"')
#: Where the walk begins, with what is only reached by a form or by hand.
FIRST = ("/", "/health", "/metrics", "/notes/?q=freewheel", "/gauge?country=us", "/gauge.pdf?country=de&paper=letter")


class Serving(Process):
    """`triagebot serve` on the platform's double."""

    fresh = True

    def __init__(self, folder: Path, server: str, token: str) -> None:
        self.folder = folder
        self.launch({"TELEGRAM_SERVER": server, "TELEGRAM_TOKEN": token, "WEB_PORT": "0"})
        while READY not in self.said():
            assert self.process is not None
            assert self.process.poll() is None, self.said().decode()
            sleep(0.05)

    @property
    def number(self) -> int:
        assert isinstance(self.process, Popen)
        return self.process.pid

    @property
    def port(self) -> int:
        found = re.search(rb"http://127\.0\.0\.1:(\d+)/", self.said())
        assert found
        return int(found[1])

    def memory(self) -> tuple[float, float]:
        """MB of the process alone, and with its children."""
        children = Path(f"/proc/{self.number}/task").glob("*/children")
        numbers = {int(number) for each in children for number in each.read_text(encoding="ascii").split()}
        own = resident(self.number)
        return own, own + sum(resident(number) for number in numbers)


@contextmanager
def serving(folder: Path, server: str, token: str) -> Iterator[Serving]:
    bot = Serving(folder, server, token)
    try:
        yield bot
    finally:
        bot.end()


def walk(port: int) -> list[str]:
    """Every address that leads to a page, from the home page on; each is fetched once."""
    door = HTTPConnection("127.0.0.1", port, timeout=60)
    found, to_see = list(FIRST), list(FIRST)
    while to_see:
        here = to_see.pop()
        address = str(ip_address(int(ip_address("10.0.0.1")) + len(found)))  # nobody reads so fast
        door.request("GET", here, headers={"x-forwarded-for": address})
        answer = door.getresponse()
        body = answer.read()
        assert answer.status in (200, 303, 307, 404), (here, answer.status)
        links = [answer.headers["location"]] if answer.status != 200 else []
        if answer.headers.get_content_type() == "text/html":
            links += [unescape(link.decode()) for link in _LINK.findall(body)]
        for link in links:
            whole = urlsplit(urldefrag(urljoin(f"http://here{here}", link)).url)
            address = f"{whole.path}?{whole.query}" if whole.query else whole.path
            if whole.netloc == "here" and address not in found:
                found.append(address)
                to_see.append(address)
    door.close()
    return found


def test_memory(guide: Guide, tmp_path: Path, figures: Figures) -> None:
    script = tmp_path / "script.json"
    write(scripts(guide, DIFFERENT), script)
    with platform(script, PEOPLE) as there, serving(tmp_path, there.server, there.token) as bot:
        start = bot.memory()
        pages = walk(bot.port)
        served = bot.memory()
        walk(bot.port)
        again = bot.memory()
        turns = 0
        while turns < TURNS:
            turns += there.talk(bot.number, SEATS, 0.0, SECONDS).turns
        talked = bot.memory()
    for name, memory, bound in (
        ("after the start", start, f"<= {IDLE:g}, wanted {WANTED}"),
        (f"after {len(pages)} pages", served, f"<= {MORE:g} more"),
        ("after the same pages again", again, f"<= {AGAIN:g} more"),
        (f"after {turns} turns", talked, ""),
    ):
        figures(f"serve, {name}", f"self {memory[0]:.0f} MB, all {memory[1]:.0f} MB", bound)
    assert any("gauge.pdf" in page for page in pages)
    assert start[1] <= IDLE
    assert served[1] - start[1] <= MORE
    assert again[1] - served[1] <= AGAIN
