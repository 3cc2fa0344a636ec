# SPDX-License-Identifier: MIT
"""The parts of a chassis as numbers: healthy values times tolerance, with faults laid over them.

A batch holds any number of sets ("draws") of one chassis at once; every parameter is an array over draws
or a single number where all draws agree.  Tolerance draws are uniform within the marked tolerance;
severities are drawn from the range that a failure mode gives.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.hypotheses import HEATER_MODES, Fault
from backporch.engine.chassis.model import Chassis, unit_of_kind
from backporch.engine.chassis.node_leaks import ends_of
from backporch.engine.chassis.per_chassis import PerChassis
from backporch.engine.errors import UnknownWord
from backporch.engine.knowledge.models import Effect
from backporch.engine.units import parse

__all__ = [
    "OPEN_OHM",
    "Batch",
    "PartNames",
    "draw_batch",
    "fault_parameters",
    "healthy_batch",
    "part_names",
    "with_fault_draws",
]

Floats = NDArray[np.float64]
Value: TypeAlias = "NDArray[Any] | float"

OPEN_OHM = 1e9
_NO_LEAK_OHM = 1e12

_NEUTRAL: Mapping[str, float] = MappingProxyType(
    {
        "resistance": 1.0,
        "resistance_ohm": 0.0,
        "capacitance": 1.0,
        "inductance": 1.0,
        "leakage_ohm": 1e12,
        "emission": 1.0,
        "gas_a": 0.0,
        "heater_cathode_ohm": 1e12,
        "heater": 1.0,
        "turns_shorted": 0.0,
        "contact_ohm": 0.0,
        "gain": 1.0,
        "present": 1.0,
        "onset_minutes": 0.0,
        "injected_a": 0.0,
    }
)
_TUBE_SPREAD = 0.12


@dataclass(frozen=True)
class PartNames:
    """Every part and tube section of a chassis in a fixed order, with value, tolerance and role."""

    names: tuple[str, ...]
    values: tuple[float, ...]
    tolerances: tuple[float, ...]
    positions: tuple[float | None, ...]
    kinds: tuple[str, ...]
    watts: tuple[float, ...]
    """Power rating of each part, 0 where the file gives none."""
    by_role: Mapping[tuple[str, str], int]
    tube_of: Mapping[str, str]

    def index(self, name: str) -> int:
        """Return the place of a part, or raise :class:`UnknownWord`."""
        if name not in self.names:
            raise UnknownWord("part", name, self.names)
        return self.names.index(name)


@dataclass(frozen=True)
class Batch:
    """Parts of ``n`` sets of the same chassis.

    ``tolerance`` multiplies the value of each part, shape (draws, parts); ``faults`` lays single
    parameters of single parts over that, each an array over draws; ``trims`` are the controls that
    somebody has set so that the healthy set was right.
    """

    names: PartNames
    tolerance: Floats
    mains: Floats
    """Mains voltage over the rated one, shape (draws,)."""
    faults: Mapping[tuple[int, str], Floats] = field(default_factory=dict)
    trims: Mapping[str, Floats] = field(default_factory=dict)
    leaks: Mapping[tuple[str, str], Floats] = field(default_factory=dict)
    """Leakage between two points of the chassis, each with its resistance in every set."""

    @property
    def draws(self) -> int:
        """Number of sets in the batch."""
        return int(self.tolerance.shape[0])

    def trimmed(self, trims: Mapping[str, Floats]) -> Batch:
        """Return the same sets with controls set as given."""
        return replace(self, trims={**self.trims, **trims})

    def at_minutes(self, minutes: float) -> Batch:
        """Return the sets as they are so long after switching on: what comes with warmth is not there before.

        Args:
            minutes: Time since the set was switched on, from cold.
        """
        onsets = {index: values for (index, name), values in self.faults.items() if name == "onset_minutes"}
        if not onsets:
            return self
        found = dict(self.faults)
        for (index, name), values in self.faults.items():
            if index in onsets:
                found[index, name] = np.where(onsets[index] > minutes, _neutral(self.names, index, name), values)
        return replace(self, faults=found)

    def of_rows(self, rows: NDArray[np.intp]) -> Batch:
        """Return some of the sets."""
        return Batch(
            self.names,
            self.tolerance[rows],
            self.mains[rows],
            {key: values[rows] for key, values in self.faults.items()},
            {key: values[rows] for key, values in self.trims.items()},
            {key: values[rows] for key, values in self.leaks.items()},
        )

    def has(self, stage: str, role: str) -> bool:
        """Say whether the chassis has a part in that role."""
        return (stage, role) in self.names.by_role

    @cached_property
    def _columns(self) -> Floats:
        """Tolerances with one row for each part: whole rows lie together in memory."""
        return np.ascontiguousarray(self.tolerance.T)

    @cached_property
    def _touched(self) -> frozenset[int]:
        """Places of the parts that any fault changes."""
        return frozenset(index for index, _ in self.faults)

    def parameter(self, stage: str, role: str, name: str) -> Value:
        """Return a fault parameter of the part in a role; its healthy value where nothing is wrong."""
        index = self.names.by_role.get((stage, role))
        if index is None:
            return _NEUTRAL[name]
        own = self.faults.get((index, name), _NEUTRAL[name])
        return own if name != "gas_a" else own + self.faults.get((index, "injected_a"), 0.0)

    def own_gas(self, stage: str, role: str) -> Value:
        """Return the gas current of a tube without what leaks to its grid from elsewhere."""
        index = self.names.by_role.get((stage, role))
        return 0.0 if index is None else self.faults.get((index, "gas_a"), 0.0)

    def value(self, stage: str, role: str, default: float = 0.0) -> Value:
        """Return the value in a role with its tolerance, before any fault."""
        index = self.names.by_role.get((stage, role))
        if index is None:
            return default
        return np.asanyarray(self.names.values[index] * self._columns[index], dtype=float)

    def ohms(self, stage: str, role: str, default: float = 1e-3) -> Value:
        """Return the resistance in a role: value, change, open, bad contact and leakage together."""
        index = self.names.by_role.get((stage, role))
        if index is None:
            return default
        if index not in self._touched:
            return self.value(stage, role)
        base = self.value(stage, role) * self.parameter(stage, role, "resistance")
        replaced = self.parameter(stage, role, "resistance_ohm")
        series = np.where(np.asanyarray(replaced) > 0, replaced, base) + self.contact(stage, role)
        return _parallel(series, self.parameter(stage, role, "leakage_ohm"))

    def farads(self, stage: str, role: str, default: float = 1e-15) -> Value:
        """Return the capacitance in a role, with its fault."""
        if not self.has(stage, role):
            return default
        value = self.value(stage, role) * self.parameter(stage, role, "capacitance")
        return np.maximum(value, 1e-15)

    def henries(self, stage: str, role: str, default: float = 1e-9) -> Value:
        """Return the inductance in a role, with its fault."""
        if not self.has(stage, role):
            return default
        return self.value(stage, role) * self.parameter(stage, role, "inductance")

    def leak(self, stage: str, role: str) -> Value:
        """Return the leakage across the part in a role."""
        return self.parameter(stage, role, "leakage_ohm")

    def contact(self, stage: str, role: str) -> Value:
        """Return the resistance of the contact in a role, 0 when it is good."""
        return self.parameter(stage, role, "contact_ohm")

    def opened(self, stage: str, role: str) -> Value:
        """Return the resistance of an open winding or diode in a role, a milliohm when it is whole."""
        return np.maximum(self.parameter(stage, role, "resistance_ohm"), 1e-3)

    def watts(self, stage: str, role: str, default: float) -> float:
        """Return the power rating in a role."""
        index = self.names.by_role.get((stage, role))
        return default if index is None else self.names.watts[index] or default

    def position(self, stage: str, role: str) -> Value:
        """Return where a control stands, 0 to 1, or how far a magnet is from its place."""
        index = self.names.by_role.get((stage, role))
        if index is None:
            return 0.5
        rest = self.names.positions[index]
        return self.faults.get((index, "position"), 0.0 if rest is None else rest)

    def emission(self, stage: str, role: str) -> Value:
        """Return the emission of a tube section, 1 when new, with its spread and a wrong tube's gain."""
        index = self.names.by_role.get((stage, role))
        if index is None:
            return 1.0
        spread: Floats = self._columns[index]
        if index not in self._touched:
            return spread
        return spread * self.parameter(stage, role, "emission") * np.abs(self.parameter(stage, role, "gain"))


