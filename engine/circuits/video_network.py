# SPDX-License-Identifier: MIT
"""The network between video tube and picture tube with its peaking coils: band, rise, overshoot and ringing.

The tube feeds its plate with a current; plate resistance and plate capacitance stand across it; load resistor
and shunt coil hang from the plate; a series coil leads on to the picture tube with its capacitance.  Either
coil may have a damping resistor across it.  Where the load hangs from the picture-tube end of the series coil,
exchange the two capacitances: the network reads the same from either end.
Limits: lumped parts; coils have no capacitance of their own, give it to the nearer end.
Sources: valley-wallman-1948, staric-margan-2006 (keys in kb/sources/video.yaml); Kirchhoff's laws.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = ["PulseShape", "network_share", "network_upper_hz", "pulse_shape"]

Complex = NDArray[np.complex128]

_LEAST = 3e-4
"""A coil or capacitance below this share of the network's scale is raised to it: nothing else notices."""
_MOST = 1e3
_POINTS = 240


class _Network(NamedTuple):
    """The network with times over R C, resistances over R and capacitances over C, R and C its totals."""

    scale_s: Array
    plate_g: Array
    load: Array
    plate_c: Array
    output_c: Array
    shunt_l: Array
    shunt_r: Array
    series_l: Array
    series_r: Array


@formula(
    "1 / (R0 * abs((Yp + 1 / (load_ohm + Zshunt)) * (1 + Zseries * Yo) + Yo)),"
    " Yp = 1 / plate_ohm + s * plate_f, Yo = s * output_f"
)
def network_share(
    frequency_hz: Number,
    load_ohm: Number,
    plate_f: Number,
    output_f: Number,
    shunt_h: Number = 0.0,
    series_h: Number = 0.0,
    shunt_damping_ohm: Number = 1e12,
    series_damping_ohm: Number = 1e12,
    plate_ohm: Number = 1e12,
) -> Number:
    r"""Return the gain of the peaking network at a frequency over its gain at low frequencies.

    .. math::
        h = \frac{1}{R_0 \left|\left(Y_p + \frac{1}{R + Z_1}\right) (1 + Z_2 Y_o) + Y_o\right|}

    Args:
        frequency_hz: Frequency [Hz], > 0.
        load_ohm: Plate load [ohm], > 0.
        plate_f: Capacitance at the plate [F], > 0.
        output_f: Capacitance at the picture-tube end [F], > 0.
        shunt_h: Shunt coil, in series with the load [H], >= 0; 0 is shorted, 1e3 open.
        series_h: Series coil between plate and picture tube [H], >= 0; 0 is shorted, 1e3 open.
        shunt_damping_ohm: Resistor across the shunt coil [ohm], > 0.
        series_damping_ohm: Resistor across the series coil [ohm], > 0.
        plate_ohm: Plate resistance and all else across the plate [ohm], > 0.
    Returns:
        Share, 1 at low frequencies, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: lumped parts; with an open coil its damping resistor carries the picture, if there is one.
    Source: valley-wallman-1948 for the circuits; Kirchhoff's laws.
    Example: a stage of 3.9 k and 8 + 12 pF at 4 MHz, bare and with 36 uH of shunt and 158 uH of series coil.
        >>> bare = network_share(4e6, 3900.0, 8e-12, 12e-12)
        >>> peaked = network_share(4e6, 3900.0, 8e-12, 12e-12, 36e-6, 158e-6)
        >>> round(bare, 2), round(peaked, 2)
        (0.45, 0.92)
    """
    (frequency,) = positive(frequency_hz=frequency_hz)
    network = _network(
        load_ohm, plate_f, output_f, shunt_h, series_h, shunt_damping_ohm, series_damping_ohm, plate_ohm, False
    )
    return plain(np.abs(_transfer(network, 2j * math.pi * frequency * network.scale_s)))


