# SPDX-License-Identifier: MIT
"""The grid of a grid-leak sync separator: what bias it makes for itself, and how it follows what changes.

The signal comes with positive sync through a resistor, perhaps a noise network, and the coupling capacitor; the
grid conducts above its contact potential like a resistance, so that the tips charge the capacitor and the grid
leak discharges it.  The balance of charge over a line is solved in closed form.
Limits: a line has three levels: sync tip, blanking (and black), white; a noise network or a small coupling
capacitor acts as a resistance that makes the same balance; noise pulses are not followed.
Sources: grob-basic-television for usual parts (key in kb/sources/sync.yaml); charge balance derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.scanning import Standard

__all__ = ["SeparatorGrid", "SeparatorParts", "SeparatorSignal", "line_signal", "separator_grid"]


@dataclass(frozen=True)
class SeparatorSignal:
    """Composite signal with positive sync at the plate in front; every field may be a float or an array."""

    sync_v: Number
    """Sync, tip to blanking [V], >= 0."""
    picture_v: Number
    """Picture, blanking to white [V], >= 0."""
    tip_v: Number
    """Direct voltage at the sync tips [V]."""
    sync_s: Number
    """Length of the pulse [s], > 0, less than pitch_s."""
    pitch_s: Number
    """From pulse to pulse [s], > 0."""
    white_share: Number = 0.0
    """Share of the pitch at white, 0 to 1 less the pulse; the rest is at blanking."""


@dataclass(frozen=True)
class SeparatorParts:
    """What lies around the grid; every field may be a float or an array."""

    series_ohm: Number
    """Resistor from the plate in front, with the resistance of that plate [ohm], > 0."""
    coupling_f: Number
    """Coupling capacitor [F], > 0; 1e-15 is open."""
    grid_leak_ohm: Number
    """Grid leak [ohm], > 0; 1e9 is open."""
    coupling_leak_ohm: Number = 1e12
    """Leak of the coupling capacitor [ohm], > 0."""
    noise_ohm: Number = 1e-3
    """Resistor of the noise network, in series [ohm], > 0; 1e-3 for none."""
    noise_f: Number = 1e-9
    """Capacitor across it [F], > 0."""
    return_v: Number = 0.0
    """Return of the grid leak [V]."""
    grid_ohm: Number = 1000.0
    """Slope of the grid current [ohm], > 0; from memory, to verify: about 1 k for small tubes."""
    contact_v: Number = 0.0
    """Grid voltage at which grid current starts [V]."""
    gas_a: Number = 0.0
    """Grid current of a gassy tube, which lifts the grid [A], >= 0."""
    stray_f: Number = 10e-12
    """Capacitance of grid and wiring to ground [F], > 0."""


@dataclass(frozen=True)
class SeparatorGrid:
    """The grid of the separator against its cathode."""

    mean_v: Number
    """What a meter that does not load it would show: the bias."""
    tip_v: Number
    """At the sync tips, on the mean of the pulse."""
    blanking_v: Number
    """Just in front of the pulse."""
    white_v: Number
    stored_v: Number
    """Direct voltage across coupling capacitor and noise network."""
    settling_s: Number
    """Time constant with which the bias follows the signal."""
    tip_share: Number
    """Share of the time at the sync tip; the next likewise."""
    white_share: Number
    pulse_s: Number
    """Length of the pulse."""


def line_signal(standard: Standard, video_v: Number, tip_v: Number, picture_mean: Number = 0.5) -> SeparatorSignal:
    """Return the ordinary signal of a standard for a given swing of the plate in front.

    Args:
        standard: Scanning standard.
        video_v: Swing from sync tip to white [V], >= 0.
        tip_v: Direct voltage at the sync tips [V].
        picture_mean: Mean grey of the picture, 0 to 1.
    Returns:
        :class:`SeparatorSignal`.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: black counts as blanking.
    Source: levels and times as in the standard.
    Example: 60 V on 625 lines have 18 V of sync.
        >>> from backporch.engine.circuits.scanning import standard
        >>> line_signal(standard("625"), 60.0, 150.0).sync_v
        18.0
    """
    (swing,) = not_negative(video_v=video_v)
    (mean,) = share(picture_mean=picture_mean)
    sync = swing * standard.blanking_level
    white = mean * standard.active_line_s / standard.line_s
    return SeparatorSignal(
        plain(sync), plain(swing - sync), tip_v, standard.line_sync_s, standard.line_s, plain(white)
    )


@formula(
    "stored_v = sum of share * (level_v - grid_open_v) / path_ohm over"
    " (sum of share / path_ohm + 1 / coupling_leak_ohm);"
    " path_ohm = series_ohm + grid_ohm while the grid conducts, series_ohm + grid_leak_ohm else"
)
def separator_grid(signal: SeparatorSignal, parts: SeparatorParts) -> SeparatorGrid:
    r"""Return the bias that the grid of a separator makes for itself, and where its signal then stands.

    .. math::
        \sum_j d_j\, i(e_j - V) = \frac{V}{R_l}, \qquad
        i(w) = \max\left(\frac{w - E_g}{R + R_g},\ \frac{w - E_p}{R + R_p}\right), \qquad R_p = r_g \parallel R_g

    with the levels e and their shares d.  The left side is a maximum of falling straight lines, so that V is the
    greatest of their roots.

    Args:
        signal: See :class:`SeparatorSignal`.
        parts: See :class:`SeparatorParts`.
    Returns:
        :class:`SeparatorGrid`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: mean within 4 % of simulation, also with a noise network or a leak that puts out the bias; with both at
        once the white level is some 15 % off.
    Source: grob-basic-television for the circuit; balance of charge, derived here.
    Example: 40 V of video with 12 V of sync, 22 k, 0.022 uF, 1 M; then 2 M of leak from about 130 V.
        >>> signal = SeparatorSignal(12.0, 28.0, 150.0, 4.7e-6, 64e-6, white_share=0.4)
        >>> parts = (SeparatorParts(22e3, 22e-9, 1e6, coupling_leak_ohm=leak) for leak in (1e12, 2e6))
        >>> sound, leaky = (separator_grid(signal, one) for one in parts)
        >>> round(sound.mean_v, 1), round(leaky.mean_v, 1), round(sound.blanking_v, 1), round(leaky.blanking_v, 1)
        (-17.0, -10.3, -6.5, 0.1)
    """
    levels, shares = _levels(signal, parts)
    off, on = _paths(signal, parts)
    stored = _stored(levels, shares, off, on)
    grids, gives, currents = zip(*(_at(level - stored, off, on) for level in levels), strict=True)
    mean = sum(part * grid for part, grid in zip(shares, grids, strict=True))
    give = sum(part * value for part, value in zip(shares, gives, strict=True)) + 1.0 / off.leak_ohm
    settling = np.asarray(parts.coupling_f, dtype=np.float64) / give
    blanking, *_ = _at(levels[1] - stored + off.tilt_ohm * np.maximum(currents[0], 0.0), off, on)
    values = (mean, grids[0], blanking, grids[2], stored, settling, shares[0], shares[2], signal.sync_s)
    return SeparatorGrid(*(plain(np.array(value)) for value in np.broadcast_arrays(*values)))


@dataclass(frozen=True)
class _Path:
    """What the signal works into: a resistance and an open voltage, behind all that is in series."""

    ohm: Array
    """Whole resistance of the loop."""
    grid_ohm: Array
    """Part of it between grid and ground."""
    open_v: Array
    leak_ohm: Array
    """Leak of the coupling capacitor as the balance sees it."""
    tilt_ohm: Array
    """Rise of the blanking level from its mean to the next pulse, for the current in the pulse."""


def _stored(levels: list[Array], shares: list[Array], off: _Path, on: _Path) -> Array:
    """Return the greatest of the roots, one for each number of levels at which the grid conducts."""
    roots = []
    for count in range(4):
        paths = [on if n < count else off for n in range(3)]
        items = list(zip(levels, shares, paths, strict=True))
        push = sum(part * (level - path.open_v) / path.ohm for level, part, path in items)
        give = sum(part / path.ohm for _, part, path in items)
        roots.append(np.asarray(push / (give + 1.0 / off.leak_ohm)))
    return np.asarray(np.max(np.broadcast_arrays(*roots), axis=0), dtype=np.float64)


def _levels(signal: SeparatorSignal, parts: SeparatorParts) -> tuple[list[Array], list[Array]]:
    """Return the levels in front of the capacitor, the stray capacitance divided in, and their shares."""
    sync, picture = not_negative(sync_v=signal.sync_v, picture_v=signal.picture_v)
    (tip,) = any_sign(tip_v=signal.tip_v)
    pulse, pitch, farads, stray = positive(
        sync_s=signal.sync_s, pitch_s=signal.pitch_s, coupling_f=parts.coupling_f, stray_f=parts.stray_f
    )
    at_tip, white = share(sync_s_over_pitch_s=plain(pulse / pitch), white_share=signal.white_share)
    (rest,) = share(white_share_and_sync=plain(1.0 - at_tip - white))
    deep = [np.zeros_like(sync), sync, sync + picture]
    parts_of_time = [at_tip, rest, white]
    below = sum(part * level for part, level in zip(parts_of_time, deep, strict=True))
    divided = farads / (farads + stray)
    return [np.asarray(tip - below + divided * (below - level)) for level in deep], parts_of_time


def _paths(signal: SeparatorSignal, parts: SeparatorParts) -> tuple[_Path, _Path]:
    """Return what the signal works into with the grid off and with the grid conducting."""
    series, grid_leak, across, noise, noise_f, slope, farads = positive(
        series_ohm=parts.series_ohm,
        grid_leak_ohm=parts.grid_leak_ohm,
        coupling_leak_ohm=parts.coupling_leak_ohm,
        noise_ohm=parts.noise_ohm,
        noise_f=parts.noise_f,
        grid_ohm=parts.grid_ohm,
        coupling_f=parts.coupling_f,
    )
    back, contact = any_sign(return_v=parts.return_v, contact_v=parts.contact_v)
    (gas,) = not_negative(gas_a=parts.gas_a)
    both = 1.0 / (1.0 / slope + 1.0 / grid_leak)
    tip, rest = series + both, series + grid_leak
    slow = [_balance_ohm(r, c, tip, rest, signal) for r, c in ((noise, noise_f), (across, farads))]
    held, tilt = (np.asarray(first + second) for first, second in zip(*slow, strict=True))
    leak = np.maximum(across + noise - held, 1.0)
    push = back / grid_leak + gas
    off = _Path(series + held + grid_leak, grid_leak, push * grid_leak, leak, tilt)
    return off, _Path(series + held + both, both, (push + contact / slope) * both, leak, tilt)


def _balance_ohm(
    ohm: Array, farad: Array, tip_ohm: Array, rest_ohm: Array, signal: SeparatorSignal
) -> tuple[Array, Array]:
    """Return by which resistance a resistor with a capacitor across it acts on the pulses, and its tilt.

    Pulse and gap charge the capacitor exponentially; the steps of the source are chosen so that no direct current
    flows, and the voltage on the capacitor in the pulse over the current in the pulse is the answer.
    """
    pulse = np.asarray(signal.sync_s, dtype=np.float64)
    gap = np.asarray(signal.pitch_s, dtype=np.float64) - pulse
    drive = [ohm / (ohm + side) for side in (tip_ohm, rest_ohm)]
    turns = [(1.0 / ohm + 1.0 / side) / farad * time for side, time in ((tip_ohm, pulse), (rest_ohm, gap))]
    left, fill = [np.exp(-turn) for turn in turns], [-np.expm1(-turn) for turn in turns]
    mean = [fill[n] / turns[n] for n in range(2)]
    closed = -np.expm1(-turns[0] - turns[1])

    def in_parts(high: float, low: float) -> Array:
        """Give the mean in the pulse, the mean in the gap and the end of the gap."""
        first, second = drive[0] * high, drive[1] * low
        start = (first * fill[0] * left[1] + second * fill[1]) / closed
        end = first * fill[0] + start * left[0]
        return np.array([first + (start - first) * mean[0], second + (end - second) * mean[1], start])

    high, low = in_parts(1.0, 0.0), in_parts(0.0, 1.0)
    down = -(pulse * high[0] + gap * high[1]) / (pulse * low[0] + gap * low[1])
    held, between, last = high + down * low
    current = np.maximum(1.0 - held, 1e-12) / tip_ohm
    return np.clip(held / current, 0.0, ohm), np.maximum((between - last) / current, 0.0)


def _at(level: Array, off: _Path, on: _Path) -> tuple[Array, Array, Array]:
    """Return grid voltage, conductance of the loop and current into the grid at one level."""
    current_off, current_on = (level - off.open_v) / off.ohm, (level - on.open_v) / on.ohm
    conducts = current_on > current_off
    grid = np.where(conducts, on.open_v + current_on * on.grid_ohm, off.open_v + current_off * off.grid_ohm)
    return grid, np.where(conducts, 1.0 / on.ohm, 1.0 / off.ohm), np.maximum(current_on, current_off)
