"""Telegram: the whole conversation on a phone, by buttons and by typing, one message a turn."""

import sys

# The library's usual transport, which is not used here, has a command line for people; its colours take 4 MB.
sys.modules.setdefault("httpx._main", None)  # type: ignore[arg-type]

from triagebot.channels.telegram.channel import Telegram  # noqa: E402 - after what it is not to load
from triagebot.channels.telegram.client import SERVER, Client, client  # noqa: E402

__all__ = ["SERVER", "Client", "Telegram", "client"]
