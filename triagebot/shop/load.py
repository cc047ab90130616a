"""A shop folder read into one frozen value.

This file decides which files a shop has and where the example shop lies. A shop that loads agrees with
itself and with the topic (`agreement.py`); what it ought to hold besides is proved by `check.py`.
"""

from pathlib import Path
from types import MappingProxyType

from triagebot.errors import DataError, Problem
from triagebot.shop.agreement import disagreements
from triagebot.shop.notes import read_notes
from triagebot.shop.parts import PartsFile
from triagebot.shop.schema import LinksFile, MakersFile, RepliesFile, ServicesFile, ShopFile, ToolsFile
from triagebot.shop.shop import Shop
from triagebot.topics import Files, Learned, Parts, Topic, digest

#: The files that a shop may leave out: what it does itself, what is described elsewhere, what closed cases have taught,
#: what the staff often write, and what it sells in place of what comes off.
SERVICES = "services.yaml"
LINKS = "links.yaml"
LEARNED = "learned.yaml"
REPLIES = "replies.yaml"
PARTS = "parts.yaml"

#: The shop that comes with the program, invented from end to end.
EXAMPLE = "example-shop"


def built_in_shop() -> Path:
    """The folder of the example shop: inside an installed package, else beside a checkout's."""
    package = Path(__file__).resolve().parent.parent
    installed = package / "_data" / EXAMPLE
    return installed if installed.is_dir() else package.parent / "deploy" / EXAMPLE


def load_shop(folder: Path, topic: Topic | None) -> Shop:
    """Read a shop folder. Raises DataError with every problem of every file.

    With a topic, every remover, accessory, fastening, system and choice that the shop names must be one of the topic's.
    """
    shop, _, problems = read_shop(folder, topic)
    if shop is None or problems:
        raise DataError(folder, problems)
    return shop


def read_shop(folder: Path, topic: Topic | None) -> tuple[Shop | None, Files, tuple[Problem, ...]]:
    """Read a folder for checking: the shop if its files have the right shape, their marks, and every problem so far."""
    parts = Parts(folder)
    problems = parts.problems
    about = parts.read(ShopFile, "shop.yaml")
    tools = parts.read(ToolsFile, "tools.yaml")
    services = parts.read(ServicesFile, SERVICES) if (folder / SERVICES).exists() else ServicesFile()
    makers = parts.read(MakersFile, "makers.yaml")
    links = parts.read(LinksFile, LINKS) if (folder / LINKS).exists() else LinksFile()
    replies = parts.read(RepliesFile, REPLIES) if (folder / REPLIES).exists() else RepliesFile()
    sold = parts.read(PartsFile, PARTS) if (folder / PARTS).exists() else PartsFile()
    learned = parts.read(Learned, LEARNED) if (folder / LEARNED).exists() else None
    notes, note_marks = read_notes(folder / "notes", problems)
    files = Files(folder, MappingProxyType(parts.marks | note_marks))
    if (
        about is None
        or tools is None
        or services is None
        or makers is None
        or links is None
        or replies is None
        or sold is None
    ):
        return None, files, tuple(sorted(problems))
    try:
        content = digest(folder)
    except DataError as error:
        return None, files, tuple(sorted({*problems, *error.problems}))
    shop = Shop(
        folder=folder,
        about=about,
        tools_file=tools,
        services_file=services,
        makers_file=makers,
        notes=notes,
        systems=MappingProxyType({f.id: f.system for f in topic.catalogue.fastenings} if topic else {}),
        digest=content,
        elsewhere=MappingProxyType(links.links),
        replies_file=replies,
        parts_file=sold,
        learned=learned,
    )
    problems += disagreements(shop, topic, files)
    return shop, files, tuple(sorted(problems))
