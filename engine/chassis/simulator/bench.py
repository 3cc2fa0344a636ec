# SPDX-License-Identifier: MIT
"""How the virtual set stands on the bench, and what came out of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Batch, Value
from backporch.engine.chassis.picture_state import PictureState, picture_of
from backporch.engine.circuits.formula import Step, explain

__all__ = ["Bench", "Places", "Result", "Run"]

Floats = NDArray[np.float64]
Places = NDArray[np.intp]


@dataclass(frozen=True)
class Bench:
    """Mains, signal and what has been clamped; with ``record`` every computation is noted."""

    mains_v: float | None = None
    """Mains instead of the rated ones [V]."""
    signal: Literal["pattern", "none"] = "pattern"
    positions: Mapping[str, float] = field(default_factory=dict)
    """Where controls stand, by part name; the others stand as in the chassis file."""
    clamps: frozenset[str] = frozenset()
    """What is held: "agc" by a bias supply, "afc" by grounding the line, "source" by a proved one."""
    record: bool = False

    def with_clamp(self, *names: str) -> Bench:
        """Return the same bench with one more thing held."""
        return replace(self, clamps=self.clamps | set(names))


@dataclass(frozen=True)
class Result:
    """What the virtual set shows: readings by "point.quantity", the picture, and the way there."""

    values: Mapping[str, Floats]
    """True value at each point, shape (draws,)."""
    source_ohm: Mapping[str, Floats]
    """Resistance behind each direct voltage, which a meter loads."""
    picture: Mapping[str, Floats]
    """Picture state, shape (draws,), see :mod:`backporch.engine.chassis.picture_state`."""
    inner: Mapping[str, Floats]
    """Quantities between the stages that observations look at."""
    steps: Mapping[str, tuple[Step, ...]]
    """For a recorded single run: the computations behind each point, in order."""
    batch: Batch

    @property
    def draws(self) -> int:
        """Number of sets."""
        return self.batch.draws

    def state(self, draw: int = 0) -> PictureState:
        """Return what one of the sets shows."""
        return picture_of(self.picture, draw)


class Run:
    """One simulation while it is going on: parts in, values out."""

    def __init__(self, chassis: Chassis, batch: Batch, bench: Bench) -> None:
        """Start with nothing computed."""
        self.chassis = chassis
        self.batch = batch
        self.bench = bench
        self.values: dict[str, Floats] = {}
        self.source_ohm: dict[str, Floats] = {}
        self.picture: dict[str, Floats] = {}
        self.inner: dict[str, Floats] = {}
        self.steps: dict[str, tuple[Step, ...]] = {}
        self._chapter: list[Step] = []
        self._source: list[str] = []
        self._known: dict[float, str] = {}
        self._shape = (batch.draws,)

    def figure(self, name: str, default: float) -> float:
        """Return a design figure of the chassis file."""
        found = self.chassis.figures.get(name, default)
        return float(found)

    def position(self, stage: str, role: str) -> Value:
        """Return where a control stands: as it is held on the bench, or as it was left."""
        names = self.batch.names
        index = names.by_role.get((stage, role))
        if index is not None and names.names[index] in self.bench.positions:
            return self.bench.positions[names.names[index]]
        return self.batch.position(stage, role)

    def trim(self, name: str) -> Value:
        """Return the factor by which somebody set a control so that the healthy set was right."""
        return self.batch.trims.get(name, 1.0)

    def inside(self, name: str, default: float = 0.0) -> Floats:
        """Return a quantity that another stage kept."""
        return self.inner.get(name, self.full(default))

    def circuit(self, stage: str) -> str:
        """Return how a stage is built, or "" where the chassis has none."""
        return self.chassis.stages[stage].circuit if stage in self.chassis.stages else ""

    def calc(self, function: Callable[..., Any], label: str = "", **arguments: Any) -> Any:
        """Compute by a formula of the circuits; in a recorded run the step is kept."""
        result = function(**arguments)
        if self.bench.record and self.batch.draws == 1:
            self._chapter.append(_step(function, label, arguments, result))
            self._source += [self._known[n] for n in map(_number, arguments.values()) if n in self._known]
        return result

    def put(self, point: str, quantity: str, value: Value, source_ohm: Value = 0.0) -> None:
        """Say what stands at a point, and take the computations since the last point as its way there."""
        key = f"{point}.{quantity}"
        self.values[key] = self.full(value)
        self.source_ohm[key] = self.full(source_ohm)
        if self.bench.record:
            self._close(key)

    def _close(self, key: str) -> None:
        """End the chapter of one point: first the way to the points it started from, then its own steps."""
        way: dict[Step, None] = {}
        for earlier in self._source:
            way |= dict.fromkeys(self.steps.get(earlier, ()))
        way |= dict.fromkeys(self._chapter)
        self.steps[key] = tuple(way)
        self._chapter, self._source = [], []
        number = _number(self.values[key])
        if number is not None and abs(number) > 1e-9:
            self._known[number] = key

    def full(self, value: Value) -> Floats:
        """Return a value as one number for each draw."""
        array = np.asarray(value, dtype=float)
        if array.shape == self._shape:
            return array
        return np.full(self._shape, array) if array.ndim == 0 else np.broadcast_to(array, self._shape)

    def show(self, **quantities: Value) -> None:
        """Set quantities of the picture state."""
        for name, value in quantities.items():
            self.picture[name] = self.full(value)

    def keep(self, **quantities: Value) -> None:
        """Keep quantities that other stages and the observations need."""
        for name, value in quantities.items():
            self.inner[name] = self.full(value)

    def of_rows(self, rows: Places) -> Run:
        """Return the run of some of the sets, as far as it has come; nothing of it is recorded."""
        part = Run(self.chassis, self.batch.of_rows(rows), replace(self.bench, record=False))
        for mine, theirs in zip(self._tables(), part._tables(), strict=True):
            theirs.update({key: values[rows] for key, values in mine.items()})
        return part

    def take_rows(self, part: Run, rows: Places) -> None:
        """Take over what came of some of the sets."""
        for mine, theirs in zip(self._tables(), part._tables(), strict=True):
            for key, values in theirs.items():
                mine[key] = mine[key].copy() if key in mine else np.zeros(self._shape)
                mine[key][rows] = values

    def _tables(self) -> tuple[dict[str, Floats], ...]:
        return self.values, self.source_ohm, self.picture, self.inner

    def result(self) -> Result:
        """Return what came out."""
        return Result(self.values, self.source_ohm, self.picture, self.inner, self.steps, self.batch)


def _step(function: Callable[..., Any], label: str, arguments: Mapping[str, Any], result: Any) -> Step:
    from backporch.engine.units import show, unit_of_name

    plain = {name: _single(value) for name, value in arguments.items()}
    unit = unit_of_name(function.__name__)
    step = explain(function, plain, _single(result), result_unit=unit)
    if is_dataclass(result):
        parts = ((f.name, _single(getattr(result, f.name))) for f in fields(result))
        shown = ", ".join(f"{name} {show(value, unit_of_name(name))}" for name, value in parts)
        step = replace(step, result=shown)
    return replace(step, quantity=label or step.quantity)


def _number(value: Any) -> float | None:
    """Return a single computed number by which it can be recognised again, or None for round ones."""
    single = _single(value)
    if not isinstance(single, float) or float(f"{single:.6g}") == single:
        return None
    return single


def _single(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return float(value.flat[0]) if value.size else value
    return value