@formula("network_share(frequency) = sqrt(1 / 2), the lowest such frequency")
def network_upper_hz(
    load_ohm: Number,
    plate_f: Number,
    output_f: Number,
    shunt_h: Number = 0.0,
    series_h: Number = 0.0,
    shunt_damping_ohm: Number = 1e12,
    series_damping_ohm: Number = 1e12,
    plate_ohm: Number = 1e12,
) -> Number:
    r"""Return the upper half-power frequency of the peaking network.

    .. math:: |h(f)| = 1 / \sqrt2

    Args:
        load_ohm: Plate load [ohm], > 0.
        plate_f: Capacitance at the plate [F], > 0.
        output_f: Capacitance at the picture-tube end [F], > 0; a longer lead adds to it.
        shunt_h: Shunt coil [H], >= 0.
        series_h: Series coil [H], >= 0.
        shunt_damping_ohm: Resistor across the shunt coil [ohm], > 0.
        series_damping_ohm: Resistor across the series coil [ohm], > 0.
        plate_ohm: Plate resistance and all else across the plate [ohm], > 0.
    Returns:
        Frequency [Hz], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: between a ten-thousandth and three hundred times the corner of the bare stage.
    Source: as :func:`network_share`.
    Example: the stage of that function, in megahertz.
        >>> round(network_upper_hz(3900.0, 8e-12, 12e-12, 36e-6, 158e-6) / 1e6, 2)
        5.76
    """
    network = _network(
        load_ohm, plate_f, output_f, shunt_h, series_h, shunt_damping_ohm, series_damping_ohm, plate_ohm, False
    )
    wide = _Network(*(part[..., None] for part in network))
    grid = np.geomspace(1e-4, 3e2, 90)
    below = np.abs(_transfer(wide, 1j * grid)) < math.sqrt(0.5)
    first = np.where(below.any(axis=-1), np.argmax(below, axis=-1), grid.size - 1)
    low, high = grid[np.maximum(first - 1, 0)], grid[first]
    for _ in range(30):
        middle = np.sqrt(low * high)
        above = np.abs(_transfer(network, 1j * middle)) > math.sqrt(0.5)
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return plain(np.sqrt(low * high) / (2.0 * math.pi * network.scale_s))


@dataclass(frozen=True)
class PulseShape:
    """What the network makes of a sharp edge."""

    rise_s: Number
    """Time from a tenth to nine tenths of the step."""
    overshoot_share: Number
    """Overshoot over the step: the bright or dark rim on the right of an edge."""
    ring_hz: Number
    """Frequency of the ringing, 0 where there is none."""
    ring_cycles: Number
    """Rims that can be seen until the ringing is below 2 % of the step."""


@formula(
    "C1 * v1' = 1 - v1 / plate_ohm - i1 - i2, C2 * v2' = i2, L1 * i1' = v1 - load_ohm * i1, L2 * i2' = v1 - v2"
)
def pulse_shape(
    load_ohm: Number,
    plate_f: Number,
    output_f: Number,
    shunt_h: Number = 0.0,
    series_h: Number = 0.0,
    shunt_damping_ohm: Number = 1e12,
    series_damping_ohm: Number = 1e12,
    plate_ohm: Number = 1e12,
) -> PulseShape:
    r"""Return rise, overshoot and ringing of a step through the peaking network.

    .. math::
        C_1 \dot v_1 = 1 - v_1/r_p - i_1 - i_2, \quad C_2 \dot v_2 = i_2, \quad
        L_1 \dot i_1 = v_1 - R i_1, \quad L_2 \dot i_2 = v_1 - v_2

    solved step by step with the exact exponential of the system.

    Args:
        load_ohm: Plate load [ohm], > 0.
        plate_f: Capacitance at the plate [F], > 0.
        output_f: Capacitance at the picture-tube end [F], > 0.
        shunt_h: Shunt coil [H], >= 0.
        series_h: Series coil [H], >= 0.
        shunt_damping_ohm: Resistor across the shunt coil [ohm], > 0.
        series_damping_ohm: Resistor across the series coil [ohm], > 0; 1e9 is an open one, and the coil rings.
        plate_ohm: Plate resistance and all else across the plate [ohm], > 0.
    Returns:
        :class:`PulseShape`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: coils up to a thousand times the square of the load times the capacitance.
    Source: valley-wallman-1948 for what to expect; Kirchhoff's laws.
    Example: a series coil of 0.5 R^2 C with all capacitance behind it overshoots 4.3 %.
        >>> found = pulse_shape(4e3, 1e-15, 20e-12, 0.0, 160e-6)
        >>> round(found.overshoot_share, 3), round(found.rise_s * 1e9)
        (0.043, 122)
    """
    network = _network(
        load_ohm, plate_f, output_f, shunt_h, series_h, shunt_damping_ohm, series_damping_ohm, plate_ohm, True
    )
    matrix = _matrix(network)
    step = 0.05 * np.maximum(1.0, np.sqrt(network.shunt_l + network.series_l))
    response = _response(matrix, network.plate_c, step)
    peak = np.maximum(response.max(axis=-1) - 1.0, 0.0)
    rise = (_crossing(response, 0.9) - _crossing(response, 0.1)) * step
    speed, damping = _ringing(matrix)
    cycles = np.log(np.maximum(peak / 0.02, 1.0)) * speed / np.maximum(2.0 * math.pi * damping, 1e-9)
    ringing = speed / (2.0 * math.pi * network.scale_s)
    return PulseShape(plain(rise * network.scale_s), plain(peak), plain(ringing), plain(np.minimum(cycles, 99.0)))


