"""Wide topics: the built-in one with many more fastenings, of random geometry, as the yardstick of how work grows.

The questions, the shares of the kinds and the share of fastenings that have a remover of their own stay as they are.
"""

import random
import shutil
from dataclasses import replace
from pathlib import Path

from triagebot.conversation import Guide, load_guide
from triagebot.shop import built_in_shop, load_shop
from triagebot.topics import Fastening, Remover, Topic, TrueSize


def widened(topic: Topic, fastenings: int, folder: Path, seed: int = 1) -> Topic:
    """The topic with that many fastenings in all; its texts are written to `folder`."""
    chance = random.Random(seed)
    listed = [f for f in topic.catalogue.fastenings if not f.broad]
    own = len(topic.catalogue.removers) / len(listed)
    rows, removers = list(topic.catalogue.fastenings), list(topic.catalogue.removers)
    for number in range(fastenings - len(rows)):
        model = chance.choice(listed)
        remover = model.remover
        if remover is not None:
            if chance.random() < own:
                removers.append(Remover(id=f"remover-{number}", source=removers[0].source))
            remover = removers[-1].id
        rows.append(_like(model, f"fastening-{number}", remover, topic, chance))
    catalogue = topic.catalogue.model_copy(update={"fastenings": tuple(rows), "removers": tuple(removers)})
    _write_texts(topic, folder, rows[len(topic.catalogue.fastenings) :], removers[len(topic.catalogue.removers) :])
    return replace(topic, folder=folder, catalogue=catalogue)


def wide_guide(topic: Topic, fastenings: int, folder: Path) -> Guide:
    """All that a conversation about the widened topic needs, with the example shop."""
    wide = widened(topic, fastenings, folder)
    return load_guide(wide, load_shop(built_in_shop(), wide))


def _like(model: Fastening, name: str, remover: str | None, topic: Topic, chance: random.Random) -> Fastening:
    """A fastening of the same kind and another geometry: as many things to count, and as wide, as chance has it."""
    answers = dict(model.answers)
    for question in answers:
        kind = topic.questions[question].kind
        if kind == "size":
            answers[question] = TrueSize(mm=round(chance.uniform(12, 50), 1))
        elif question == "count":
            answers[question] = str(chance.randint(2, 40))
    return model.model_copy(update={"id": name, "remover": remover, "answers": answers})


def _write_texts(topic: Topic, folder: Path, fastenings: list[Fastening], removers: list[Remover]) -> None:
    shutil.copytree(topic.folder / "text", folder / "text")
    lines = [f"fastening-{f.id} = kind {f.id}\n    .short = {f.id}\n" for f in fastenings]
    lines += [f"remover-{r.id} = the tool {r.id}\n" for r in removers]
    for file in (folder / "text").glob("*.ftl"):
        file.write_text(file.read_text(encoding="utf-8") + "\n" + "".join(lines), encoding="utf-8")
