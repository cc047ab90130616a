"""Telegram: the whole conversation on a phone, by buttons and by typing, one message a turn."""

from triagebot.channels.telegram.channel import Telegram
from triagebot.channels.telegram.client import SERVER, Client, client

__all__ = ["SERVER", "Client", "Telegram", "client"]
