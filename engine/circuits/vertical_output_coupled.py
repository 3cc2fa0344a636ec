# SPDX-License-Identifier: MIT
"""A multivibrator whose second half is the vertical output tube, followed in time through whole fields.

The first tube discharges the sawtooth capacitor and so cuts the output tube off; the retrace pulse of the output
tube's plate comes back through a resistor and a capacitor to the first grid, drives it into grid current, and
leaves it cut off when it is over.  All nodes are followed together, with steps as long as the fastest allows,
until a field repeats itself; between fields the two slow capacitors, coupling and cathode bypass, are
helped on to their mean.
Limits: no saturation of the core; the integrator is one capacitor behind its resistance; no sync.
Sources: puckle-1951 for the circuit, rosenbrock-two for the steps (keys in kb/sources/vertical.yaml); circuit
equations written here, checked against circuit simulation.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.tube_curves import TubeModel, currents, grid_current
from backporch.engine.circuits.tubes import checked_tube

__all__ = ["OutputCoupled", "OutputCoupledParts", "output_coupled_multivibrator"]

Rows = NDArray[np.intp]

_N, _M, _G, _J, _F, _O, _E, _K, _V, _IM, _IY, _S = range(12)
"""Sawtooth node, foot of its capacitor, first grid, joint of the feedback, its far side, output plate, output
grid, output cathode, foot of the primary, magnetizing current, yoke current, integrator."""
_SIZE = 12
_GAMMA = 1.0 - 1.0 / np.sqrt(2.0)
_SCALE = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 4.0, 1.0, 1.0, 4.0, 0.01, 0.1, 1.0])
"""Errors of a step that count alike [V, A]."""
_WITHIN = 1.0
_FIELDS = 14
_LONGEST_S = 0.12
_STEPS = 5000
_AGREE = 1e-3
"""Two fields that differ by less in length, with cathode and grid at rest, are alike."""
_HELP = 0.35
"""Share of the way to its mean that the cathode is helped on; the tube's own feedback does the rest."""
_BLANKED_S = 1.25e-3


@dataclass(frozen=True)
class OutputCoupledParts:
    """The parts; every field may be a float or an array."""

    grid_ohm: Number
    """From the first grid to ground, hold control included."""
    grid_f: Number
    """Timing capacitor, from the joint of feedback and sync to the first grid."""
    feedback_f: Number
    """From the output plate."""
    feedback_ohm: Number
    """In series with the feedback capacitor."""
    charging_ohm: Number
    sawtooth_f: Number
    peaking_ohm: Number
    coupling_f: Number
    grid_leak_ohm: Number
    cathode_ohm: Number
    transformer_ratio: Number
    primary_h: Number
    yoke_h: Number
    yoke_ohm: Number
    """Yoke, secondary and anything in series."""
    bypass_f: Number = 100e-6
    primary_ohm: Number = 300.0
    damping_ohm: Number = 1120.0
    stray_f: Number = 1.5e-9
    """Across the primary; from memory, to verify."""
    sync_f: Number = 4.7e-9
    """Coupling capacitor of the sync, from the integrator to the joint."""
    integrator_f: Number = 4.7e-9
    """Last capacitor of the integrator."""
    integrator_ohm: Number = 39e3
    grid_capacitor_leak_ohm: Number = 1e12
    feedback_leak_ohm: Number = 1e12
    coupling_leak_ohm: Number = 1e12
    sawtooth_leak_ohm: Number = 1e12


@dataclass(frozen=True)
class OutputCoupled:
    """What oscillator and output stage do together; all 0 where they stand still."""

    frequency_hz: Number
    discharge_s: Number
    """Time for which the first tube is driven on."""
    lowest_v: Number
    """First grid right after the discharge."""
    mean_grid_v: Number
    sawtooth_v: Number
    foot_v: Number
    """Sawtooth capacitor after the discharge."""
    cathode_v: Number
    plate_v: Number
    plate_peak_v: Number
    yoke_pp_a: Number
    """Swing of the yoke current over the visible field."""


