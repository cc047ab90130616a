"""Everything that can be configured, and where it may come from.

`model` says what can be set and what each setting means, `values` what single ones must look like, `sources` where
they come from and which source wins, `branches` what each branch of a chain sets itself.
"""

from triagebot.settings.branches import PAGES, Branch, clashes, load_branches
from triagebot.settings.model import MatrixAccount, Settings
from triagebot.settings.sources import FILE_NAME, load_settings, settings_table
from triagebot.settings.values import secret_in

__all__ = [
    "FILE_NAME",
    "PAGES",
    "Branch",
    "MatrixAccount",
    "Settings",
    "clashes",
    "load_branches",
    "load_settings",
    "secret_in",
    "settings_table",
]
