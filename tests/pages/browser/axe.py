"""axe-core, the accessibility checker, fetched once into the virtual environment and injected into pages.

It comes from the npm registry through npm; which release, and with which digest, is decided here.
"""

import hashlib
import json
import os
import subprocess
import sys
import tarfile
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Page

RELEASE = "axe-core@4.14.1"
SHA512 = (
    "1477dafa598d8d065f273d6af302aa203c02e83131707b7fa648cd41bd3d6b73"
    "4f8c22a0dab86ee6a6f64b8afbe804b214d36db85a2826965edfb3a0b9d546b5"
)
FOLDER = Path(sys.prefix) / "axe-core"
#: Moderate and minor findings are printed by `faults`, but stop nobody.
SERIOUS = ("serious", "critical")


SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")


class Unavailable(Exception):  # noqa: N818 - says what it is
    """It is not here and cannot be fetched."""


@cache
def source() -> str:
    """The checker's code. Raises Unavailable."""
    package = FOLDER / f"{RELEASE.replace('@', '-')}.tgz"
    if not package.exists():
        _fetch(package)
    if hashlib.sha512(package.read_bytes()).hexdigest() != SHA512:
        raise Unavailable(f"{package} is not the {RELEASE} that was meant; delete it")
    with tarfile.open(package) as archive:
        member = archive.extractfile("package/axe.min.js")
        assert member is not None
        return member.read().decode()


def _fetch(package: Path) -> None:
    package.parent.mkdir(exist_ok=True)
    command = ["npm", "pack", RELEASE, "--pack-destination", str(package.parent), "--silent"]
    try:
        done = subprocess.run(command, cwd=package.parent, capture_output=True, text=True, timeout=120, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise Unavailable(f"npm cannot be run: {error}") from error
    if done.returncode or not package.exists():
        raise Unavailable(f"npm could not fetch {RELEASE}: {done.stderr.strip()[-300:]}")


@dataclass(frozen=True)
class Axe:
    """`axe(page)` is what is seriously wrong with the page as it stands, in lines; empty when all is well.

    The page's context must have been made with `bypass_csp=True`.
    """

    code: str

    def __call__(self, page: Page) -> list[str]:
        if page.evaluate("typeof axe === 'undefined'"):  # once a document, however often that is looked at
            page.evaluate(self.code)
        outcome: dict[str, Any] = page.evaluate("axe.run(document, { resultTypes: ['violations'] })")
        return [
            f"{found['impact']} {found['id']}: {json.dumps([node['html'][:160] for node in found['nodes']][:3])}"
            for found in outcome["violations"]
            if found["impact"] in SERIOUS
        ]


def faults_everywhere(page: Page, axe: Axe, sizes: Iterable[tuple[int, int]]) -> dict[tuple[int, str], Any]:
    """What is seriously wrong with the page as it stands, in each of the sizes, light and dark, and where it runs off
    the side; empty when all is well. One page for all of them, since opening one takes longer than checking it."""
    found: dict[tuple[int, str], Any] = {}
    for width, height in sizes:
        page.set_viewport_size({"width": width, "height": height})
        found[width, "off the side"] = page.evaluate("document.documentElement.scrollWidth > window.innerWidth")
        for scheme in SCHEMES:
            page.emulate_media(color_scheme=scheme)
            found[width, scheme] = axe(page)
    return {where: what for where, what in found.items() if what}


def axe_or_skip() -> Axe:
    """Fails in CI and skips elsewhere when the checker cannot be had."""
    try:
        return Axe(source())
    except Unavailable as error:
        if os.environ.get("CI"):
            pytest.fail(str(error))
        pytest.skip(f"ACCESSIBILITY NOT CHECKED: {error}")