@dataclass
class _Course:
    """Where each set is in its field; arrays that change while it is followed."""

    state: Array
    time: Array
    step: Array
    begun: Array
    period: Array
    fields: NDArray[np.int64]
    sums: Array
    """Over the field so far: first grid, cathode, plate, cathode current, what the output grid takes, time."""
    low: Array
    high: Array
    seen_low: Array
    seen_high: Array
    conducted: Array
    last: Array
    settled: NDArray[np.bool_]


@dataclass(frozen=True)
class _Circuit:
    """Linear part of the nodes' balance, ``store * d(state)/dt = drive - network * state - tubes``."""

    store: Array
    network: Array
    drive: Array
    first: TubeModel
    last: TubeModel
    parts: dict[str, Array]


@formula(
    "1 / period_s of the field that repeats itself: currents add up at every node, plate and grid currents by the"
    " curves of both tubes, feedback through feedback_f and feedback_ohm to grid_f, yoke behind transformer_ratio"
)
def output_coupled_multivibrator(
    parts: OutputCoupledParts, first: TubeModel, last: TubeModel, charging_supply_v: Number, supply_v: Number
) -> OutputCoupled:
    r"""Return what an oscillator does whose second half is the vertical output tube.

    .. math:: C \dot x = b - G x - i(x)

    Args:
        parts: The parts, see :class:`OutputCoupledParts`; all values > 0.
        first: The tube that discharges the sawtooth capacitor.
        last: The output tube, a triode.
        charging_supply_v: Supply of the charging resistor [V], > 0.
        supply_v: Supply of the output transformer [V], >= 0.
    Returns:
        :class:`OutputCoupled`, its fields floats or arrays; 0 where nothing repeats itself.
    Raises:
        OutOfRange: A part, a supply or a number of a tube is out of its bounds.
    Valid: 5 % of a circuit simulation with the same tube curves (reached: 1.2 % in rate, 0.7 % in sawtooth, 4 % in
        the cathode voltage); one set of parts takes a second or two, two hundred together some seven.
    Source: puckle-1951 for the circuit; stepped here by the rule of rosenbrock-two.
    Example: both halves of a 6DE7 with a yoke of 40 mH, 45 ohm behind 8:1.
        >>> small = TubeModel(18.19, 1.33, 1686.0, 158.2, 425.4, contact_v=0.1578)
        >>> large = TubeModel(7.9, 1.341, 382.4, 31.89, 324.5, contact_v=-0.01121, grid_perv=1e-3)
        >>> parts = OutputCoupledParts(
        ...     820e3, 0.01e-6, 4.7e-9, 33e3, 1.57e6, 0.068e-6, 6.8e3, 0.1e-6, 2.2e6, 1110.0, 8.0, 20.0, 0.04, 50.0
        ... )
        >>> found = output_coupled_multivibrator(parts, small, large, 460.0, 230.0)
        >>> round(found.frequency_hz), round(found.lowest_v, -1)
        (45, -210.0)
    """
    circuit, shape = _circuit(parts, checked_tube(first), checked_tube(last), charging_supply_v, supply_v)
    course = _started(circuit)
    for _ in range(_STEPS):
        running = np.flatnonzero(~course.settled & (course.time - course.begun < _LONGEST_S))
        if not running.size:
            break
        _advance(circuit, course, running)
    return _shown(course, shape)


