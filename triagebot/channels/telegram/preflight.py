"""What stands in the way of serving on Telegram, and what is well: the token, the webhook, and the staff's room."""

from typing import Any

from telegram.error import InvalidToken, TelegramError

from triagebot.channels.telegram.bot_api import SERVER, Client, client, redacted

#: Problems, and what is well, in lines for the person who runs this.
Found = tuple[list[str], list[str]]

#: Who is in a group and may do there what its owner lets them.
_THERE = ("creator", "administrator", "member", "restricted")


async def problems(token: str, server: str, webhook: str | None, room: int | None) -> Found:
    """`webhook` and `room` as they are set up; None for none."""
    bot = client(token, server)
    try:
        me = await bot.get_me()
        there = await bot.get_webhook_info()
        wrong, well = await _room(bot, me.id, room) if room is not None else ([], [])
    except InvalidToken:
        return [f"telegram: {server} does not accept the token; give the present one"], []
    except TelegramError as error:
        return [f"telegram: {server} cannot be reached ({redacted(error)})"], []
    finally:
        await bot.hang_up()
    well.insert(0, f"telegram: the token is that of @{me.username}")
    if webhook is None and there.url:
        well.append("telegram: a webhook is set for this bot; triagebot serve takes it away and fetches by itself")
    return [*([insecure] if (insecure := webhook_problem(webhook, server)) else []), *wrong], well


def webhook_problem(webhook: str | None, server: str) -> str:
    """What is wrong with the address of a webhook; "" for nothing. A server of one's own may send anywhere."""
    if webhook is None or not webhook.startswith("http://") or server != SERVER:
        return ""
    return f"telegram: {webhook} begins with http://, and Telegram only sends to https://"


async def _room(bot: Client, me: int, room: int) -> Found:
    """Whether the room is there, the bot is in it and may make topics, and anybody else is."""
    try:
        chat: dict[str, Any] = await bot.ask("getChat", chat_id=room)
        own: dict[str, Any] = await bot.ask("getChatMember", chat_id=room, user_id=me)
        count: int = await bot.ask("getChatMemberCount", chat_id=room)
    except TelegramError as error:
        why = redacted(error)
        return [
            f"telegram: the staff's room {room} cannot be found ({why}): add the bot to the group, and check the id"
        ], []
    named = f"telegram: the staff's room “{chat.get('title', room)}”"
    if chat.get("type") == "private":
        return [f"telegram: {room} is a private chat, and no group of the staff's"], []
    if own.get("status") not in _THERE:
        return [f"{named}: the bot is not in it; add it"], []
    wrong = [f"{named}: nobody but the bot is in it"] if count <= 1 else []
    if chat.get("is_forum"):
        topics = own.get("status") == "creator" or bool(own.get("can_manage_topics"))
        if not topics:
            wrong.append(f"{named}: the bot may not manage topics; make it an administrator with that right")
        return wrong, [] if wrong else [f"{named}: {count} members, a topic for each case"]
    return wrong, [] if wrong else [f"{named}: {count} members, without topics: each case is a thread of replies"]
