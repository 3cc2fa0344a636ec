# SPDX-License-Identifier: MIT
"""All that a diagnosis works with: knowledge, chassis, rules, fault model, and what the bench has."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.hypotheses import Hypothesis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.offers import Offer
from backporch.engine.circuits.formula import Step
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Caution
from backporch.engine.picture.socket import socket_drawing
from backporch.engine.safety.points import volts_at
from backporch.engine.session.reading import TypedReading
from backporch.engine.units import show

__all__ = ["Bench", "FaultModel", "Hypothesis", "Offer", "Workbench"]

Floats = NDArray[np.float64]

_PIN = re.compile(r"\b(V\d+) pin (\d+)")

_NAMED, _MISNAMED, _AT_RANDOM = 0.85, 0.005, 0.2
"""How often a person names a symptom that is there; any one that is not; and, of symptoms that faults often
show, one that is not there, as a share of how often they show it.  Our judgement, no source."""
_USUALLY = ("worked-last-week", "unknown")
_NO_TROUBLE = frozenset({"sound-good"})

_CONNECTION = {
    "isolated": "Its chassis is kept off the mains by its own transformer; measure it against earth all the same.",
    "one-mains-leg": "Its chassis hangs on one side of the mains: treat it as live whichever way the plug is.",
    "doubler-leg": "Its chassis hangs on one side of the mains through the doubler: treat it as live.",
    "live-either-way": "Its chassis is live whichever way round the plug is.",
    "unknown": "How its chassis hangs on the mains is not known: treat it as live whichever way the plug is.",
}
"""What each kind of chassis return means for a person."""


class Band(Protocol):
    """A range of readings."""

    @property
    def low(self) -> float:
        """Lower end."""

    @property
    def high(self) -> float:
        """Upper end."""


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

    def symptom_table(self) -> tuple[Sequence[str], Floats]:
        """Return symptoms, and how often each fault shows them, (symptoms, hypotheses)."""

    def bins(self, offer: str) -> Band:
        """Return the band of readings that healthy sets show for a numeric offer."""


@dataclass(frozen=True)
class Bench:
    """What is at hand, and how the set stands on it."""

    instruments: frozenset[str]
    rig: str = ""
    """Name of the substitute tube and yoke in use, or "" for the set's own."""
    rig_traits: tuple[tuple[str, str], ...] = ()
    """What rules read of the rig, by name."""
    rig_explains: Mapping[str, str] = field(default_factory=dict)
    """Symptoms that the rig accounts for, each with what is said of it."""
    minutes: Mapping[str, float] = field(default_factory=dict)
    """Minutes that differ on this bench, by name of a measurement, a bench state or a part to change."""
    replace_minutes: Mapping[str, float] = field(default_factory=dict)
    """Minutes of changing a part that differ on this bench, by kind of part."""
    search_minutes: float | None = None
    """Minutes to find what is no part on the list of the chassis, where they differ on this bench."""
    meter: str = "meter"
    """The meter that voltages and ohms are read with, by its name among the instruments."""

    def in_hand(self, instrument: str) -> str:
        """Return the instrument of this bench that is taken where a measurement asks for ``instrument``."""
        return self.meter if instrument == "meter" else instrument


