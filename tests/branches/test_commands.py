"""The commands in a chain: each is about one branch, which has to be named, or about all of them."""

import json
from pathlib import Path

import pytest

from tests.branches.chain import PLANTED, Chain
from tests.commands import line, rows

#: Commands about what one branch has.
OF_ONE = (
    ("ask", "4 notches"),
    ("talk", "--lines"),
    ("staff", "list"),
    ("staff", "invite"),
    ("staff", "link", "Ada"),
    ("staff", "remove", "Ada"),
    ("staff", "label", "ABCD"),
    ("letters",),
    ("letters", "again", "1"),
    ("letters", "drop", "1"),
    ("tidy",),
    ("backup", "b"),
    ("restore", "b"),
    ("report",),
    ("recount",),
    ("replay", "--topic", "."),
    ("key", "renew"),
    ("key", "retire"),
    ("move-store", "sqlite", "postgresql://127.0.0.1/x"),
)


@pytest.mark.parametrize("words", OF_ONE, ids=" ".join)
def test_a_command_about_one_branch_asks_which(chain: Chain, words: tuple[str, ...]) -> None:
    done = chain.command(*words)
    assert done.returncode == 2
    assert done.stderr == "triagebot: say which branch, with --branch; there is: harbour, north, old-town\n"
    other = chain.command(*words, "--branch", "west")
    assert other.returncode == 2
    assert other.stderr == "triagebot: there is no branch 'west'; there is: harbour, north, old-town\n"
    assert not (chain.folder / "data").exists()


def talked(chain: Chain, branch: str, *texts: str) -> list[dict[str, object]]:
    said = "".join(line("p", text) for text in texts)
    done = chain.command("talk", "--lines", "--branch", branch, said=said)
    assert done.returncode == 0, done.stderr
    return rows(done.stdout)


def test_what_is_done_at_one_branch_is_done_at_no_other(chain: Chain) -> None:
    talked(chain, "north", "6 sprockets, it stays still")
    invited = chain.command("staff", "invite", "--branch", "north", "--name", "Bo")
    assert f"{chain.address}/b/north/" in invited.stdout
    code = invited.stdout.split()[0]
    assert talked(chain, "harbour", code)[0]["state"] != "staff"
    assert "nobody is staff yet" in chain.command("staff", "list", "--branch", "harbour").stdout
    assert (chain.folder / "data" / "branches" / "north").is_dir()
    assert not (chain.folder / "data" / "branches" / "old-town").exists()
    none = chain.command("letters", "--branch", "old-town")
    assert none.returncode == 2
    assert "branches/old-town" in none.stderr


def test_a_backup_is_of_one_branch_and_fits_only_its_key(chain: Chain, tmp_path: Path) -> None:
    talked(chain, "north", "6 sprockets, it stays still")
    talked(chain, "harbour", "4 notches")
    backup = tmp_path / "backup"
    assert chain.command("backup", backup, "--branch", "north").returncode == 0
    good = chain.command("restore", backup, "--branch", "north", "--check")
    assert good.returncode == 0, good.stderr
    wrong = chain.command("restore", backup, "--branch", "harbour", "--check")
    assert wrong.returncode == 1
    assert "triagebot.harbour.key" in wrong.stderr


def test_the_key_of_one_branch_is_renewed_alone(chain: Chain) -> None:
    for name in ("north", "harbour"):
        talked(chain, name, "6 sprockets, it stays still")
    kept = (chain.folder / "triagebot.harbour.key").read_bytes()
    assert chain.command("key", "renew", "--branch", "north").returncode == 0
    assert (chain.folder / "triagebot.harbour.key").read_bytes() == kept
    for name in ("north", "harbour"):
        assert "6 sprockets" in str(talked(chain, name, "why")[0]["replies"])


def test_the_doctor_looks_at_all_or_at_one(chain: Chain) -> None:
    for name in PLANTED:
        talked(chain, name, "4 notches")
    (chain.folder / "triagebot.north.key").unlink()
    done = chain.command("doctor", "--offline", "--json")
    found = json.loads(done.stdout)
    assert done.returncode == 1
    assert {f"{name} database" for name in PLANTED} <= {row["what"] for row in found}
    assert {row["what"] for row in found if not row["well"]} == {"north key"}
    assert chain.command("doctor", "--offline", "--branch", "harbour").returncode == 0
    assert chain.command("doctor", "--offline", "--branch", "west").returncode == 2
    (chain.folder / "north.token").write_text(chain.tokens["harbour"], encoding="ascii")
    assert "harbour and north: have the same" in chain.command("doctor", "--offline").stdout


def test_the_check_names_the_file_of_every_shop(chain: Chain) -> None:
    well = chain.command("check")
    assert well.returncode == 0, well.stdout
    assert well.stdout.splitlines()[-1].startswith("rear-sprockets, harbour, north and old-town: ")
    for name in ("north", "harbour"):
        with (chain.folder / "shops" / name / "tools.yaml").open("a", encoding="utf-8") as file:
            file.write("nonsense: 1\n")
    done = chain.command("check")
    assert done.returncode == 1
    for name in ("north", "harbour"):
        assert f"shops/{name}/tools.yaml:" in done.stdout
    assert "shops/old-town/tools.yaml:" not in done.stdout
    one = chain.command("check", "--shop", chain.folder / "shops" / "old-town")
    assert one.returncode == 0


def test_a_report_of_all_is_the_sum_side_by_side(chain: Chain) -> None:
    for count, name in enumerate(PLANTED, 1):
        said = "".join(line(f"p{n}", "6 sprockets, it stays still") for n in range(count))
        assert chain.command("talk", "--lines", "--branch", name, said=said).returncode == 0
    found = json.loads(chain.command("report", "--all-branches", "--json").stdout)
    assert {name: each["runs"] for name, each in found.items()} == {"harbour": 1, "north": 2, "old-town": 3, "all": 6}
    table = chain.command("report", "--all-branches").stdout.splitlines()
    assert table[0].split() == ["harbour", "north", "old-town", "all"]
    assert table[1].split() == ["conversations", "1", "2", "3", "6"]
    assert json.loads(chain.command("report", "--branch", "north", "--json").stdout)["runs"] == 2
    for more in (("--apply",), ("--branch", "north"), ("--html", "x.html")):
        assert chain.command("report", "--all-branches", *more).returncode == 2


def test_commands_about_the_topic_need_no_branch(chain: Chain) -> None:
    assert chain.command("topics", "show", "--only", "machine").returncode == 0
    assert chain.command("simulate", "--people", "2", "--json").returncode == 0
