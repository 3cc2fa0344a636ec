# SPDX-License-Identifier: MIT
"""The parts of one recorded set: every value remembers the part that it is of."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

from backporch.engine.chassis.model import unit_of_kind
from backporch.engine.chassis.parts import Batch, Value
from backporch.engine.chassis.tracing import Tracer

__all__ = ["TracedBatch"]


@dataclass(frozen=True)
class TracedBatch(Batch):
    """A batch of one set whose values are traced."""

    tracer: Tracer = field(default_factory=Tracer)

    @classmethod
    def of(cls, batch: Batch, tracer: Tracer) -> TracedBatch:
        """Return the same set, traced."""
        return cls(**{f.name: getattr(batch, f.name) for f in fields(Batch)}, tracer=tracer)

    def value(self, stage: str, role: str, default: float = 0.0) -> Value:
        """Return the value in a role, traced to its part."""
        found = super().value(stage, role, default)
        index = self.names.by_role.get((stage, role))
        if index is None:
            return found
        traced: Value = self.tracer.leaf(
            "part", self.names.names[index], found, unit_of_kind(self.names.kinds[index])
        )
        return traced

    def position(self, stage: str, role: str) -> Value:
        """Return where a control stands, traced to it."""
        found = super().position(stage, role)
        index = self.names.by_role.get((stage, role))
        return found if index is None else self.tracer.leaf("part", f"{self.names.names[index]}_position", found)
