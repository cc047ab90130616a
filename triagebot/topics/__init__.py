"""Reads and checks a topic folder and hands it over as typed objects.

Checks and drawings are loaded on first use, so that a conversation starts without them.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from triagebot.topics.choosing import handing_over
from triagebot.topics.compile import compile_model, remedy_of, size_noise, truth_mix
from triagebot.topics.flowchart import OWN_STATES, expand
from triagebot.topics.learned import LEAST, PRIOR_WORTH, Learned, floored, floors, learned_text, taught
from triagebot.topics.load import (
    Parts,
    built_in_topic,
    digest,
    load_topic,
    validated_with_marks,
)
from triagebot.topics.marks import Files, Marks, field_name, read_yaml, text_of
from triagebot.topics.procedure_rows import (
    ENDINGS,
    EXITS,
    REMOVER,
    TROUBLES,
    TURNS,
    Ending,
    Exit,
    Procedure,
    Step,
    Trouble,
    Turn,
)
from triagebot.topics.references import PRIOR_TOLERANCE
from triagebot.topics.schema import (
    Caution,
    Fastening,
    Flow,
    Guard,
    Question,
    Referral,
    Remover,
    Source,
    State,
    TrueSize,
)
from triagebot.topics.texts import Texts, languages, load_texts, messages, proved_texts, texts_of
from triagebot.topics.topic import Topic

if TYPE_CHECKING:
    from triagebot.topics.apart import unnamed
    from triagebot.topics.check import check_topic
    from triagebot.topics.show import catalogue_table, mermaid
    from triagebot.topics.speech import Speech, load_speech

__all__ = [
    "ENDINGS",
    "EXITS",
    "LEAST",
    "OWN_STATES",
    "PRIOR_TOLERANCE",
    "PRIOR_WORTH",
    "REMOVER",
    "TROUBLES",
    "TURNS",
    "Caution",
    "Ending",
    "Exit",
    "Fastening",
    "Files",
    "Flow",
    "Guard",
    "Learned",
    "Marks",
    "Parts",
    "Procedure",
    "Question",
    "Referral",
    "Remover",
    "Source",
    "Speech",
    "State",
    "Step",
    "Texts",
    "Topic",
    "Trouble",
    "TrueSize",
    "Turn",
    "built_in_topic",
    "catalogue_table",
    "check_topic",
    "compile_model",
    "digest",
    "expand",
    "field_name",
    "floored",
    "floors",
    "handing_over",
    "languages",
    "learned_text",
    "load_speech",
    "load_texts",
    "load_topic",
    "mermaid",
    "messages",
    "proved_texts",
    "read_yaml",
    "remedy_of",
    "size_noise",
    "taught",
    "text_of",
    "texts_of",
    "truth_mix",
    "unnamed",
    "validated_with_marks",
]


#: The names that no conversation needs, and the module of each.
_LATE = {
    "check_topic": "check",
    "unnamed": "apart",
    "catalogue_table": "show",
    "mermaid": "show",
    "Speech": "speech",
    "load_speech": "speech",
}


def __getattr__(name: str) -> Any:
    if name not in _LATE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"triagebot.topics.{_LATE[name]}"), name)
