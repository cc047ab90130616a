"""What the platform allows, and how much of it we use. The figures are those of the platform's public description;
where it names only "about", we stay below."""

from triagebot.rates import Rate

#: UTF-16 units of a message and of a caption, counted after the marks have been read.
MOST_TEXT, MOST_CAPTION = 4096, 1024
#: Bytes of what a button carries back; characters of a notice that flashes up.
MOST_BUTTON, MOST_NOTICE = 64, 200
#: Characters of the bot's description, of the short one, and of a command's.
MOST_DESCRIPTION, MOST_SHORT_DESCRIPTION, MOST_COMMAND = 512, 120, 256

#: Room for messages. Refill keeps below one a second in a chat; burst and refill together keep below twenty a minute in
#: a group; and no second sees more of the bot than its room, which is below thirty: on the way, messages may bunch up.
CHAT_ROOM = Rate(2, 2 / 2.4)
GROUP_ROOM = Rate(4, 15 / 60)
BOT_ROOM = Rate(28, 28)
#: Of the bot's room, so much is left to new messages by changes of old ones.
FOR_MESSAGES = 8
#: Seconds that a change of an old message waits for room. Then it is left out: the next answer of its person would have
#: to wait behind it, and a press on what it would have taken away is told that it came too late. Where messages
#: wait for longer, there is no room left over until so long after.
EDIT_WAITS = 0.5
#: So many chats have their room remembered; who comes back after that has a full one.
MOST_ROOMS = 10_000

#: Seconds that one request for updates is held; the platform's own limit is 50.
POLL = 25
#: Bytes of what a webhook is sent; the largest update is a few hundred kB.
MOST_BODY = 1_000_000
#: Connections over which a webhook is sent updates.
WEBHOOK_CONNECTIONS = 40

#: Characters of a topic's name.
MOST_TOPIC = 128

#: The kinds of updates that we want; all others are not even sent.
KINDS = ("message", "edited_message", "callback_query")
#: Characters of a button that a narrow phone still shows; longer choices are listed in the text as well.
SEEN_ON_A_BUTTON = 34


def cut(text: str, most: int) -> str:
    """At most so many characters, ended at a word."""
    if len(text) <= most:
        return text
    return text[: most - 1].rsplit(" ", 1)[0].rstrip(" ,.;:") + "…"
