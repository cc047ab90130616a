"""The list "A fastening" of DEVELOPERS.md, walked: an invented one is added by exactly those files, in that order."""

import re
import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.commands import run
from triagebot.shop import built_in_shop
from triagebot.topics import built_in_topic

ROOT = Path(__file__).resolve().parents[2]
OLD, NEW = "freewheel-20-spline", "freewheel-17-spline"
Edit = Callable[[str], str]


def again(text: str, row: str) -> str:
    """`text` with a row of the 20-spline freewheel and, behind it, the same of one with 17 splines, 27 mm across."""
    assert row in text
    mine = row.replace("20", "17").replace("twenty", "seventeen").replace("21.5", "27.0").replace("21.7", "27.0")
    return text.replace(row, row + mine, 1)


def block(text: str, pattern: str) -> str:
    found = re.search(pattern, text, re.MULTILINE | re.DOTALL)
    assert found is not None, pattern
    return found[0]


def catalogue(text: str) -> str:
    text = again(text, block(text, r"  - id: freewheel-20-spline\n.*?\n\n"))
    text = again(text, block(text, r"  - \{id: remover-20-spline.*?\n"))
    old, _, new = text.partition(f"- id: {NEW}")
    priors = r"prior: ([0-9.]+)\n    prior-range: .*?\n"
    start = old.index(f"- id: {OLD}")
    share = re.search(priors, old[start:])
    assert share is not None
    halves = f"prior: {float(share[1]) / 2:g}\n    prior-range: [0.0001, 0.09]\n"
    old = old[:start] + re.sub(priors, halves, old[start:], count=1)
    return f"{old}- id: {NEW}{re.sub(priors, halves, new, count=1)}"


def every_line(text: str) -> str:
    for row in re.findall(rf"^ *{OLD}: .*\n(?:    \S.*\n)*", text, re.MULTILINE):
        text = again(text, row)
    return text


def words(text: str) -> str:
    text = again(text, block(text, r"^fastening-freewheel-20-spline = .*?\n(?=\w)"))
    return again(text, block(text, r"^remover-remover-20-spline = .*?\n"))


#: What is done to each file that the list names, by its name there.
STEPS: dict[str, Edit] = {
    "catalogue.yaml": catalogue,
    "text/en.ftl": words,
    "procedures.yaml": lambda text: text.replace(f"{OLD},", f"{OLD}, {NEW},", 1),
    "priors/": lambda text: again(text, block(text, rf"^  {OLD}: .*?\n")),
    "people.yaml": every_line,
    "text/en.enquiries.yaml": lambda text: again(text, block(text, r"^  remover-20-spline: .*?\n")),
    "tools.yaml": lambda text: again(text, block(text, r"  - tool: remover-20-spline\n(?:    .*?\n)+?(?=  - )")),
    "notes/": lambda text: re.sub(r"reviewed-.*\n", "", text.replace("20", "17").replace("twenty", "seventeen")),
}
SHOP = {"tools.yaml", "notes/"}

#: What `triagebot check` says where a file was left out; people.yaml is a yardstick that may leave a fastening out.
LEFT_OUT = {
    "text/en.ftl": f"fastening-{NEW}",
    "procedures.yaml": NEW,
    "priors/": f"priors: no share for the fastening '{NEW}'",
    "text/en.enquiries.yaml": "tools: no words for the remover 'remover-17-spline'",
    "tools.yaml": "'remover-17-spline' of the topic is neither here nor under not-held",
    "notes/": f"no note is about the fastening '{NEW}'",
}


def walk(folder: Path, left_out: str = "") -> tuple[Path, Path]:
    """A copy of the topic and of the shop, with the fastening added but for one file."""
    topic = Path(shutil.copytree(built_in_topic(), folder / "topic"))
    shop = Path(shutil.copytree(built_in_shop(), folder / "shop"))
    for name, edit in STEPS.items():
        if name == left_out:
            continue
        home = shop if name in SHOP else topic
        if name == "notes/":
            text = (home / "notes" / f"{OLD}.md").read_text(encoding="utf-8")
            today = f"reviewed-on: {datetime.now(UTC).date()}\nreviewed-by: workshop lead\n"
            new = edit(text).replace("---\n\n", f"{today}---\n\n", 1)
            (home / "notes" / f"{NEW}.md").write_text(new, encoding="utf-8")
            continue
        for file in sorted((home / name).glob("*.yaml")) if name.endswith("/") else [home / name]:
            file.write_text(edit(file.read_text(encoding="utf-8")), encoding="utf-8")
    return topic, shop


def test_the_list_names_exactly_these_files_in_this_order() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.partition("\n### A fastening\n")[2].partition("\n### ")[0]
    named = re.findall(r"^\d+\. `([\w./]+)`", section, re.MULTILINE)
    assert named[: len(STEPS)] == list(STEPS)


def test_walked_to_its_end_the_check_is_content(tmp_path: Path) -> None:
    topic, shop = walk(tmp_path)
    done = run("check", "--topic", topic, "--shop", shop)
    assert done.stdout.count("\n") == 1, done.stdout
    assert done.returncode == 0
    asked = run("ask", "17 splines, it stays still, 27 mm by calliper", "--topic", topic, "--shop", shop, "--json")
    assert f'"fastening": "{NEW}"' in asked.stdout


@pytest.mark.parametrize(("left_out", "said"), LEFT_OUT.items())
def test_a_file_that_was_left_out_is_named(tmp_path: Path, left_out: str, said: str) -> None:
    topic, shop = walk(tmp_path, left_out)
    assert said in run("check", "--topic", topic, "--shop", shop).stdout
