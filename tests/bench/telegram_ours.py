"""Our own bot on the platform's double, with nothing loaded that `triagebot serve` does not load.

    python -m tests.bench.telegram_ours [paced]

is `triagebot serve`, but that without `paced` it does not keep the platform's pace: the double asks for none, and what
is measured is us.
"""

import os
import sys
from pathlib import Path

from triagebot import cli
from triagebot.rates import Rate

#: Room for more than anybody could send.
NO_LIMIT = Rate(1e9, 1e9)


def environment(folder: Path, server: str, token: str) -> dict[str, str]:
    """The settings of a bot that works in that folder."""
    return {
        "TRIAGEBOT_SETTINGS": os.devnull,
        "TRIAGEBOT_DATA_FOLDER": str(folder / "data"),
        "TRIAGEBOT_KEY_FILE": str(folder / "key"),
        "TRIAGEBOT_TELEGRAM_SERVER": server,
        "TRIAGEBOT_TELEGRAM_TOKEN": token,
        "TRIAGEBOT_WEB_PORT": "0",
    }


def main() -> None:
    if "paced" not in sys.argv:
        from triagebot.channels.telegram import bot_api  # late, as when serving

        bot_api.BOT_ROOM = bot_api.CHAT_ROOM = NO_LIMIT
    sys.argv[1:] = ["serve"]
    cli.main()


if __name__ == "__main__":
    main()
