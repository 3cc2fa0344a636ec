# SPDX-License-Identifier: MIT
"""The capacitor-input circuits as one network: which capacitors each rectifier charges, and what feeds the load.

A rectifier senses the sum of mains and capacitor voltages round its loop and drives its current round the
same loop, so one pair of numbers per rectifier and one pair for the load describe a circuit.
Limits: a tube is replaced by the drop and the resistance that meet its three-halves law at the peak current and
come near it below; a load stated as a current is the resistance that takes this current on the mean.
Sources: schade-1943 for a tube as a resistance in the charging path (keys in kb/sources/supply.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive, share
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.circuits.supply_cycle import Cycle, Mode, Piece, advanced, cycle

__all__ = [
    "CASCADE",
    "FULL_WAVE",
    "TWO_HALVES",
    "Layout",
    "Rectifier",
    "SupplyOutput",
    "SupplyParts",
    "supply_output",
]

_THRESHOLD = 0.17
"""Share of a tube's peak drop that stands for the curved foot of its characteristic: with it direct voltage,
ripple and peak current all meet an integration of the three-halves law."""
_OPEN = 1e-12


@dataclass(frozen=True)
class Rectifier:
    """The forward drop of one rectifier: a constant, a resistance and a tube's perveance."""

    drop_v: Number = 0.0
    series_ohm: Number = 0.0
    perveance_perv: Number = np.inf
    """Current over voltage to the power 3/2; infinite for a rectifier that is no tube."""


@dataclass(frozen=True)
class Layout:
    """How a circuit is wired."""

    senses: tuple[tuple[float, float], tuple[float, float]]
    """How the rectifier of the positive peak and that of the negative one sense the two capacitor voltages."""
    output: tuple[float, float]
    """How the two capacitor voltages make the output."""


FULL_WAVE = Layout(((-1.0, 0.0), (-1.0, 0.0)), (1.0, 0.0))
CASCADE = Layout(((1.0, -1.0), (-1.0, 0.0)), (0.0, 1.0))
TWO_HALVES = Layout(((-1.0, 0.0), (0.0, -1.0)), (1.0, 1.0))


@dataclass(frozen=True)
class SupplyParts:
    """What the circuits have in common; every field may be a float or an array."""

    source_v: Number
    """RMS of mains or winding (of one half of a centre-tapped winding)."""
    mains_hz: Number
    source_ohm: Number
    first_f: Number
    second_f: Number
    first_leak_ohm: Number
    second_leak_ohm: Number
    load_ohm: Number
    load_a: Number
    first_share: Number
    """Conduction left in the rectifier of the positive peak: emission of a tube; 0 is an open rectifier."""
    second_share: Number


@dataclass(frozen=True)
class SupplyOutput:
    """What a rectifier with its capacitors delivers; each field is a float or an array."""

    dc_v: Number
    ripple_v: Number
    """Peak to peak."""
    ripple_hz: Number
    """Rate of the stronger of the two components that follow."""
    mains_rate_v: Number
    """Component of the ripple at mains rate, peak to peak: one hum bar."""
    double_rate_v: Number
    """Component at twice mains rate, peak to peak: two hum bars."""
    peak_a: Number
    """Peak current of the harder worked rectifier, in each cycle."""
    load_a: Number
    """Mean current of the load, leaks of capacitors not counted."""
    source_a: Number
    """RMS current of the source; of both halves of a centre-tapped winding taken together."""
    source_w: Number
    """Power from the source."""
    first_capacitor_v: Number
    """Direct voltage on reservoir, series capacitor or upper capacitor."""
    second_capacitor_v: Number
    """Direct voltage on the second capacitor; 0 where there is none."""


@dataclass(frozen=True)
class _Batch:
    """The checked parts, all of one shape; pairs have the two capacitors or rectifiers first."""

    peak: Array
    omega: Array
    hz: Array
    source: Array
    farads: Array
    leaks: Array
    load: Array
    load_a: Array
    drop: Array
    series: Array
    perveance: Array


