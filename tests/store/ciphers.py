"""A cipher for tests that need no database."""

from secrets import token_bytes

from triagebot.store.encryption import Cipher
from triagebot.store.key_file import new_key


def throw_away_cipher() -> Cipher:
    """Its keys exist nowhere else."""
    return Cipher((new_key().encode(),), token_bytes(32))
