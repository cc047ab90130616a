"""What a topic leaves out, and what it defines for nothing. It would work all the same, but nobody should rely on it.

Memory alone carries no safety line, a fastening with a remover says how it turns and goes back, and every answer names
its source.
"""

from triagebot.errors import Problem
from triagebot.topics.marks import Files
from triagebot.topics.schema import Fastening
from triagebot.topics.topic import Topic

#: What a fastening's `sources` may name beside the questions that it answers.
SOURCE_KEYS = frozenset({"default", "prior", "system", "remover", "direction", "accessories", "cautions", "advice"})


def loose_ends(topic: Topic, files: Files) -> list[Problem]:
    """Everything left out or defined for nothing, with its place."""
    return [*_unsourced(topic, files), *_incomplete(topic, files), *_from_memory(topic, files), *_unused(topic, files)]


def _unsourced(topic: Topic, files: Files) -> list[Problem]:
    found = []
    for place, row in enumerate(topic.catalogue.fastenings):
        path = ("fastenings", place, "sources")
        for name in row.sources:
            if name not in SOURCE_KEYS and name not in row.answers:
                message = f"nothing called {name!r} stands in this fastening"
                found.append(files.problem("catalogue.yaml", (*path, name), message, key=True))
        if "default" not in row.sources:
            missing = [name for name in row.answers if name not in row.sources]
            if missing:
                message = f"no source for {', '.join(missing)}, and no default"
                found.append(files.problem("catalogue.yaml", path, message, key=True))
    return found


def _incomplete(topic: Topic, files: Files) -> list[Problem]:
    found = []
    for place, row in enumerate(topic.catalogue.fastenings):
        for field in _owed(row):
            message = f"a fastening with a remover must say its {field}"
            found.append(files.problem("catalogue.yaml", ("fastenings", place, "id"), message))
    return found


def _owed(row: Fastening) -> list[str]:
    if row.remover is None:
        return [] if row.advice else ["advice"]
    given = {
        "direction": "direction" in row.model_fields_set,
        "refitting": row.refitting is not None,
        "cautions": bool(row.cautions),
        "advice": bool(row.advice),
    }
    return [field for field, there in given.items() if not there]


def _from_memory(topic: Topic, files: Files) -> list[Problem]:
    return [
        files.problem(
            "catalogue.yaml", ("cautions", place, "source"), f"memory cannot be the only source of a {row.signal}"
        )
        for place, row in enumerate(topic.catalogue.cautions)
        if row.signal != "notice" and topic.sources[row.source].kind == "memory"
    ]


def _unused(topic: Topic, files: Files) -> list[Problem]:
    catalogue, flow = topic.catalogue, topic.flow
    rows, extra = catalogue.fastenings, flow.extra_cautions
    used: dict[str, set[str]] = {
        "removers": {row.remover for row in rows if row.remover},
        "accessories": {name for row in rows for name in row.accessories}.union(*(row.accessories for row in extra)),
        "cautions": {name for row in rows for name in row.cautions}
        | {row.caution for row in extra}
        | {row.caution for row in (*flow.referrals, *flow.shop_referrals)},
    }
    found = [
        files.problem("catalogue.yaml", (top, place, "id"), "nothing uses it")
        for top, names in used.items()
        for place, row in enumerate(getattr(catalogue, top))
        if row.id not in names
    ]
    guards = {name for transition in flow.transitions for name in transition.guards}
    found += [
        files.problem("flow.yaml", ("guards", name), "no transition uses it", key=True)
        for name in flow.guards
        if name not in guards
    ]
    return found