def supply_output(layout: Layout, parts: SupplyParts, rectifier: Rectifier) -> SupplyOutput:
    """Return what a circuit delivers once it has settled.

    Args:
        layout: How it is wired: :data:`FULL_WAVE`, :data:`CASCADE` or :data:`TWO_HALVES`.
        parts: The parts, see :class:`SupplyParts`, floats or arrays.
        rectifier: The rectifier, see :class:`Rectifier`.
    Returns:
        :class:`SupplyOutput`, its fields floats or arrays.
    Raises:
        OutOfRange: A part is out of its bounds; the message names it and its value.
    Source: exact pieces between the switching instants, solved here; schade-1943 for the circuits.
    Example: 120 V behind 50 ohm, 47 uF and 2 k, full wave.
        >>> parts = SupplyParts(120.0, 60.0, 50.0, 47e-6, 47e-6, 1e9, 1e9, 2e3, 0.0, 1.0, 1.0)
        >>> made = supply_output(FULL_WAVE, parts, Rectifier())
        >>> round(made.dc_v, 1), round(made.ripple_v, 1)
        (150.5, 9.5)
    """
    batch = _batch(parts, rectifier)
    tube, current = bool(np.any(np.isfinite(batch.perveance))), bool(np.any(batch.load_a))
    alike = layout is FULL_WAVE and all(bool(np.all(x[0] == x[1])) for x in (batch.series, batch.perveance))
    state, load = _guess(layout, batch)
    gap = 0.3 * np.maximum(batch.peak - np.abs(state[0]), 1e-6)
    peaks = np.minimum(gap / batch.source, batch.perveance * gap**1.5)
    rounds = 12 if tube or current else 8
    for _ in range(rounds):
        modes = _modes(layout, batch, peaks, load)
        used, found = load, cycle(*modes, state, whole=not alike)
        state = _limited(layout, batch, state, advanced(found, state))
        if tube:
            peaks = _peaks(found)
        if current:
            load = _load(layout, batch, found, load)
    return _described(layout, batch, found, used, alike=alike)


def _batch(parts: SupplyParts, rectifier: Rectifier) -> _Batch:
    """Return the parts checked and brought to one shape."""
    given = {field.name: getattr(parts, field.name) for field in fields(parts)}
    zero_up = not_negative(**{n: given[n] for n in ("source_v", "load_a")}, drop_v=rectifier.drop_v)
    resistances = not_negative(source_ohm=parts.source_ohm, series_ohm=rectifier.series_ohm)
    above = positive(**{n: given[n] for n in given if n.endswith(("_hz", "_f")) or "leak" in n or n == "load_ohm"})
    shares = share(first_share=parts.first_share, second_share=parts.second_share)
    (perveance,) = positive(perveance_perv=np.minimum(rectifier.perveance_perv, 1e30))
    found = np.broadcast_arrays(*zero_up, *resistances, *above, *shares, perveance)
    volts, load_a, drop, source, series, hz, c1, c2, leak_1, leak_2, load, share_1, share_2, perv = found
    left = np.maximum(np.stack([share_1, share_2]), _OPEN)
    tube = np.where(perv >= 1e30, np.inf, perv)
    return _Batch(
        volts * math.sqrt(2.0), 2.0 * math.pi * hz, hz, np.maximum(source, 1e-3), np.stack([c1, c2]),
        1.0 / np.stack([leak_1, leak_2]), 1.0 / load, load_a, drop, np.maximum(series, 1e-3) / left, tube * left,
    )  # fmt: skip


def _guess(layout: Layout, batch: _Batch) -> tuple[Array, Array]:
    """Return a state to begin with, and the conductance of the load with it.

    Mean current into a steady voltage meets what the load takes; a little below that, so that Newton's method
    comes from the side from which it cannot overshoot.
    """
    stages = 1.0 if layout is FULL_WAVE else 2.0
    ohm = np.max(batch.source + batch.series + 0.1 / np.sqrt(batch.peak + 1e-6) / batch.perveance, axis=0)
    load = batch.load + batch.load_a / np.maximum(0.8 * stages * batch.peak, 1e-6)
    taken = stages * (load + batch.leaks.max(axis=0)) * ohm

    def excess(ratio: Array) -> Array:
        angle = np.arccos(ratio)
        return np.asarray((np.sin(angle) - angle * ratio) / math.pi - taken * ratio)

    level = 0.97 * batch.peak * quick_root(excess, 0.0 * taken, 1.0, within=1e-7)
    pairs = {FULL_WAVE: (1.0, 0.0), CASCADE: (1.0, 2.0), TWO_HALVES: (1.0, 1.0)}[layout]
    return np.stack([pairs[0] * level, pairs[1] * level]), load


def _limited(layout: Layout, batch: _Batch, state: Array, wanted: Array) -> Array:
    """Return the wanted state, or as far towards it as a step may go.

    Beside the peak hardly any current flows and Newton's step grows beyond bounds; no step goes further than a few
    times the distance that the state has from the peak already.
    """
    gaps = [batch.peak + sense[0] * state[0] + sense[1] * state[1] for sense in layout.senses]
    most = 4.0 * np.maximum(*gaps).clip(0.0) + 0.01 * batch.peak
    return np.asarray(state + np.clip(wanted - state, -most, most))