class Workbench:
    """All that a diagnosis works with; rules and fault model are built when they are first needed."""

    def __init__(
        self,
        library: Library,
        chassis: Chassis,
        bench: Bench,
        load_inference: Callable[[], Inference],
        load_faults: Callable[[], FaultModel],
    ) -> None:
        """Take what is at hand and how to build the rest."""
        self.library = library
        self.chassis = chassis
        self.bench = bench
        self._load_inference = load_inference
        self._load_faults = load_faults

    @cached_property
    def inference(self) -> Inference:
        """The rule base, ready to run."""
        return self._load_inference()

    @cached_property
    def faults(self) -> FaultModel:
        """What the virtual chassis says of every fault."""
        return self._load_faults()

    @cached_property
    def volts_at(self) -> Mapping[str, float]:
        """The highest voltage computed at each test point of a healthy set [V]."""
        return volts_at(self.chassis)

    @cached_property
    def symptom_likelihoods(self) -> Mapping[str, Floats]:
        """How likely each symptom is to be named under each fault, given that the fault shows at all.

        A common symptom is named wrongly more often than a rare one, for which somebody must have looked.
        """
        names, table = self.faults.symptom_table()
        shown = np.minimum(table / np.maximum(self.visibility, 1e-3), 1.0)
        usual = self.faults.prior(*_USUALLY, frozenset()) * self.visibility
        misnamed = _MISNAMED + _AT_RANDOM * (shown @ usual) / max(float(usual.sum()), 1e-300)
        return {name: misnamed[n] + (_NAMED - misnamed[n]) * shown[n] for n, name in enumerate(names)}

    @cached_property
    def visibility(self) -> Floats:
        """How often each fault shows any symptom that would bring a set to the bench."""
        names, table = self.faults.symptom_table()
        troubling = [n for n, name in enumerate(names) if name not in _NO_TROUBLE]
        return np.asarray(1.0 - np.prod(1.0 - np.clip(table[troubling], 0.0, 1.0), axis=0), dtype=float)

    def place_of(self, offer: Offer) -> str:
        """Return where on this chassis an offer is made, in words, or ""."""
        point = self.chassis.test_points.get(offer.measurement.point)
        if point is None:
            return ""
        return f"{point.at}, against {point.reference}" + (f". {point.note}" if point.note else "")

    def twin_of(self, tube: str) -> str:
        """Return another tube of exactly the same type in this set, or ""; it may stand in for a spare."""
        if tube not in self.chassis.tubes:
            return ""
        kind = self.chassis.tubes[tube].type
        return next((n for n, t in sorted(self.chassis.tubes.items()) if n != tube and t.type == kind), "")

    def socket_of(self, offer: Offer) -> str:
        """Return a drawing of the socket at an offer's place from the soldering side, its pin marked, or ""."""
        point = self.chassis.test_points.get(offer.measurement.point)
        found = _PIN.search(point.at) if point else None
        if found is None or found.group(1) not in self.chassis.tubes:
            return ""
        kind = self.library.tubes.get(self.chassis.tubes[found.group(1)].type)
        if kind is None or kind.base == "wired":
            return ""
        return socket_drawing(kind.base, int(found.group(2)))

    def expected_of(self, offer: Offer) -> str:
        """Return what a healthy set of this kind shows at the offer's place, or ""."""
        reading = offer.measurement.reading
        if reading is None:
            return ""
        band = self.faults.bins(offer.id)
        low, high = band.low, band.high
        return f"{show(low, reading.unit)} to {show(high, reading.unit)} on this chassis"

    def computation_of(self, offer: Offer) -> tuple[Step, ...]:
        """Return how the healthy value at an offer's place is computed, from part values on."""
        from backporch.engine.chassis.expected import expected

        reading = offer.measurement.reading
        if reading is None:
            return ()
        found = expected(self.chassis, draws=2, why=True).get(f"{reading.point}.{reading.quantity}")
        return found.steps if found else ()

    def mains_connection(self) -> str:
        """Return in a sentence how the chassis stands to the mains."""
        return _CONNECTION[self.chassis.chassis_return]

    def first_cautions(self) -> tuple[Caution, ...]:
        """Return the cautions that come before anything else on this chassis."""
        return tuple(c for c in self.library.cautions.values() if c.first and c.applies_to(self.chassis))

    def stage_of(self, part: str, odds: Floats) -> str:
        """Return the stage in which a part or tube is suspected: of a tube with two sections the likelier one.

        Args:
            part: Name on the chassis.
            odds: Probability of each hypothesis.
        """
        shares: dict[str, float] = {}
        for hypothesis, share in zip(self.faults.hypotheses, odds, strict=True):
            if hypothesis.owner == part:
                shares[hypothesis.stage] = shares.get(hypothesis.stage, 0.0) + float(share)
        return max(sorted(shares), key=lambda stage: shares[stage])

    def how_to_test(self, part: str) -> str:
        """Return how a part is proved good or bad, or "" for something unlisted."""
        if part in self.chassis.parts:
            return self.library.part_kinds[self.chassis.parts[part].kind].test
        if part in self.chassis.tubes:
            return self.library.part_kinds[self.chassis.tubes[part].kind].test
        return "No part on the list: look at joints, wiring and what the parts list leaves out."
