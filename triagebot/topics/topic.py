"""A topic: everything that one folder under `flows/` says, as one frozen value."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import MappingProxyType

from triagebot.identify import Model
from triagebot.topics.compile import compile_model
from triagebot.topics.procedure_rows import Procedure
from triagebot.topics.schema import Accessory, Catalogue, Caution, Fastening, Flow, Question, Remover, Source


@dataclass(frozen=True, eq=False)
class Topic:
    """What one folder under `flows/` says. Maps by id keep the order of the files; `gauges` are in mm.

    `digest` (SHA-256, hex) changes with any byte or name of any file in the folder, so that a case can pin it.
    """

    folder: Path
    id: str
    catalogue: Catalogue
    flow: Flow
    sources: Mapping[str, Source]
    gauges: Mapping[str, float]
    digest: str
    procedures: tuple[Procedure, ...] = ()

    @cached_property
    def questions(self) -> Mapping[str, Question]:
        return MappingProxyType({q.id: q for q in self.flow.questions})

    @cached_property
    def fastenings(self) -> Mapping[str, Fastening]:
        return MappingProxyType({f.id: f for f in self.catalogue.fastenings})

    @cached_property
    def removers(self) -> Mapping[str, Remover]:
        return MappingProxyType({r.id: r for r in self.catalogue.removers})

    @cached_property
    def accessories(self) -> Mapping[str, Accessory]:
        return MappingProxyType({a.id: a for a in self.catalogue.accessories})

    @cached_property
    def cautions(self) -> Mapping[str, Caution]:
        return MappingProxyType({c.id: c for c in self.catalogue.cautions})

    def procedure_for(self, fastening: str) -> Procedure | None:
        """How this fastening comes off; None where nobody has written that down."""
        return next((each for each in self.procedures if fastening in each.fastenings), None)

    @cached_property
    def model(self) -> Model:
        """The arrays that identification works on."""
        return compile_model(self.catalogue, self.flow)
