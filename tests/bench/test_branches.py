"""What `triagebot serve` holds in memory for one branch and for ten, each with a bot of its own on the double."""

import shutil
from pathlib import Path
from subprocess import Popen
from time import sleep

import pytest

from tests.bench.conftest import Figures
from tests.bench.telegram_runs import resident
from tests.channels.process import Process
from tests.channels.telegram.stage import fresh_token
from tests.doubles.telegram import Telegram, serve
from triagebot.shop import built_in_shop

pytestmark = [pytest.mark.campaign, pytest.mark.slow]

#: MB that another branch may take.
EACH = 8.0
BRANCHES = 10


class Serving(Process):
    """`triagebot serve` for so many branches."""

    fresh = True

    def __init__(self, folder: Path, telegram: Telegram, branches: int) -> None:
        self.folder = folder
        for number in range(branches):
            shop, file = folder / "shops" / f"branch-{number}", folder / f"token-{number}"
            token = fresh_token()
            telegram.add_bot(token, f"bot{token[:9]}_bot")
            shutil.copytree(built_in_shop(), shop)
            file.touch(mode=0o600)
            file.write_text(token, encoding="ascii")
            (shop / "settings.toml").write_text(f"telegram_token_file = '../../{file.name}'\n", encoding="utf-8")
        server = telegram.base_url.removesuffix("/bot")
        self.launch({"SHOPS": str(folder / "shops"), "TELEGRAM_SERVER": server, "WEB_PORT": "0"})
        while self.said().count(b"pages and chat: ") < branches:
            assert self.process is not None
            assert self.process.poll() is None, self.said().decode()
            sleep(0.05)

    @property
    def memory(self) -> float:
        assert isinstance(self.process, Popen)
        return resident(self.process.pid)


def test_another_branch_takes_little_memory(tmp_path: Path, figures: Figures) -> None:
    held = {}
    with serve() as telegram:
        for branches in (1, BRANCHES):
            bot = Serving(tmp_path / str(branches), telegram, branches)
            try:
                held[branches] = bot.memory
            finally:
                bot.end()
    each = (held[BRANCHES] - held[1]) / (BRANCHES - 1)
    figures("one branch, after the start", f"{held[1]:.0f} MB")
    figures(f"{BRANCHES} branches", f"{held[BRANCHES]:.0f} MB")
    figures("another branch", f"{each:.1f} MB", f"< {EACH:g}")
    assert each < EACH