def _circuit(
    parts: OutputCoupledParts, first: TubeModel, last: TubeModel, charging_supply_v: Number, supply_v: Number
) -> tuple[_Circuit, tuple[int, ...]]:
    """Check everything and write the balance of every node."""
    (charge,) = positive(charging_supply_v=charging_supply_v)
    (supply,) = not_negative(supply_v=supply_v)
    names = (*vars(parts), "charge", "supply")
    shares = np.asarray(first.emission_share), np.asarray(last.emission_share)
    flat = np.broadcast_arrays(*positive(**vars(parts)), charge, supply, *shares)
    *values, one, other = (np.array(v, dtype=np.float64).reshape(-1) for v in flat)
    p = dict(zip(names, values, strict=True))
    rows = len(p["charge"])
    store, network, drive = np.zeros((rows, _SIZE, _SIZE)), np.zeros((rows, _SIZE, _SIZE)), np.zeros((rows, _SIZE))
    for a, b, farads in (
        *((_N, _M, p["sawtooth_f"]), (_N, _E, p["coupling_f"]), (_J, _G, p["grid_f"]), (_O, _F, p["feedback_f"])),
        *((_J, _S, p["sync_f"]), (_S, None, p["integrator_f"]), (_K, None, p["bypass_f"]), (_V, _O, p["stray_f"])),
        *((_N, None, 50e-12), (_G, None, 15e-12), (_E, None, 20e-12), (_J, None, 5e-12), (_F, None, 5e-12)),
        *((_M, None, 20e-12), (_V, None, 5e-12), (_O, None, 5e-12)),
    ):
        _between(store, a, b, farads)
    for a, b, ohms in (
        *((_N, None, p["charging_ohm"]), (_N, None, p["sawtooth_leak_ohm"]), (_M, None, p["peaking_ohm"])),
        *((_G, None, p["grid_ohm"]), (_J, _G, p["grid_capacitor_leak_ohm"]), (_F, _J, p["feedback_ohm"])),
        *((_O, _F, p["feedback_leak_ohm"]), (_N, _E, p["coupling_leak_ohm"]), (_E, None, p["grid_leak_ohm"])),
        *((_K, None, p["cathode_ohm"]), (_V, None, p["primary_ohm"]), (_S, None, p["integrator_ohm"])),
        (_V, _O, p["damping_ohm"] * p["transformer_ratio"] ** 2),
    ):
        _between(network, a, b, 1.0 / ohms)
    drive[:, _N], drive[:, _V] = p["charge"] / p["charging_ohm"], p["supply"] / p["primary_ohm"]
    turns = p["transformer_ratio"]
    store[:, _IM, _IM], store[:, _IY, _IY] = p["primary_h"], p["yoke_h"]
    for node, sign in ((_V, 1.0), (_O, -1.0)):
        network[:, node, _IM], network[:, node, _IY] = sign, sign / turns
        network[:, _IM, node], network[:, _IY, node] = -sign, -sign / turns
    network[:, _IY, _IY] = p["yoke_ohm"]
    tubes = replace(first, emission_share=one), replace(last, emission_share=other)
    return _Circuit(store, network, drive, *tubes, p), np.shape(flat[0])


def _between(matrix: Array, first: int, second: int | None, value: Array | float) -> None:
    """Lay a capacitance or a conductance between two nodes, or from one to ground."""
    matrix[:, first, first] += value
    if second is not None:
        matrix[:, second, second] += value
        matrix[:, first, second] -= value
        matrix[:, second, first] -= value


def _started(circuit: _Circuit) -> _Course:
    """Return a set early in a field, the first tube cut off, the coupling capacitor rather too low than too high.

    Grid current charges it within a field; of too much the output tube would stay cut off for many.
    """
    p, rows = circuit.parts, len(circuit.drive)
    state = np.zeros((rows, _SIZE))
    state[:, _N], state[:, _E], state[:, _K] = 0.3 * p["charge"], 0.05 * p["supply"], 0.12 * p["supply"]
    state[:, _O] = state[:, _V] = p["supply"]
    state[:, _G], state[:, _J], state[:, _F] = -p["supply"], -0.35 * p["supply"], -0.35 * p["supply"]
    none = np.zeros(rows)
    return _Course(
        state=state,
        time=none.copy(),
        step=np.full(rows, 1e-6),
        begun=none.copy(),
        period=none.copy(),
        fields=np.zeros(rows, dtype=np.int64),
        sums=np.zeros((rows, 6)),
        low=state.copy(),
        high=state.copy(),
        seen_low=none + np.inf,
        seen_high=none - np.inf,
        conducted=none.copy(),
        last=np.zeros((rows, 10)),
        settled=np.zeros(rows, dtype=bool),
    )


