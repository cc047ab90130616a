"""A way back after every accident: backups while the bot runs, restoring them, looking what is wrong, and letters that
were set aside.

Everything here works on a data folder and a key file; settings and platforms are the commands' business.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from triagebot.keeping.backup import Taken, take_backup
    from triagebot.keeping.restore import Restored, restore_backup
    from triagebot.keeping.words import say

__all__ = ["Restored", "Taken", "restore_backup", "say", "take_backup"]

_MODULES = {"backup": ("Taken", "take_backup"), "restore": ("Restored", "restore_backup"), "words": ("say",)}
_WHERE = {name: module for module, names in _MODULES.items() for name in names}


def __getattr__(name: str) -> Any:
    """What needs the database library is loaded when it is first asked for."""
    from importlib import import_module

    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"triagebot.keeping.{_WHERE[name]}"), name)
