"""The step of a turn that tells whoever asks whether theirs is ready how far the bike is that they left with us."""

from dataclasses import replace

from triagebot.conversation.visiting import says_ready
from triagebot.turns.in_hand import InHand


def tell_of_their_bike(at: InHand) -> InHand:
    """Nothing is looked up for any other reply, or where they left no bike."""
    if not says_ready(at.reply.blocks):
        return at
    from triagebot.cases.bike_told import with_their_bike  # late: they need the database library
    from triagebot.store.forgetting import own_cases

    guide, cases = at.turns.guide, (at.number, *own_cases(at.tx, at.lookup_hash))
    texts = guide.language(at.case.language).texts
    blocks = with_their_bike(at.tx, guide, texts, cases, at.reply.blocks, at.turns.clock())
    return replace(at, reply=replace(at.reply, blocks=blocks))