def _modes(layout: Layout, batch: _Batch, peaks: Array, load: Array) -> tuple[Mode, Mode, Mode]:
    """Return the circuit with the first rectifier conducting, with none, and with the second."""
    tube_v = (np.maximum(peaks, 1e-9) / batch.perveance) ** (2.0 / 3.0)
    drop = batch.drop + _THRESHOLD * tube_v
    ohm = batch.source + batch.series + (1.0 - _THRESHOLD) * tube_v / np.maximum(peaks, 1e-9)
    out = np.array(layout.output)
    shunt = [[out[i] * out[j] * load + (batch.leaks[i] if i == j else 0.0) for j in (0, 1)] for i in (0, 1)]
    scale = batch.omega * batch.farads

    def mode(sense: tuple[float, float], sign: float, which: int) -> Mode:
        path = 1.0 / ohm[which]
        rates = [[-(shunt[i][j] + sense[i] * sense[j] * path) / scale[i] for j in (0, 1)] for i in (0, 1)]
        gain = np.stack([-sense[i] * path / scale[i] for i in (0, 1)])
        return Mode(np.array(rates), gain, sense, sign, batch.peak, drop[which], ohm[which])

    one, two = layout.senses
    return mode(one, 1.0, 0), mode((0.0, 0.0), 1.0, 0), mode(two, -1.0, 1)


def _spread(piece: Piece, nodes: Array) -> Array:
    """Return phases over a piece, one row for each node from 0 to 1."""
    rows = nodes.reshape(-1, *[1] * piece.start.ndim)
    return np.asarray(piece.start + rows * (piece.end - piece.start))


def _current(piece: Piece, phase: Array) -> Array:
    return np.asarray(np.maximum(piece.seen(piece.mode)(phase), 0.0) / piece.mode.ohm)


def _peaks(found: Cycle) -> Array:
    """Return the peak current of each rectifier, near enough to linearize it."""
    nodes = np.linspace(0.0, 1.0, 9)
    peaks = [0.0 * found.end[0], 0.0 * found.end[0]]
    for piece, kind in zip(found.pieces, found.conducting, strict=True):
        if kind is not None:
            peaks[kind] = np.maximum(peaks[kind], _current(piece, _spread(piece, nodes)).max(axis=0))
    if len(found.pieces) == 3:
        peaks = [np.maximum(*peaks)] * 2
    return np.stack(peaks)


def _output(layout: Layout, states: Array) -> Array:
    return np.asarray(layout.output[0] * states[0] + layout.output[1] * states[1])


def _load(layout: Layout, batch: _Batch, found: Cycle, load: Array) -> Array:
    """Return the next conductance of a load that takes a stated mean current."""
    nodes, weights = np.polynomial.legendre.leggauss(5)
    total, span = 0.0 * load, 0.0 * load
    for piece in found.pieces:
        volts = _output(layout, piece.states(_spread(piece, 0.5 * (nodes + 1.0))))
        total = total + np.tensordot(0.5 * weights, volts, 1) * (piece.end - piece.start)
        span = span + piece.end - piece.start
    wanted = batch.load + batch.load_a / np.maximum(total / span, 0.02 * batch.peak + 1e-9)
    return np.asarray(load**0.2 * wanted**0.8)


def _samples(layout: Layout, piece: Piece, phase: Array, *, conducting: bool) -> Array:
    """Return along a piece what is to be averaged over the cycle."""
    states = piece.states(phase)
    out = _output(layout, states)
    current = _current(piece, phase) if conducting else 0.0 * out
    power = current * piece.mode.sign * piece.mode.peak * np.cos(phase)
    waves = [out * turn(rate * phase) for rate in (1.0, 2.0) for turn in (np.cos, np.sin)]
    return np.stack([out, states[0], states[1], current**2, power, *waves, current])


def _surveyed(layout: Layout, found: Cycle) -> tuple[Array, Array, Array]:
    """Return the integrals of :func:`_samples` over the cycle, the ripple and the peak current."""
    nodes, weights = np.polynomial.legendre.leggauss(12)
    weights = np.concatenate([[0.0], 0.5 * weights, [0.0]])
    nodes = np.concatenate([[0.0], 0.5 * (nodes + 1.0), [1.0]])
    totals, outputs, peaks = [], [], []
    for piece, kind in zip(found.pieces, found.conducting, strict=True):
        samples = _samples(layout, piece, _spread(piece, nodes), conducting=kind is not None)
        totals.append(np.einsum("n,kn...->k...", weights, samples) * (piece.end - piece.start))
        outputs.append(samples[0])
        peaks.append(samples[-1].max(axis=0))
    return np.sum(totals, axis=0), np.ptp(np.concatenate(outputs), axis=0), np.max(peaks, axis=0)


def _described(layout: Layout, batch: _Batch, found: Cycle, load: Array, *, alike: bool) -> SupplyOutput:
    """Return the figures of a settled cycle."""
    totals, ripple, peak = _surveyed(layout, found)
    means = totals / (math.pi if alike else 2.0 * math.pi)
    single = 4.0 * np.hypot(means[5], means[6]) * (0.0 if alike else 1.0)
    double = 4.0 * np.hypot(means[7], means[8])
    rate = batch.hz * np.where(single > double, 1.0, 2.0)
    second = means[2] * (0.0 if layout is FULL_WAVE else 1.0)
    currents = (peak, load * means[0], np.sqrt(means[3]), means[4])
    return SupplyOutput(*map(plain, (means[0], ripple, rate, single, double, *currents, means[1], second)))
