"""The conversation: a state machine, understanding of free text, wording. One turn is a pure function."""

from triagebot.conversation.blocks import Choice, Question
from triagebot.conversation.case import Case, Standing, fold_events, follow
from triagebot.conversation.edition import edition, edition_of
from triagebot.conversation.events import Event
from triagebot.conversation.guide import Guide, load_guide
from triagebot.conversation.policy import NextStep, next_step, try_by_hand
from triagebot.conversation.reply import Reply, Result, Share, from_data, plain, to_data, told
from triagebot.conversation.scene import Turn
from triagebot.conversation.turn import Message, answers_plainly, ask_first, greet, look, open_case, turn
from triagebot.conversation.understood import Fact, Meaning, Puzzle

__all__ = [
    "Case",
    "Choice",
    "Event",
    "Fact",
    "Guide",
    "Meaning",
    "Message",
    "NextStep",
    "Puzzle",
    "Question",
    "Reply",
    "Result",
    "Share",
    "Standing",
    "Turn",
    "answers_plainly",
    "ask_first",
    "edition",
    "edition_of",
    "fold_events",
    "follow",
    "from_data",
    "greet",
    "load_guide",
    "look",
    "next_step",
    "open_case",
    "plain",
    "to_data",
    "told",
    "try_by_hand",
    "turn",
]