def _part(tube: TubeModel, rows: Rows) -> TubeModel:
    return replace(tube, emission_share=np.asarray(tube.emission_share)[rows])


def _balance(circuit: _Circuit, rows: Rows, state: Array, slopes: bool) -> tuple[Array, Array | None]:
    """Return what flows into every node, and how that changes with the state."""
    x = state.T
    first, last = _part(circuit.first, rows), _part(circuit.last, rows)
    one, other = currents(first, x[_N], x[_G]), currents(last, x[_O] - x[_K], x[_E] - x[_K])
    into, drawn = grid_current(first, x[_G]), grid_current(last, x[_E] - x[_K])
    network = circuit.network[rows]
    flow = circuit.drive[rows] - np.einsum("rij,rj->ri", network, state)
    for node, current in (
        *((_N, -one.plate), (_G, -into.current), (_O, -other.plate)),
        *((_E, -drawn.current), (_K, other.plate + drawn.current)),
    ):
        flow[:, node] += current
    if not slopes:
        return flow, None
    steep = -network
    steep[:, _N, _N] -= one.by_plate
    steep[:, _N, _G] -= one.by_grid
    steep[:, _G, _G] -= into.slope
    for node, sign in ((_O, -1.0), (_K, 1.0)):
        steep[:, node, _O] += sign * other.by_plate
        steep[:, node, _E] += sign * other.by_grid
        steep[:, node, _K] -= sign * (other.by_plate + other.by_grid)
    for node, sign in ((_E, -1.0), (_K, 1.0)):
        steep[:, node, _E] += sign * drawn.slope
        steep[:, node, _K] -= sign * drawn.slope
    return flow, steep


def _advance(circuit: _Circuit, course: _Course, rows: Rows) -> None:
    """Go one step on in the given sets, or try again with a shorter one."""
    before, h = course.state[rows], course.step[rows]
    flow, steep = _balance(circuit, rows, before, slopes=True)
    store = circuit.store[rows]
    system = np.linalg.inv(store - _GAMMA * h[:, None, None] * np.asarray(steep))
    k1 = np.einsum("rij,rj->ri", system, flow)
    later, _ = _balance(circuit, rows, before + h[:, None] * k1, slopes=False)
    k2 = np.einsum("rij,rj->ri", system, later - 2.0 * np.einsum("rij,rj->ri", store, k1))
    after = before + h[:, None] * (1.5 * k1 + 0.5 * k2)
    error = np.max(np.abs(0.5 * h[:, None] * (k1 + k2)) / _SCALE, axis=1) / _WITHIN
    error = np.where(np.isfinite(error), error, 1e3)
    good = error < 1.0
    factor = np.clip(0.85 / np.sqrt(np.maximum(error, 1e-4)), 0.2, 2.5)
    course.step[rows] = np.clip(h * factor, 1e-9, 0.6e-3)
    done = rows[good]
    _counted(circuit, course, done, before[good], after[good], h[good])
    course.state[done] = after[good]
    course.time[done] += h[good]
    fired = good & (before[:, _G] < -1.0) & (after[:, _G] >= -1.0)
    if np.any(fired):
        _next_field(circuit, course, rows[fired])


