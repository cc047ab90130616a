"""Each claim of the room's page names a test that there is, or says how else it is known."""

import re
from importlib.metadata import version
from pathlib import Path

import triagebot.channels.matrix as room

(FOLDER,) = room.__path__
NOTES = (Path(FOLDER) / "NOTES.md").read_text(encoding="utf-8")
TESTS = "\n".join(path.read_text(encoding="utf-8") for path in Path(__file__).parent.glob("test_*.py"))


def test_each_claim_has_its_test_or_says_how_it_is_known() -> None:
    claims = re.split(r"^- ", NOTES, flags=re.MULTILINE)[1:]
    assert len(claims) > 30
    for claim in claims:
        named = re.findall(r"`(test_\w+)`", claim)
        assert named or "*read*" in claim or "*tried*" in claim, claim
        assert [name for name in named if f"def {name}(" not in TESTS] == []


def test_they_are_about_the_versions_that_are_installed() -> None:
    releases = [".".join(version(name).split(".")[:2]) for name in ("matrix-nio", "matrix-synapse")]
    assert NOTES.startswith("# What matrix-nio {} and Synapse {} really do\n".format(*releases))
