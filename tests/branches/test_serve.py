"""One `triagebot serve` for all branches: each with its own bot, pages and store."""

import json
from pathlib import Path

import pytest

from tests import commands
from tests.branches.chain import PLANTED, Chain
from tests.doubles.telegram import Telegram
from triagebot.store import DATABASE, open_store


def test_somebody_who_talks_to_all_bots_has_a_case_at_each(chain: Chain, platform: Telegram) -> None:
    chain.start()
    ada = platform.add_person("Ada")
    for name, word in PLANTED.items():
        bot = chain.tokens[name]
        ada.start(bot=bot)
        ada.wait_for(lambda screen: bool(screen.from_bots), bot=bot)
        ada.write("4 notches, it stays still, 40 mm", bot=bot)
        screen = ada.wait_for(lambda screen: "Remover:" in screen.last.text, bot=bot)
        assert f"in the {word} room" in screen.last.text
    for name, word in PLANTED.items():
        text = ada.screen(bot=chain.tokens[name]).drawn()
        assert [other for other in PLANTED.values() if other in text] == [word]
    assert chain.stop() == 0
    folder = chain.folder / "data" / "branches"
    assert {path.parent.name for path in folder.glob(f"*/{DATABASE}")} == set(PLANTED)
    assert {path.name for path in (chain.folder / "data").iterdir()} == {"branches"}


def test_the_front_page_lists_the_branches_and_each_has_its_own_pages(chain: Chain) -> None:
    chain.start()
    status, front, headers = chain.page("/")
    assert status == 200
    assert "default-src 'none'" in headers["content-security-policy"]
    for name, word in PLANTED.items():
        assert f"The {word} Workshop" in front
        assert f'href="/b/{name}/"' in front
        for path in ("", "notes/", "notes/freewheel-4-notch-40", "gauge", "nothing-here"):
            _, page, _ = chain.page(f"/b/{name}/{path}")
            assert [other for other in PLANTED.values() if other in page] == [word]
            assert 'href="/notes' not in page, "a link leaves the branch"
        assert f"The {word} Workshop" in chain.page(f"/b/{name}")[1]
    for path in ("/nothing-here", "/b/west/", "/b/west", "/notes/"):
        status, page, _ = chain.page(path)
        assert status == 404
        assert not any(word in page for word in PLANTED.values())


def test_those_who_watch_see_all_branches_by_name(chain: Chain) -> None:
    chain.start()
    _, health, _ = chain.page("/health")
    assert {row["what"] for row in json.loads(health)["rows"]} == {
        f"{name} {what}" for name in PLANTED for what in ("data", "writer")
    }
    _, ready, _ = chain.page("/ready")
    assert {f"{name} telegram" for name in PLANTED} <= {row["what"] for row in json.loads(ready)["rows"]}
    _, metrics, _ = chain.page("/metrics")
    lines = [line for line in metrics.splitlines() if line and not line.startswith("#")]
    assert all('branch="' in line for line in lines)
    for name in PLANTED:
        assert f'triagebot_received_total{{branch="{name}"}} 0.0' in lines
    assert metrics.count("# TYPE triagebot_received_total") == 1
    for text in (health, ready, metrics):
        assert not any(word in text for word in PLANTED.values())
    (chain.folder / "data" / "branches" / "north").rename(chain.folder / "elsewhere")
    assert [chain.page(f"/b/{name}/health")[0] for name in PLANTED] == [200, 503, 200]
    status, health, _ = chain.page("/health")
    assert status == 503
    assert [row["what"] for row in json.loads(health)["rows"] if not row["well"]] == ["north data"]


def test_the_log_says_of_which_branch_it_speaks(chain: Chain) -> None:
    chain.start()
    chain.stop()
    said = chain.said().decode().splitlines()
    for name in PLANTED:
        assert any(f" INFO {name}: telegram: fetching messages" in line for line in said)
    assert said[-1].endswith(" INFO stopped; what waits is on the disk")


def test_the_check_looks_at_every_branch(chain: Chain) -> None:
    done = chain.command("serve", "--check")
    assert done.returncode == 0, done.stdout + done.stderr
    for name, token in chain.tokens.items():
        assert f"{name}: telegram: the token is that of @bot{token[:9]}_bot" in done.stdout
    (chain.folder / "north.token").write_text(chain.tokens["harbour"], encoding="ascii")
    for arguments in (("--check",), ("--check", "--offline"), ()):
        done = chain.command("serve", *arguments)
        assert done.returncode == 1
        assert "harbour and north: have the same Telegram bot" in done.stdout + done.stderr


def test_the_problems_of_all_shops_are_told_at_once(chain: Chain) -> None:
    for name in ("north", "harbour"):
        with (chain.folder / "shops" / name / "tools.yaml").open("a", encoding="utf-8") as file:
            file.write("nonsense: 1\n")
    done = chain.command("serve")
    assert done.returncode == 1
    for name in ("north", "harbour"):
        assert f"shops/{name}/tools.yaml:" in done.stderr
    assert not (chain.folder / "data").exists()


@pytest.mark.parametrize("what", [DATABASE, "database"])
def test_the_cases_of_one_shop_are_not_left_behind(chain: Chain, what: str) -> None:
    data = chain.folder / "data"
    data.mkdir()
    (data / what).touch()
    done = chain.command("serve")
    assert done.returncode == 1
    assert "holds the cases of one shop" in done.stderr
    assert [path.name for path in data.iterdir()] == [what]


def test_a_shop_becomes_a_branch_with_all_that_it_has(chain: Chain, tmp_path: Path) -> None:
    """By moving its data folder and its key, as the page for operators says."""
    data, key = chain.folder / "data", chain.folder / "triagebot.key"
    line = '{"person": "p", "text": "6 sprockets, it stays still"}\n'
    before = commands.run("talk", "--lines", said=line, data=data, TRIAGEBOT_KEY_FILE=str(key))
    assert before.returncode == 0
    moved = tmp_path / "moved"
    data.rename(moved)
    (data / "branches").mkdir(parents=True)
    moved.rename(data / "branches" / "north")
    key.rename(key.with_name("triagebot.north.key"))
    chain.start()
    assert chain.stop() == 0
    north = open_store(data / "branches" / "north", key_file=key.with_name("triagebot.north.key"))
    with north as store, store.read() as view:
        assert view.case_by_code(json.loads(before.stdout)["case"]) is not None