def _counted(circuit: _Circuit, course: _Course, rows: Rows, before: Array, after: Array, h: Array) -> None:
    """Add a step to the sums and bounds of the field."""
    middle = 0.5 * (before + after)
    p = circuit.parts
    leaked = (middle[:, _N] - middle[:, _E]) / p["coupling_leak_ohm"][rows]
    tube, above = _part(circuit.last, rows), middle[:, _K]
    drawn = grid_current(tube, middle[:, _E] - above).current
    flows = middle[:, _E] / p["grid_leak_ohm"][rows] + drawn - leaked
    cathode = currents(
        _part(circuit.last, rows), middle[:, _O] - middle[:, _K], middle[:, _E] - middle[:, _K]
    ).plate
    values = np.stack([middle[:, _G], above, middle[:, _O], cathode, flows, np.ones_like(h)], axis=1)
    course.sums[rows] += values * h[:, None]
    shown = after.copy()
    shown[:, _N] -= after[:, _M]
    course.low[rows], course.high[rows] = np.minimum(course.low[rows], shown), np.maximum(course.high[rows], shown)
    course.conducted[rows] += np.where(middle[:, _G] > -1.0, h, 0.0)
    left = course.time[rows] + h - course.begun[rows] - _BLANKED_S
    yoke = after[:, _IY] - np.where(left < h, left / h * (after - before)[:, _IY], 0.0)
    for table, bound in ((course.seen_low, np.minimum), (course.seen_high, np.maximum)):
        table[rows] = np.where(left > 0.0, bound(table[rows], yoke), table[rows])


def _next_field(circuit: _Circuit, course: _Course, rows: Rows) -> None:
    """Close a field: keep what it has shown, help the slow capacitors on, begin the next."""
    p = circuit.parts
    lasted = course.time[rows] - course.begun[rows]
    means = course.sums[rows] / np.maximum(lasted, 1e-9)[:, None]
    swing, foot = course.high[rows, _N] - course.low[rows, _N], course.low[rows, _N]
    yoke = np.maximum(course.seen_high[rows] - course.seen_low[rows], 0.0)
    shown = (
        lasted,
        course.conducted[rows],
        course.low[rows, _G],
        means[:, 0],
        swing,
        foot,
        means[:, 1],
        means[:, 2],
    )
    found = np.stack([*shown, course.high[rows, _O], yoke], axis=1)
    cathode = p["cathode_ohm"][rows] * means[:, 3] - means[:, 1]
    grid = -means[:, 4] * np.minimum(p["grid_leak_ohm"][rows], 1e7)
    near = np.abs(lasted - course.last[rows, 0]) < _AGREE * lasted
    still = (np.abs(cathode) < 0.01 * means[:, 1] + 0.02) & (np.abs(grid) < 0.2)
    whole = course.fields[rows] >= 3
    course.settled[rows] = whole & ((near & still) | (course.fields[rows] >= _FIELDS))
    course.last[rows] = np.where((course.fields[rows] >= 1)[:, None], found, 0.0)
    helped = (course.fields[rows] >= 1) & (course.fields[rows] < _FIELDS - 2)
    course.state[rows, _K] += np.where(helped, np.clip(_HELP * cathode, -10.0, 10.0), 0.0)
    course.state[rows, _E] += np.where(helped, np.clip(0.5 * grid, -8.0, 8.0), 0.0)
    course.begun[rows], course.sums[rows], course.conducted[rows] = course.time[rows], 0.0, 0.0
    course.low[rows], course.high[rows] = np.inf, -np.inf
    course.seen_low[rows], course.seen_high[rows] = np.inf, -np.inf
    course.fields[rows] += 1
    course.step[rows] = np.minimum(course.step[rows], 2e-6)


def _shown(course: _Course, shape: tuple[int, ...]) -> OutputCoupled:
    found = np.where(course.settled[:, None], course.last, 0.0)
    lasted, *others = found.T
    rate = np.where(lasted > 0.0, 1.0 / np.maximum(lasted, 1e-9), 0.0)
    return OutputCoupled(*(plain(np.asarray(v).reshape(shape)) for v in (rate, *others)))
