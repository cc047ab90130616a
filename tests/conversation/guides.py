"""The topic and the example shop that ship, loaded once, and copies of the topic that somebody has edited."""

import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path

from triagebot.conversation import Guide, load_guide
from triagebot.shop import built_in_shop, load_shop
from triagebot.topics import Topic, built_in_topic, load_topic
from triagebot.topics.schema import Guard


@cache
def shipped_guide() -> Guide:
    """The guide that everybody gets who sets nothing; loaded once a process."""
    topic = load_topic(built_in_topic())
    return load_guide(topic, load_shop(built_in_shop(), topic))


def without_question(guide: Guide, question: str) -> Guide:
    """The guide after somebody took a question out of the topic, with its state, its transitions and its guards."""
    topic = guide.topic
    flow = topic.flow
    states = tuple(state for state in flow.states if state.question != question)
    ids = {state.id for state in states}
    edited = flow.model_copy(
        update={
            "questions": tuple(q for q in flow.questions if q.id != question),
            "states": states,
            "transitions": tuple(t for t in flow.transitions if t.to in ids),
            "guards": {name: _without(guard, question) for name, guard in flow.guards.items()},
        }
    )
    fastenings = tuple(
        f.model_copy(update={"answers": {q: truth for q, truth in f.answers.items() if q != question}})
        for f in topic.catalogue.fastenings
    )
    catalogue = topic.catalogue.model_copy(update={"fastenings": fastenings})
    changed = Topic(
        topic.folder, topic.id, catalogue, edited, topic.sources, topic.gauges, f"{topic.digest} without {question}"
    )
    return replace(guide, topic=changed)


def _without(guard: Guard, question: str) -> Guard:
    """The guard without what it says about a question."""
    kept = {
        part: {q: choices for q, choices in getattr(guard, part).items() if q != question}
        for part in ("answered", "not_answered")
    }
    return guard.model_copy(update={**kept, "mentioned": tuple(q for q in guard.mentioned if q != question)})


def with_renamed(guide: Guide, old: str, new: str, folder: Path, files: str = "**/*.*") -> Guide:
    """The guide after somebody gave a choice or a state of the topic another id, in every file that has it."""
    shutil.copytree(guide.topic.folder, folder)
    for path in (file for file in folder.glob(files) if file.suffix not in (".guess", ".jsonl")):
        path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    topic = load_topic(folder)
    return load_guide(topic, guide.shop)
