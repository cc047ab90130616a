"""Branches that share their tools: in one `serve`, in a terminal, and what is said of names that no branch has."""

import pytest

from tests.branches.chain import PLANTED, Chain, answered, staff_of

BORROWER = "Zebediah"


def share(chain: Chain, branch: str, *names: str) -> None:
    with (chain.folder / "shops" / branch / "shop.yaml").open("a", encoding="utf-8") as file:
        file.write(f"share-tools: [{', '.join(names)}]\n")


def test_staff_hear_of_the_branches_that_name_theirs(chain: Chain) -> None:
    share(chain, "harbour", "north")
    chain.start()
    bo = staff_of(chain, "north", "harbour")
    north, harbour = chain.tokens["north"], chain.tokens["harbour"]
    marlinspike = f"At The {PLANTED['harbour']} Workshop: “the big four”"
    told = answered(bo, "who has a 40 mm four?", north)
    assert marlinspike in told
    assert PLANTED["old-town"] not in told
    assert "At The" not in answered(bo, "who has the big four", harbour), "it is not the other way round"
    for _ in range(3):  # one more than there may be: that is refused
        answered(bo, f"lend the big four to {BORROWER}", harbour)
    told = answered(bo, "who has the big four", north)
    assert marlinspike in told
    assert " out just now" in told
    assert BORROWER not in told
    assert BORROWER in answered(bo, "who has the big four", harbour)


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
