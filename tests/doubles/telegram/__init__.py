"""A fake Bot API server, for tests: the unmodified client of a bot talks to it over the loopback.

    with serve() as telegram:
        telegram.add_bot(TOKEN, "sprocket_bot")
        builder = ApplicationBuilder().token(TOKEN)
        builder.base_url(telegram.base_url).base_file_url(telegram.base_file_url)
        ada = telegram.add_person("Ada")
        ada.start()
        ada.wait_for(lambda screen: screen.last.buttons != ())
        ada.press("It turns")

`serve_apart` is the same in a process of its own. Written from the platform's public rules; `rules.py` holds them.
Nothing of triagebot is used here, so that a fault there cannot hide itself.
"""

from tests.doubles.telegram.acts import NotPossible
from tests.doubles.telegram.content import plain_png
from tests.doubles.telegram.faults import FAULTS, Fault, Faults
from tests.doubles.telegram.people import Button, Notice, Person, Screen, Shown, Telegram
from tests.doubles.telegram.platform import Entry
from tests.doubles.telegram.running import serve, serve_apart
from tests.doubles.telegram.world import Limits, some_token

__all__ = [
    "FAULTS",
    "Button",
    "Entry",
    "Fault",
    "Faults",
    "Limits",
    "NotPossible",
    "Notice",
    "Person",
    "Screen",
    "Shown",
    "Telegram",
    "plain_png",
    "serve",
    "serve_apart",
    "some_token",
]