def _parallel(first: Value, second: Value) -> Value:
    return 1.0 / (1.0 / np.maximum(first, 1e-6) + 1.0 / np.maximum(second, 1e-6))


def _names_of(chassis: Chassis) -> PartNames:
    """Return the parts and tube sections of a chassis in their fixed order."""
    rows: list[tuple[str, float, float, float | None, str, str, str, str]] = []
    for name, part in chassis.parts.items():
        unit = unit_of_kind(part.kind)
        value = parse(part.value, unit) if part.value is not None and unit else 1.0
        position = part.control.position if part.control else None
        rows.append((name, value, part.tolerance, position, part.stage, part.role, "", part.kind))
    for tube_name, tube in chassis.tubes.items():
        for key, section in tube.sections.items():
            name = tube_name if len(tube.sections) == 1 else f"{tube_name}{key}"
            rows.append((name, 1.0, _TUBE_SPREAD, None, section.stage, section.role, tube_name, tube.kind))
    return PartNames(
        names=tuple(row[0] for row in rows),
        values=tuple(row[1] for row in rows),
        tolerances=tuple(row[2] for row in rows),
        positions=tuple(row[3] for row in rows),
        kinds=tuple(row[7] for row in rows),
        watts=tuple(_watts(chassis, row[0]) for row in rows),
        by_role=MappingProxyType({(row[4], row[5]): n for n, row in enumerate(rows)}),
        tube_of=MappingProxyType({row[0]: row[6] for row in rows if row[6]}),
    )


