"""How the bot presents itself: its menu of commands and its descriptions, in every language that it speaks.

Decided here and nowhere else: the menu is offered in private chats; in groups the bot answers only when spoken to.
"""

from telegram import BotCommand, BotCommandScopeAllPrivateChats

from triagebot.channels.telegram.bot_api import Client
from triagebot.channels.telegram.limits import MOST_COMMAND, MOST_DESCRIPTION, MOST_SHORT_DESCRIPTION, cut
from triagebot.channels.telegram.reading import COMMANDS
from triagebot.conversation import Guide
from triagebot.topics import Texts


async def introduce(client: Client, guide: Guide) -> None:
    """Sets menus and descriptions that differ from what is set. Raises TelegramError."""
    own = guide.language(guide.shop.language).texts
    await _set(client, guide, own, None)
    for code, language in guide.spoken.items():
        if len(code) == 2:  # the platform knows languages by two letters
            await _set(client, guide, language.texts, code)


async def _set(client: Client, guide: Guide, texts: Texts, code: str | None) -> None:
    menu = [BotCommand(name, cut(texts(f"telegram-menu-{name}"), MOST_COMMAND)) for name in COMMANDS]
    scope = BotCommandScopeAllPrivateChats()
    if list(await client.get_my_commands(scope=scope, language_code=code)) != menu:
        await client.set_my_commands(menu, scope=scope, language_code=code)
    about = {"shop": guide.shop.name, "purpose": texts("topic-purpose")}
    long = cut(texts("telegram-description", **about), MOST_DESCRIPTION)
    if (await client.get_my_description(code)).description != long:
        await client.set_my_description(long, code)
    short = cut(texts("telegram-short-description", **about), MOST_SHORT_DESCRIPTION)
    if (await client.get_my_short_description(code)).short_description != short:
        await client.set_my_short_description(short, code)