def _network(
    load_ohm: Number,
    plate_f: Number,
    output_f: Number,
    shunt_h: Number,
    series_h: Number,
    shunt_damping_ohm: Number,
    series_damping_ohm: Number,
    plate_ohm: Number,
    bounded: bool,
) -> _Network:
    """Return the checked network in its own units, small parts raised to the least that matters if bounded."""
    load, plate_c, output_c, plate = positive(
        load_ohm=load_ohm, plate_f=plate_f, output_f=output_f, plate_ohm=plate_ohm
    )
    shunt, series = not_negative(shunt_h=shunt_h, series_h=series_h)
    shunt_r, series_r = positive(shunt_damping_ohm=shunt_damping_ohm, series_damping_ohm=series_damping_ohm)
    total_r, total_c = load * plate / (load + plate), plate_c + output_c
    unit = total_r**2 * total_c
    least = _LEAST if bounded else 0.0
    series_r = np.where(series / unit < least, 0.02 * total_r, series_r)
    most = _MOST if bounded else np.inf
    parts: list[Any] = [
        total_r * total_c,
        total_r / plate,
        load / total_r,
        np.maximum(plate_c / total_c, least),
        np.maximum(output_c / total_c, least),
        np.clip(shunt / unit, least, most),
        np.maximum(shunt_r / total_r, 1e-3),
        np.clip(series / unit, least, most),
        np.maximum(series_r / total_r, 1e-3),
    ]
    return _Network(*np.broadcast_arrays(*parts))


def _transfer(network: _Network, s: Any) -> Complex:
    """Return output voltage over that at low frequencies at the complex frequency ``s``."""
    shunt = s * network.shunt_l / (1.0 + s * network.shunt_l / network.shunt_r)
    series = s * network.series_l / (1.0 + s * network.series_l / network.series_r)
    plate = network.plate_g + s * network.plate_c + 1.0 / (network.load + shunt)
    output = s * network.output_c
    impeding: Complex = np.asarray(plate * (1.0 + series * output) + output, dtype=np.complex128)
    return 1.0 / impeding


def _matrix(network: _Network) -> Array:
    """Return the system's matrix for plate voltage, output voltage, shunt current, series current."""
    matrix = np.zeros((*network.load.shape, 4, 4))
    both = network.load + network.shunt_r
    kept = network.shunt_r / both
    across = 1.0 / network.series_r
    rows: tuple[tuple[Any, ...], ...] = (
        (-(network.plate_g + 1.0 / both + across), across, -kept, -1.0),
        (across, -across, 0.0, 1.0),
        (kept, 0.0, -network.load * kept, 0.0),
        (1.0, -1.0, 0.0, 0.0),
    )
    over = (network.plate_c, network.output_c, network.shunt_l, network.series_l)
    for n, (row, below) in enumerate(zip(rows, over, strict=True)):
        for m, entry in enumerate(row):
            matrix[..., n, m] = entry / below
    return matrix


def _exponential(matrix: Array) -> Array:
    """Return the exponential of each matrix: Taylor's series of a small part, squared up again."""
    size = float(np.max(np.abs(matrix).sum(axis=-1)))
    squarings = max(0, math.ceil(math.log2(max(size, 1e-9))) + 3)
    small = matrix / 2.0**squarings
    term = np.broadcast_to(np.eye(matrix.shape[-1]), matrix.shape)
    total = np.array(term)
    for n in range(1, 9):
        term = term @ small / n
        total = total + term
    for _ in range(squarings):
        total = total @ total
    return np.asarray(total)


def _response(matrix: Array, plate_c: Array, step: Array) -> Array:
    """Return the output at equal steps after a step of plate current."""
    advance = _exponential(matrix * step[..., None, None])
    drive = np.zeros(matrix.shape[:-1])
    drive[..., 0] = 1.0 / plate_c
    rest = -np.linalg.solve(matrix, drive[..., None])
    away, found = -rest, [np.zeros(matrix.shape[:-2])]
    for _ in range(_POINTS):
        away = advance @ away
        found.append((rest + away)[..., 1, 0])
    return np.stack(found, axis=-1)


def _crossing(response: Array, level: float) -> Array:
    """Return the place, counted in steps, at which the response first passes a level."""
    above = response >= level
    first = np.where(above.any(axis=-1), np.argmax(above, axis=-1), response.shape[-1] - 1)[..., None]
    high = np.take_along_axis(response, first, axis=-1)
    low = np.take_along_axis(response, np.maximum(first - 1, 0), axis=-1)
    part = np.clip((level - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    return np.asarray((first - 1 + part)[..., 0])


def _ringing(matrix: Array) -> tuple[Array, Array]:
    """Return angular frequency and decay of the least damped pair of poles, zero where none rings."""
    poles = np.linalg.eigvals(matrix)
    sharpness = np.abs(poles.imag) / np.maximum(-poles.real, 1e-9)
    which = np.argmax(sharpness, axis=-1)[..., None]
    speed = np.abs(np.take_along_axis(poles.imag, which, axis=-1))[..., 0]
    decay = -np.take_along_axis(poles.real, which, axis=-1)[..., 0]
    return np.where(speed > 0.05 * decay, speed, 0.0), np.maximum(decay, 1e-9)
