"""Understanding of free text: what a message means where the conversation stands. No wording, no I/O but the words files."""

from triagebot.conversation.understanding.reader import understand
from triagebot.conversation.understanding.scene import Setting
from triagebot.conversation.understanding.words import Words, check_words, languages, load_words

__all__ = ["Setting", "Words", "check_words", "languages", "load_words", "understand"]
