"""The ready priors of a topic (`priors/`), which a shop may start from: each has every fastening that has a remover.

A fastening that is left out keeps the topic's own share, which is that of another kind of shop.
"""

from triagebot.errors import DataError, Problem
from triagebot.topics.learned import Learned
from triagebot.topics.load import READY_PRIORS, validated_with_marks
from triagebot.topics.topic import Topic


def ready_priors_faults(topic: Topic) -> list[Problem]:
    """What a file of ready priors leaves out, and what it names that is not there."""
    found: list[Problem] = []
    for file in sorted((topic.folder / READY_PRIORS).glob("*.yaml")):
        try:
            ready, _ = validated_with_marks(Learned, file)
        except DataError as error:
            found += error.problems
            continue
        missing = [f.id for f in topic.catalogue.fastenings if f.remover is not None and f.id not in ready.priors]
        found += [Problem(str(file), 0, 0, f"priors: no share for the fastening {name!r}") for name in missing]
        unknown = sorted(ready.priors.keys() - topic.fastenings.keys())
        found += [Problem(str(file), 0, 0, f"priors: no fastening {name!r} in this topic") for name in unknown]
    return found
