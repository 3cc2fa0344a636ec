# SPDX-License-Identifier: MIT
"""The fault dictionary: what every measurement would show under every single fault of a chassis.

The simulated readings are kept as the usual meter shows them, and given as the meter of the bench does, which
loads the point in its own way.  A stage's "something unlisted" shows what the listed
faults of the stage show, blurred.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import partial
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.bins import Bins, bins_for
from backporch.engine.chassis.hypotheses import Hypothesis, all_hypotheses, priors
from backporch.engine.chassis.kernel import Axis, between, density, median
from backporch.engine.chassis.metering import read_by
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.observations import OBSERVATIONS, PER_TARGET
from backporch.engine.chassis.offers import Offer, all_offers
from backporch.engine.chassis.tables import SEED, Tables, Watch, build_tables
from backporch.engine.chassis.target_outcomes import owners_of, target_outcomes
from backporch.engine.circuits.meters import DIGITAL_10_M, Meter
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import Library

__all__ = ["UNMODELLED", "Dictionary", "TypedReading"]

Floats = NDArray[np.float64]
_UNLISTED_BLUR = 0.35
UNMODELLED = 0.05
"""How often an answer tells nothing though the observer is right, since the set is not as it was simulated.

Our judgement, no source; chosen so that the odds hold where errors are twice what the knowledge base says.
"""
_FINEST = {"dc": 0.15, "pp": 0.25, "rms": 0.2, "ohm": 0.5, "amp": 2e-3, "hz": 0.5}
"""What an ordinary instrument and its user can still tell apart near zero, by quantity."""


class TypedReading(Protocol):
    """A reading as a person gave it: a value, a range, an open end, or nothing."""

    @property
    def shape(self) -> str:
        """One of value, range, below, above, overload, none, unsure."""

    @property
    def low(self) -> float:
        """Lower bound."""

    @property
    def high(self) -> float:
        """Upper bound."""

    @property
    def wandering(self) -> bool:
        """Whether the reading was unsteady."""


class Dictionary:
    """The fault dictionary of one chassis, as the ranking and the planner ask it."""

    def __init__(
        self,
        chassis: Chassis,
        library: Library,
        tables: Tables,
        baseline: Mapping[str, float] | None = None,
        meter: Meter = DIGITAL_10_M,
    ) -> None:
        """Join simulated tables with the measurements of the knowledge base.

        Args:
            chassis: The chassis.
            library: The knowledge base.
            tables: What its simulations gave.
            baseline: Readings of the healthy set by "point.quantity": the owner's own, or those of a
                service sheet.  They win over computed ones, and faults move from there.
            meter: The meter that readings are made with.
        """
        self._meter = meter
        self._baseline = {**_published(chassis), **(baseline or {})}
        self.chassis = chassis
        self.library = library
        self.tables = tables
        self.hypotheses: tuple[Hypothesis, ...] = all_hypotheses(chassis, library)
        self.offers: dict[str, Offer] = all_offers(chassis, library)
        self._listed = np.array([bool(h.part) for h in self.hypotheses])
        self._owners = owners_of(self.hypotheses)
        self._mixing = self._stage_mixing()
        self._bins: dict[str, Bins] = {}
        self._numbers: dict[str, Floats] = {}

    @classmethod
    def build(
        cls,
        chassis: Chassis,
        library: Library,
        *,
        use_cache: bool = True,
        baseline: Mapping[str, float] | None = None,
        meter: Meter = DIGITAL_10_M,
        watch: Watch = iter,
    ) -> Dictionary:
        """Return the dictionary of a chassis, from the disk where it was built before."""
        from backporch.engine.chassis.cache import cached_tables

        tables = (
            cached_tables(chassis, library, watch) if use_cache else build_tables(chassis, library, watch=watch)
        )
        return cls(chassis, library, tables, baseline, meter)

    @property
    def measurements(self) -> tuple[Offer, ...]:
        """All measurements that can be made on this chassis."""
        return tuple(self.offers.values())

    def prior(self, condition: str, last_event: str, renewed: Collection[str] = frozenset()) -> Floats:
        """Return the probability of each hypothesis before anything is seen; sums to 1."""
        return priors(self.hypotheses, self.library, condition=condition, last_event=last_event, renewed=renewed)

    def likelihood(self, offer: str, answer: str | TypedReading) -> Floats:
        """Return how likely an answer is under each hypothesis, shape (hypotheses,), above 0.

        Args:
            offer: Id of an offer.
            answer: A named outcome, or a reading as typed.
        Raises:
            UnknownWord: there is no such offer, or it has no such outcome.
            BadInput: the measurement wants the other sort of answer.
        """
        found = self._offer(offer)
        if not isinstance(answer, str):
            if found.kind != "number":
                raise BadInput(f"{offer} has named outcomes and takes no reading.")
            return self._of_reading(found, answer)
        labels, table = self.outcome_table(offer)
        if answer not in labels:
            raise UnknownWord("outcome", answer, labels)
        return np.asarray(table[list(labels).index(answer)], dtype=float)

    def outcome_table(self, offer: str) -> tuple[tuple[str, ...], Floats]:
        """Return the outcomes of an offer and their probability, shape (outcomes, hypotheses)."""
        found = self._offer(offer)
        if found.kind == "number":
            return self._number_table(found)
        if found.kind == "target":
            return self._target_table(found)
        name = str(found.measurement.observe)
        labels = OBSERVATIONS[name]
        exact = self._with_unlisted(np.asarray(self.tables.outcomes[name], dtype=float))
        return labels, _mixed(exact, _trusted(found))

    def bins(self, offer: str) -> Bins:
        """Return the outcomes that a reading is cut into, with the healthy band."""
        found = self._offer(offer)
        if offer not in self._bins:
            reading = found.measurement.reading
            assert reading is not None
            key = f"{reading.point}.{reading.quantity}"
            healthy = self.healthy(key)
            axis = Axis.for_values(healthy, _FINEST[reading.quantity])
            self._bins[offer] = bins_for(axis, healthy, partial(self._draws, key), reading.unit)
        return self._bins[offer]

    def symptom_table(self) -> tuple[tuple[str, ...], Floats]:
        """Return every symptom that the picture words know and how often each fault shows it.

        Returns:
            Symptom names, and an array of shape (symptoms, hypotheses).
        """
        from backporch.engine.chassis.words import symptom_flags

        shape = next(iter(self.tables.picture.values())).shape
        flags = symptom_flags(self.tables.picture, self.library.picture_words)
        exact = np.stack([np.asarray(flag, dtype=float).reshape(shape).mean(axis=1) for flag in flags.values()])
        return tuple(flags), self._with_unlisted(exact)

    def readings(self, offer: str) -> Floats:
        """Return the readings of a numeric offer under each hypothesis, shape (hypotheses, draws)."""
        found = self._offer(offer)
        reading = found.measurement.reading
        if reading is None:
            raise BadInput(f"{offer} has named outcomes and no readings.")
        return self._draws(f"{reading.point}.{reading.quantity}")

    def _offer(self, offer: str) -> Offer:
        if offer not in self.offers:
            raise UnknownWord("measurement", offer, self.offers)
        return self.offers[offer]

    def _stage_mixing(self) -> Floats:
        """Return the weight of each listed hypothesis in each stage's "something unlisted"."""
        stages = [h.stage for h in self.hypotheses if not h.part]
        listed = [h for h in self.hypotheses if h.part]
        weights = np.array([[h.original * (h.stage == s) + 1e-9 for h in listed] for s in stages])
        return np.asarray(weights / weights.sum(axis=1, keepdims=True), dtype=float)

    def _with_unlisted(self, exact: Floats) -> Floats:
        """Add the columns of the unlisted: their stage's mean, blurred towards all outcomes alike."""
        mean = exact @ self._mixing.T
        overall = exact.mean(axis=1, keepdims=True)
        return np.concatenate([exact, (1 - _UNLISTED_BLUR) * mean + _UNLISTED_BLUR * overall], axis=1)

    def _moved(self, key: str) -> float:
        """Return the factor by which a known healthy reading moves the computed ones."""
        computed = median(self._healthy_read(key))
        known = self._baseline.get(key)
        if known is None or abs(computed) < 1e-9 or known * computed <= 0.0:
            return 1.0
        return float(np.clip(known / computed, 0.2, 5.0))

    def healthy(self, key: str) -> Floats:
        """Return the readings of healthy sets at "point.quantity"."""
        return self._healthy_read(key) * self._moved(key)

    def _healthy_read(self, key: str) -> Floats:
        """Return what the meter in use shows of healthy sets, before the owner's own readings move it."""
        return self._as_read(self.tables.healthy[key], self.tables.healthy_source_ohm.get(key))

    def _as_read(self, usual: NDArray[np.float32], source_ohm: NDArray[np.float32] | None) -> Floats:
        return np.asarray(usual, dtype=float) if source_ohm is None else read_by(self._meter, usual, source_ohm)

    def _draws(self, key: str) -> Floats:
        if key not in self._numbers:
            read = self._as_read(self.tables.numbers[key], self.tables.source_ohm.get(key))
            listed = read * self._moved(key)
            random = np.random.default_rng(SEED)
            rows = [
                listed[random.choice(len(weights), listed.shape[1], p=weights), np.arange(listed.shape[1])]
                for weights in self._mixing
            ]
            self._numbers[key] = np.concatenate([listed, np.array(rows)])
        return self._numbers[key]

    def _of_reading(self, offer: Offer, reading: TypedReading) -> Floats:
        bins = self.bins(offer.id)
        axis, draws = bins.axis, bins.draws()
        reliability = _trusted(offer)
        if reading.shape == "unsure":
            return np.ones(len(self.hypotheses))
        if reading.shape in ("value", "none") and not reading.wandering:
            return density(axis, draws, reading.low, reliability, bins.misread(reading.low))
        low, high = reading.low, reading.high
        if reading.shape == "overload":
            low, high = 20 * axis.knee / 0.06, np.inf
        elif low == high:
            low, high = low - 0.1 * abs(low) - axis.knee, high + 0.1 * abs(high) + axis.knee
        return reliability * between(axis, draws, low, high) + (1 - reliability) * 0.2

    def _number_table(self, offer: Offer) -> tuple[tuple[str, ...], Floats]:
        bins = self.bins(offer.id)
        edges = [-np.inf, *bins.edges, np.inf]
        rows = [between(bins.axis, bins.draws(), a, b) for a, b in pairwise(edges)]
        return bins.labels, _mixed(np.stack(rows), _trusted(offer))

    def _target_table(self, offer: Offer) -> tuple[tuple[str, ...], Floats]:
        name = str(offer.measurement.observe)
        exact = target_outcomes(name, offer.target, self._owners, self.chassis)
        return PER_TARGET[name], _mixed(exact, _trusted(offer))


def _published(chassis: Chassis) -> dict[str, float]:
    """Return the readings that the chassis file has from a service sheet."""
    return {
        f"{point}.{quantity}": value
        for point, entry in chassis.test_points.items()
        for quantity, value in entry.published.items()
    }


def _trusted(offer: Offer) -> float:
    """Return how far an answer is trusted: as far as the observer is, less what no simulation knows of the set."""
    return (1.0 - UNMODELLED) * offer.measurement.reliability


def _mixed(exact: Floats, reliability: float) -> Floats:
    """Return the outcome table as a person reports it: now and then any other outcome is named."""
    return np.asarray(reliability * exact + (1 - reliability) / exact.shape[0], dtype=float)
