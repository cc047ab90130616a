"""Telegram: the whole conversation on a phone, by buttons and by typing, one message a turn."""

import sys

# Importing the library imports httpx, which we do not use, and with it httpx's command line for people: its colours
# take 3 MB. httpx does without that module where it cannot be imported; it has no switch for it.
sys.modules.setdefault("httpx._main", None)  # type: ignore[arg-type]

from triagebot.channels.telegram.bot_api import SERVER, Client, client  # noqa: E402 - after what it is not to load
from triagebot.channels.telegram.channel import Telegram  # noqa: E402

__all__ = ["SERVER", "Client", "Telegram", "client"]
