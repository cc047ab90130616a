"""Answers after which each shop may choose to have a person look.

A chosen answer refers to a person like those that always do; an id that the topic does not have changes nothing.
"""

from collections.abc import Collection
from dataclasses import replace
from hashlib import sha256

from triagebot.topics.topic import Topic


def handing_over(topic: Topic, chosen: Collection[str]) -> Topic:
    """The topic with these of its `shop-referrals` in force, and a digest of its own; itself without any."""
    rows = tuple(row for row in topic.flow.shop_referrals if row.id in chosen)
    if not rows:
        return topic
    flow = topic.flow.model_copy(update={"referrals": (*topic.flow.referrals, *rows)})
    names = sorted({row.id for row in rows})
    return replace(topic, flow=flow, digest=sha256(f"{topic.digest} {names}".encode()).hexdigest())
