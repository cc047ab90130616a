"""What people write, language by language: the file `words/<language>.yaml` beside a module, or English where there is
none."""

from pathlib import Path
from typing import Any

from triagebot.shop import fold
from triagebot.topics import read_yaml

_FALLBACK = "en"


def words_beside(module: str, language: str) -> dict[str, Any]:
    """The words of a language for the `module` at this path. Raises DataError for a file that cannot be read."""
    folder = Path(module).resolve().parent / "words"
    path = folder / f"{language.partition('-')[0]}.yaml"
    words, _ = read_yaml(path if path.is_file() else folder / f"{_FALLBACK}.yaml")
    return words


def folded(phrases: Any) -> tuple[str, ...]:
    """Phrases as they are compared: without capitals, accents and signs."""
    return tuple(fold(str(phrase)) for phrase in phrases)


def by_phrase(commands: Any) -> dict[str, str]:
    """The command that each of its phrases names."""
    return {phrase: command for command, phrases in commands.items() for phrase in folded(phrases)}
