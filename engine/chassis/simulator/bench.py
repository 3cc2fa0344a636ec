# SPDX-License-Identifier: MIT
"""How the virtual set stands on the bench, and what came out of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, cast

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.explained import Ways, leaves
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Batch, Value
from backporch.engine.chassis.picture_state import PictureState, picture_of
from backporch.engine.chassis.simulator.traced_batch import TracedBatch
from backporch.engine.chassis.tracing import Tracer, node_of
from backporch.engine.circuits.formula import Step

__all__ = ["Bench", "Places", "Result", "Run"]

Floats = NDArray[np.float64]

_UNITS = {"dc": "V", "pp": "V", "rms": "V", "ohm": "ohm", "amp": "A", "hz": "Hz"}
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
    minutes: float | None = None
    """Minutes since the set was switched on from cold; None for long enough that all faults have shown."""

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

    def parts_behind(self, key: str) -> frozenset[str]:
        """Return the parts that a recorded value rests on."""
        ways = self.steps
        if not isinstance(ways, Ways):
            return frozenset()
        return frozenset(leaf.text for leaf in leaves(ways.node(key)) if leaf.kind == "part")

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
        self._shape = (batch.draws,)
        self.tracer = Tracer() if bench.record and batch.draws == 1 else None
        if self.tracer is not None:
            self.batch = TracedBatch.of(batch, self.tracer)

    def figure(self, name: str, default: float) -> float:
        """Return a design figure of the chassis file."""
        found = float(self.chassis.figures.get(name, default))
        return found if self.tracer is None else cast(float, self.tracer.leaf("figure", name, found))

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
        if self.tracer is not None:
            self.tracer.label = label
        return function(**arguments)

    def known(self, name: str, value: float) -> Any:
        """Return a number that follows from the design alone; in a recorded run it has this name."""
        return value if self.tracer is None else self.tracer.leaf("figure", name, value)

    def given(self, name: str, value: Value) -> Any:
        """Return a voltage that is known once all has settled; in a recorded run it is followed no further."""
        return value if self.tracer is None else self.tracer.leaf("settled", name, value)

    def way(self, value: Value, computed: Any) -> Any:
        """Return a looked-up value; in a recorded run it has come about as ``computed`` has."""
        return value if self.tracer is None else self.tracer.same_way(value, computed)

    def solved(self, value: Value, title: str, formula: str, **arguments: Any) -> Any:
        """Return a value that was found so that a formula in words holds; in a recorded run it is a step."""
        return value if self.tracer is None else self.tracer.solved(value, title, formula, arguments)

    def put(self, point: str, quantity: str, value: Value, source_ohm: Value = 0.0) -> None:
        """Say what stands at a point, and take the computations since the last point as its way there."""
        key = f"{point}.{quantity}"
        if self.tracer is not None:
            name = point if quantity == "dc" else f"{point}_{quantity}"
            value = self.tracer.named(name, value, _UNITS[quantity])
        self.values[key] = self.full(value)
        self.source_ohm[key] = self.full(source_ohm)

    def full(self, value: Value) -> Floats:
        """Return a value as one number for each draw."""
        array = value if type(value) is np.ndarray else np.asanyarray(value, dtype=float)
        if array.shape == self._shape and array.dtype == np.float64:
            return array
        array = np.asanyarray(array, dtype=float)
        if array.shape == self._shape:
            return array
        if self.tracer is not None:
            return array.reshape(self._shape)
        if self._shape == (1,):
            return array.reshape(1)
        return np.full(self._shape, array) if array.ndim == 0 else np.broadcast_to(array, self._shape)

    def show(self, **quantities: Value) -> None:
        """Set quantities of the picture state."""
        for name, value in quantities.items():
            self.picture[name] = self.full(value)

    def keep(self, **quantities: Value) -> None:
        """Keep quantities that other stages and the observations need."""
        for name, value in quantities.items():
            self.inner[name] = self.full(value if self.tracer is None else self.tracer.named(name, value))

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

    def settled(self, loads: Mapping[str, Value]) -> Mapping[str, Value]:
        """Return the currents of the rails as given for one more round.

        A recorded run says what they are the sum of, and follows them no further.
        """
        if self.tracer is None:
            return loads
        made = (
            (rail, self.tracer.leaf("settled", f"settled_load_of_{rail}_a", value))
            for rail, value in loads.items()
        )
        return dict(made)

    def result(self) -> Result:
        """Return what came out."""
        steps = Ways({key: node_of(value) for key, value in self.values.items()} if self.tracer else {})
        values, source_ohm, picture, inner = (
            {key: np.asarray(value) for key, value in table.items()} for table in self._tables()
        )
        return Result(values, source_ohm, picture, inner, steps, self.batch)
