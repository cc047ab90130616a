"""Reads and checks a topic folder and hands it over as typed objects."""

from triagebot.topics.compile import compile_model, remedy_of, size_noise, truth_mix
from triagebot.topics.flowchart import expand
from triagebot.topics.load import (
    Topic,
    built_in_topic,
    field_name,
    load_topic,
    validated,
    validated_with_marks,
)
from triagebot.topics.marks import Marks, read_yaml
from triagebot.topics.schema import (
    Accessory,
    Catalogue,
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

__all__ = [
    "Accessory",
    "Catalogue",
    "Caution",
    "Fastening",
    "Flow",
    "Guard",
    "Marks",
    "Question",
    "Referral",
    "Remover",
    "Source",
    "State",
    "Topic",
    "TrueSize",
    "built_in_topic",
    "compile_model",
    "expand",
    "field_name",
    "load_topic",
    "read_yaml",
    "remedy_of",
    "size_noise",
    "truth_mix",
    "validated",
    "validated_with_marks",
]
