# SPDX-License-Identifier: MIT
"""All that a diagnosis works with: knowledge, chassis, rules, fault model, and what the bench has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Measurement
from backporch.engine.session.reading import TypedReading

__all__ = ["Bench", "FaultModel", "Hypothesis", "Offer", "Workbench"]

Floats = NDArray[np.float64]


class Hypothesis(Protocol):
    """One way in which the set may be faulty: a part and how it failed."""

    @property
    def id(self) -> str:
        """``part:mode``, unique on a chassis."""

    @property
    def part(self) -> str:
        """The part's name on the chassis, or "" for something unlisted."""

    @property
    def stage(self) -> str:
        """The stage that the part belongs to."""

    @property
    def title(self) -> str:
        """The hypothesis in words, for example "C41 (vertical coupling) leaky"."""


class Offer(Protocol):
    """A measurement as it can be made on this chassis."""

    @property
    def id(self) -> str:
        """``measurement`` or ``measurement@target``."""

    @property
    def name(self) -> str:
        """The measurement's name in the knowledge base."""

    @property
    def target(self) -> str:
        """The tube or part that it is made on, or ""."""

    @property
    def measurement(self) -> Measurement:
        """What the knowledge base says of it."""


class FaultModel(Protocol):
    """What the virtual chassis says of every fault."""

    @property
    def hypotheses(self) -> Sequence[Hypothesis]:
        """All single faults."""

    @property
    def offers(self) -> Mapping[str, Offer]:
        """All measurements that can be made on this chassis, by id."""

    def prior(self, condition: str, last_event: str, renewed: frozenset[str]) -> Floats:
        """Return the probability of each hypothesis before anything is seen; sums to 1."""

    def likelihood(self, offer: str, answer: str | TypedReading) -> Floats:
        """Return how likely an answer is under each hypothesis."""

    def outcome_table(self, offer: str) -> tuple[Sequence[str], Floats]:
        """Return the outcomes of an offer, in words, and their probability, (outcomes, hypotheses)."""


@dataclass(frozen=True)
class Bench:
    """What is at hand, and how the set stands on it."""

    instruments: frozenset[str]
    rig: str = ""
    """Name of the substitute tube and yoke in use, or "" for the set's own."""
    minutes: Mapping[str, float] = field(default_factory=dict)
    """Minutes of measurements that this person takes longer or shorter for, by name."""


@dataclass(frozen=True)
class Workbench:
    """All that a diagnosis works with."""

    library: Library
    chassis: Chassis
    inference: Inference
    faults: FaultModel
    bench: Bench
