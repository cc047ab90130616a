"""Understanding of free text: what a message means where the conversation stands. No wording."""

from triagebot.conversation.understanding.layout import Setting
from triagebot.conversation.understanding.loading import check_words, languages, load_words
from triagebot.conversation.understanding.normalise import readable
from triagebot.conversation.understanding.phrasebook import Phrasebook, phrasebook
from triagebot.conversation.understanding.plain_answer import plain_answer
from triagebot.conversation.understanding.reader import counted_only, understand
from triagebot.conversation.understanding.words import Words

__all__ = [
    "Phrasebook",
    "Setting",
    "Words",
    "check_words",
    "counted_only",
    "languages",
    "load_words",
    "phrasebook",
    "plain_answer",
    "readable",
    "understand",
]