part_names = PerChassis(_names_of)


def _watts(chassis: Chassis, name: str) -> float:
    part = chassis.parts.get(name)
    if part is None or part.rating is None or not part.rating.endswith("W"):
        return 0.0
    return parse(part.rating, "W")


def healthy_batch(chassis: Chassis, faults: Sequence[Fault] = (), *, severity: float = 0.5) -> Batch:
    """Return one nominal set with the given faults at a middling (or given) severity."""
    names = part_names(chassis)
    batch = Batch(names, np.ones((1, len(names.names))), np.ones(1))
    found: dict[tuple[int, str], Floats] = {}
    leaks: dict[tuple[str, str], Floats] = {}
    for fault in faults:
        ends = ends_of(fault.part)
        if ends is not None:
            leaks[ends] = _effect_values(fault.effects[0], np.full(1, severity))
            continue
        for key, value in fault_parameters(names, fault, np.full(1, severity)):
            found[key] = value
    return Batch(names, batch.tolerance, batch.mains, found, leaks=leaks)


def draw_batch(
    chassis: Chassis, draws: int, seed: int, *, mains_spread: float = 0.03, tolerance: float = 0.5
) -> Batch:
    """Return ``draws`` healthy sets with random part values and mains.

    Args:
        chassis: The chassis.
        draws: Number of sets.
        seed: Seed of the random draws.
        mains_spread: Half-width of the mains voltage about its rated value.
        tolerance: Share of the marked tolerance that is used: parts that were picked and that have aged
            in company scatter less than their marking allows.
    """
    names = part_names(chassis)
    random = np.random.default_rng(seed)
    half = np.array(names.tolerances) * tolerance
    spread = 1.0 + half * random.uniform(-1.0, 1.0, (draws, len(half)))
    mains = 1.0 + mains_spread * random.uniform(-1.0, 1.0, draws)
    return Batch(names, spread, mains)


def fault_parameters(names: PartNames, fault: Fault, severity: Floats) -> Iterable[tuple[tuple[int, str], Floats]]:
    """Give each parameter that a fault changes, at severities from 0 (low end of its range) to 1.

    The effects of one mode are drawn together: a worse part is worse in all of them.
    """
    index = names.index(fault.part)
    for effect in fault.effects:
        yield (index, effect.parameter), _effect_values(effect, severity)
    if fault.mode in HEATER_MODES:
        for name, tube in names.tube_of.items():
            if tube == names.tube_of.get(fault.part) and name != fault.part:
                for effect in fault.effects:
                    yield (names.index(name), effect.parameter), _effect_values(effect, severity)


def _effect_values(effect: Effect, severity: Floats) -> Floats:
    unit = "ohm" if effect.parameter.endswith("_ohm") else ("A" if effect.parameter.endswith("_a") else "")
    low, high = parse(effect.low, unit), parse(effect.high, unit)
    if effect.spread == "log" and low > 0 and high > 0:
        return np.asanyarray(low * (high / low) ** severity, dtype=float)
    return np.asanyarray(low + (high - low) * severity, dtype=float)


def with_fault_draws(base: Batch, faults: Sequence[Fault | None], seed: int) -> Batch:
    """Return every fault on every set of ``base``: draw ``f * base.draws + k`` is fault f on set k.

    Severities are stratified over the draws of each fault, so that a few cover the range.
    """
    draws, count = base.draws, len(faults)
    random = np.random.default_rng(seed)
    found: dict[tuple[int, str], Floats] = {}
    leaks = {ends: np.tile(ohms, count) for ends, ohms in base.leaks.items()}
    for n, fault in enumerate(faults):
        severity = (random.permutation(draws) + random.uniform(0, 1, draws)) / draws
        if fault is None:
            continue
        ends = ends_of(fault.part)
        if ends is not None:
            path = leaks.setdefault(ends, np.full(count * draws, _NO_LEAK_OHM))
            path[n * draws : (n + 1) * draws] = _effect_values(fault.effects[0], severity)
            continue
        for (index, name), values in fault_parameters(base.names, fault, severity):
            neutral = _neutral(base.names, index, name)
            row = found.setdefault((index, name), np.full(count * draws, neutral))
            row[n * draws : (n + 1) * draws] = values
    return Batch(
        base.names,
        np.tile(base.tolerance, (count, 1)),
        np.tile(base.mains, count),
        found,
        {name: np.tile(values, count) for name, values in base.trims.items()},
        leaks,
    )


def _neutral(names: PartNames, index: int, name: str) -> float:
    if name == "position":
        return names.positions[index] or 0.0
    return _NEUTRAL[name]
