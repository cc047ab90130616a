"""Which texts a topic needs for what people ask in between: `text/<language>.enquiries.yaml` names them."""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import yaml


def optional_enquiry_texts(folder: Path, language: str, questions: Iterable[str]) -> frozenset[str]:
    """The texts that the topic's enquiries may have: what each is called where it is offered, what it
    is where the remover turns clockwise, and what each of these
    questions answers to it, when it is the open one, in words of its own."""
    names = tuple(_table(folder, language).get("enquiries") or ())
    of_questions = (f"question-{question}.{name}" for question in questions for name in names)
    own = (f"enquiry-{name}.{part}" for name in names for part in ("offer", "clockwise"))
    return frozenset([*own, *of_questions])


def enquiry_texts(folder: Path, language: str) -> frozenset[str]:
    """The texts that the topic's enquiries and glossary call for in a language. A file that is missing or cannot be
    read calls for none; `check_enquiries` reports the fault."""
    table = _table(folder, language)
    differences = [row.get("text", "") for row in table.get("differences") or () if isinstance(row, dict)]
    words = [f"glossary-{name}" for name in (*(table.get("glossary") or {}), *differences)]
    enquiries = table.get("enquiries") or {}
    unneeded = [
        f"enquiry-{name}.unneeded" for name, ways in enquiries.items() if isinstance(ways, dict) and ways.get("about")
    ]
    alike = (
        f"enquiry-{name}.{which}"
        for name, ways in enquiries.items()
        if isinstance(ways, dict) and ways.get("says") == "look-alike"
        for which in ("usual", "other")
    )
    direction = (
        f"enquiry-{name}.clockwise"
        for name, ways in enquiries.items()
        if isinstance(ways, dict) and ways.get("says") == "direction"
    )
    return frozenset([*words, *(f"enquiry-{name}" for name in enquiries), *unneeded, *alike, *direction])


def _table(folder: Path, language: str) -> Mapping[str, Any]:
    file = folder / "text" / f"{language}.enquiries.yaml"
    if not file.exists():
        return {}
    try:
        data = yaml.load(file.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    except (OSError, UnicodeDecodeError, yaml.YAMLError):
        return {}
    return data if isinstance(data, dict) else {}
