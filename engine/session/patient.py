# SPDX-License-Identifier: MIT
"""A set with a hidden fault, that answers looks, controls, readings and part tests as that set would."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np

from backporch.engine.chassis.fault_text import find_fault
from backporch.engine.chassis.hypotheses import Hypothesis
from backporch.engine.chassis.metering import BENCH_METERS, as_read, read_by
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.observations import observe, outcomes_of
from backporch.engine.chassis.parts import with_fault_draws
from backporch.engine.chassis.simulator import Bench, Result, adjusted, simulate
from backporch.engine.chassis.words import symptoms_of
from backporch.engine.errors import BadInput
from backporch.engine.knowledge.library import Library
from backporch.engine.session.workbench import Offer
from backporch.engine.units import show

__all__ = ["Patient"]


_LEAST_SHOWN = 1e-7
"""No meter of a bench shows less, in volts, amperes or ohms."""


class Patient:
    """One simulated set; it has no dirty contacts of its own and always answers the same."""

    def __init__(
        self,
        chassis: Chassis,
        library: Library,
        hypotheses: Sequence[Hypothesis],
        faults: Sequence[str],
        seed: int = 1,
        mended: Collection[str] = (),
        minutes: float | None = None,
        meter: str = "meter",
    ) -> None:
        """Put ``faults`` (as :func:`find_fault` reads them) into a set with random part values.

        Args:
            chassis: The chassis.
            library: The knowledge base.
            hypotheses: All single faults of the chassis.
            faults: The faults that were put in.
            seed: Seed of part values and severities.
            mended: Parts and tubes that were changed since; the rest of the set is as it was.
            minutes: Minutes since it was switched on from cold; None for long enough.
            meter: The meter it is read with, by its name among the instruments.
        Raises:
            UnknownWord: a fault is not one of this chassis.
        """
        self._made_of = (chassis, library, hypotheses, tuple(faults), seed, frozenset(mended))
        self._meter = meter
        found = [find_fault(text, hypotheses, chassis) for text in faults]
        self.faults: tuple[Hypothesis, ...] = tuple(h for h, _ in found if h.owner not in mended)
        batch = adjusted(chassis, 1, seed, mains_spread=0.01)
        for n, (hypothesis, fault) in enumerate(found):
            if hypothesis.owner not in mended:
                more = with_fault_draws(batch, [fault], seed + n)
                batch = replace(more, faults={**batch.faults, **more.faults}, leaks={**batch.leaks, **more.leaks})
        self._library = library
        self._chassis = chassis
        self._result = simulate(chassis, batch, Bench(minutes=minutes))

    @property
    def symptoms(self) -> tuple[str, ...]:
        """What somebody would see and hear, in the words of the knowledge base."""
        return symptoms_of(self._result.picture, self._library.picture_words)

    def at(self, positions: Mapping[str, float] | None = None) -> Result:
        """Return all that the set shows with controls held elsewhere, by part name from 0 to 1."""
        if not positions:
            return self._result
        return simulate(self._chassis, self._result.batch, Bench(positions=positions))

    def answer(self, offer: Offer) -> str:
        """Return what the set answers to an offer, as it would be typed."""
        measurement = offer.measurement
        if measurement.reading is not None:
            value = self.reading(offer)
            return show(value if abs(value) >= _LEAST_SHOWN else 0.0, measurement.reading.unit, 3)
        name = str(measurement.observe)
        if offer.target:
            return self._of_target(name, offer.target)
        return outcomes_of(name)[int(observe(name, self._result).ravel()[0])]

    def reading(self, offer: Offer) -> float:
        """Return what the meter shows for a numeric offer, in SI units.

        Raises:
            BadInput: the offer has named outcomes.
        """
        reading = offer.measurement.reading
        if reading is None:
            raise BadInput(f"{offer.id} has named outcomes and no reading.")
        key = f"{reading.point}.{reading.quantity}"
        usual = float(as_read(self._result, key).ravel()[0])
        if reading.quantity != "dc":
            return usual
        source = float(np.ravel(self._result.source_ohm[key])[0])
        return float(read_by(BENCH_METERS[self._meter], usual, source))

    def cured_by(self, part: str) -> bool:
        """Tell whether changing a part leaves the set without fault."""
        return {h.owner for h in self.faults} <= {part}

    def without(self, part: str) -> Patient:
        """Return the same set after ``part`` was changed: its other faults are left."""
        chassis, library, hypotheses, faults, seed, mended = self._made_of
        return Patient(chassis, library, hypotheses, faults, seed, mended | {part}, meter=self._meter)

    def _of_target(self, name: str, target: str) -> str:
        mine = any(h.owner == target for h in self.faults)
        if name == "exchange-tube":
            return "cured" if mine and self.cured_by(target) else "changed" if mine else "same"
        return "bad" if mine else "good"
