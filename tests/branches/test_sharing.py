"""Branches that share their tools: in one `serve`, in a terminal, and what is said of names that no branch has."""

import pytest

from tests.branches.chain import PLANTED, Chain
from tests.doubles.telegram import Person, Telegram

BORROWER = "Zebediah"


def share(chain: Chain, branch: str, *names: str) -> None:
    with (chain.folder / "shops" / branch / "shop.yaml").open("a", encoding="utf-8") as file:
        file.write(f"share-tools: [{', '.join(names)}]\n")


def asked(person: Person, text: str, bot: str) -> str:
    """What somebody is answered."""
    before = len(person.screen(bot=bot).from_bots)
    person.write(text, bot=bot)
    return person.wait_for(lambda screen: len(screen.from_bots) > before, bot=bot).last.text


def staff_of(chain: Chain, platform: Telegram, *branches: str) -> Person:
    """Somebody who has joined each of these branches by its own bot."""
    person = platform.add_person("Bo")
    for name in branches:
        code = chain.command("staff", "invite", "--branch", name, "--name", "Bo").stdout.split()[0]
        person.start(bot=chain.tokens[name])
        person.wait_for(lambda screen: bool(screen.from_bots), bot=chain.tokens[name])
        asked(person, code, chain.tokens[name])
    return person


def test_staff_hear_of_the_branches_that_name_theirs(chain: Chain, platform: Telegram) -> None:
    share(chain, "harbour", "north")
    chain.start()
    bo = staff_of(chain, platform, "north", "harbour")
    north, harbour = chain.tokens["north"], chain.tokens["harbour"]
    marlinspike = f"At The {PLANTED['harbour']} Workshop: “the big four”"
    told = asked(bo, "who has a 40 mm four?", north)
    assert marlinspike in told
    assert PLANTED["old-town"] not in told
    assert "At The" not in asked(bo, "who has the big four", harbour), "it is not the other way round"
    for _ in range(3):  # one more than there may be: that is refused
        asked(bo, f"lend the big four to {BORROWER}", harbour)
    told = asked(bo, "who has the big four", north)
    assert marlinspike in told
    assert " out just now" in told
    assert BORROWER not in told
    assert BORROWER in asked(bo, "who has the big four", harbour)


def test_in_a_terminal_it_is_the_same(chain: Chain) -> None:
    share(chain, "harbour", "north")
    code = chain.command("staff", "invite", "--branch", "north", "--name", "Bo").stdout.split()[0]
    done = chain.command("talk", "--branch", "north", said=f"{code}\nwho has the big four\n")
    assert f"At The {PLANTED['harbour']} Workshop: “the big four”" in done.stdout
    assert not (chain.folder / "data" / "branches" / "harbour").exists(), "looking makes nothing"


@pytest.mark.parametrize(
    ("name", "words"),
    [("west", "there is no branch 'west'; there are: harbour, old-town"), ("north", "is this branch itself")],
)
def test_a_name_that_no_other_branch_has_is_told_with_its_place(chain: Chain, name: str, words: str) -> None:
    share(chain, "north", "harbour", name)
    file = chain.folder / "shops" / "north" / "shop.yaml"
    line = len(file.read_text("utf-8").splitlines())
    for command in (("check",), ("serve", "--check", "--offline"), ("serve",)):
        done = chain.command(*command)
        assert done.returncode == 1
        assert f"{file}:{line}:24: share-tools[2]: " in done.stdout + done.stderr
        assert words in done.stdout + done.stderr
