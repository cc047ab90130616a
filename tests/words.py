"""What is said in a reply before its question, as one text to look into."""

from triagebot.conversation import Reply
from triagebot.conversation.reply import plain_of


def words_of(reply: Reply) -> str:
    return plain_of(reply.said)
