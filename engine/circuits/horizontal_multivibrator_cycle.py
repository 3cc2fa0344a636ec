# SPDX-License-Identifier: MIT
"""One cycle of a cathode-coupled multivibrator: the state at rest and the recharge.

The steps behind :mod:`horizontal_multivibrator`; arrays in, arrays out, no loop over the batch.
Limits: see there.
Sources: koren-triode-form (key in kb/sources/horizontal.yaml); the rest is derived here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array, Number
from backporch.engine.circuits.elementwise import (
    absolute,
    angle,
    clip,
    cosine,
    every,
    exponential,
    least,
    most,
    no,
    softplus_parts,
    where,
)
from backporch.engine.circuits.quick_root import lone_root

__all__ = [
    "Circuit",
    "Fall",
    "Fire",
    "Rest",
    "Ring",
    "TriodeFit",
    "current_alone",
    "plate_current",
    "recharge",
    "rest",
    "ring",
]


@dataclass(frozen=True)
class TriodeFit:
    """A triode by the five numbers of a published fit, and how much of its emission is left."""

    mu: Number
    exponent: Number
    kg1: Number
    kp: Number
    kvb: Number
    emission_share: Number = 1.0


@dataclass(frozen=True)
class Circuit:
    """The parts with the leaks folded in."""

    first: TriodeFit
    second: TriodeFit
    supply: Array
    control: Array
    load: Array
    coupling: Array
    cathode: Array
    grid_slope: Array
    grid_leak: Array
    leak: Array
    """Grid leak in parallel with the leak of the coupling capacitor."""
    grid_return_a: Array
    """Current that the return of the grid leak would send into a short circuit."""
    coupling_leak: Array
    charge_from: Array
    charging: Array
    sawtooth: Array
    stray: Array
    coil_h: Array
    coil_f: Array
    coil_loss: Array


@dataclass(frozen=True)
class Rest:
    """The first triode on, the second off."""

    plate: Array
    cathode: Array
    current: Array
    source: Array
    """Resistance of the first plate as the coupling capacitor sees it."""
    fire_low: Array
    """Grid voltage at which the second triode fires with its plate at half the supply."""
    fire_fall: Array
    """How much less it takes for each volt more at the second plate."""
    bend: Array
    """How fast the mutual conductance grows there, per volt."""
    fire_a: Array
    """Current of the second triode there, which already holds its plate back."""


@dataclass(frozen=True)
class Ring:
    """The sine wave of the stabilizing coil."""

    amplitude: Array
    omega: Array
    angle: Array


@dataclass(frozen=True)
class Fire:
    """The end of the recharge."""

    time: Array
    grid: Array
    plate: Array
    lowest: Array
    settled: Array
    """Where the grid would come to rest."""
    alive: NDArray[np.bool_]


@dataclass(frozen=True)
class Fall:
    """The end of the discharge."""

    time: Array
    plate: Array
    stored: Array
    """Voltage across the coupling capacitor."""
    stays: NDArray[np.bool_]
    """Whether the second triode never lets go."""


def plate_current(fit: TriodeFit, plate: Array, grid: Array) -> tuple[Array, Array]:
    """Return plate current and mutual conductance of a triode.

    Args:
        fit: The triode, see :class:`TriodeFit`.
        plate: Plate against cathode [V], an array.
        grid: Grid against cathode [V], an array.
    Returns:
        Current [A] and mutual conductance [A/V], two arrays.
    Raises:
        ValueError: The voltages do not go together in shape.
    Source: koren-triode-form, the form in which two equal power terms are summed.
    Example: 6SN7GT at 250 V, -8 V, in milliamperes and milliamperes per volt.
        >>> tube = TriodeFit(22.01, 1.32, 1294.0, 119.8, 1041.0)
        >>> [round(1e3 * float(x), 2) for x in plate_current(tube, np.array(250.0), np.array(-8.0))]
        [8.98, 2.6]
    """
    plate = most(plate, 1e-6)
    reach = (fit.kvb + plate**2) ** 0.5
    softened, steep = softplus_parts(fit.kp * (1.0 / fit.mu + grid / reach))
    lift = plate / fit.kp * softened
    current = 2.0 * fit.emission_share * lift**fit.exponent / fit.kg1
    return current, fit.exponent * current / lift * plate / reach * steep


def current_alone(fit: TriodeFit, plate: Array, grid: Array) -> Array:
    """Return the plate current of a triode without its slope.

    Args:
        fit: The triode, see :class:`TriodeFit`.
        plate: Plate against cathode [V], float or array.
        grid: Grid against cathode [V], float or array.
    Returns:
        Current [A], float or array.
    Raises:
        ValueError: The voltages do not go together in shape.
    Source: koren-triode-form, as :func:`plate_current`.
    Example: 6SN7GT at 250 V, -8 V, in milliamperes.
        >>> tube = TriodeFit(22.01, 1.32, 1294.0, 119.8, 1041.0)
        >>> round(1e3 * float(current_alone(tube, np.array(250.0), np.array(-8.0))), 2)
        8.98
    """
    plate = most(plate, 1e-6)
    softened, _ = softplus_parts(fit.kp * (1.0 / fit.mu + grid / (fit.kvb + plate**2) ** 0.5))
    return cast(Array, 2.0 * fit.emission_share * (plate / fit.kp * softened) ** fit.exponent / fit.kg1)


def rest(circuit: Circuit) -> Rest:
    """Return the state for most of the line, and what makes the second triode fire.

    Args:
        circuit: Both tubes and the parts as arrays, see :class:`Circuit`; not checked here.
    Returns:
        :class:`Rest`, arrays in volts, amperes and ohms.
    Raises:
        ValueError: The parts do not go together in shape.
    Source: balance of the first stage with its cathode resistor, derived here.
    Example: first plate and cathodes of a usual oscillator.
        >>> tube = TriodeFit(22.01, 1.32, 1294.0, 119.8, 1041.0)
        >>> parts = (250.0, 0.0, 10e3, 470e-12, 1e3, 1e3, 150e3, 150e3, 0.0, 1e12, 250.0, 100e3, 390e-12, 20e-12)
        >>> circuit = Circuit(tube, tube, *map(np.array, (*parts, 1e-9, 1e-9, 1e-3)))
        >>> state = rest(circuit)
        >>> round(float(state.plate)), round(float(state.cathode), 1)
        (190, 6.0)
    """
    c = circuit

    def more(current: Array) -> Array:
        cathode = current * c.cathode
        grid = least(c.control - cathode, 0.0)
        return current_alone(c.first, c.supply - current * c.load - cathode, grid) - current

    current = lone_root(more, 0.0 * c.control, c.supply / (c.load + c.cathode))
    cathode, plate = current * c.cathode, c.supply - current * c.load
    need, source = _loop(c, plate - cathode, least(c.control - cathode, 0.0))
    low, _, _ = _firing(c, cathode, need, 0.5 * c.charge_from)
    high, bend, fire = _firing(c, cathode, need, 0.9 * c.charge_from)
    return Rest(plate, cathode, current, source, low, (low - high) / (0.4 * c.charge_from), bend, fire)


def _loop(c: Circuit, plate: Array, grid: Array) -> tuple[Array, Array]:
    """Return the conductance of the second triode at a loop gain of one, and the first plate's resistance."""
    slope = plate_current(c.first, plate, grid)[1]
    rising = plate_current(c.first, plate + 0.5, grid)[0] - plate_current(c.first, plate - 0.5, grid)[0]
    common = (slope + rising) / (1.0 + rising * c.load)
    handed_on = c.load * c.coupling / (c.coupling + c.stray)
    need = (1.0 + common * c.cathode) / (c.cathode * most(common * handed_on - 1.0, 1e-9))
    return need, c.load / (1.0 + rising * c.load)


def _firing(c: Circuit, cathode: Array, need: Array, plate: Array) -> tuple[Array, Array, Array]:
    """Return where the second triode runs away, less what it adds by itself; how its curve bends; its current."""
    above = most(plate - cathode, 1.0)
    lowest = -2.0 * above / c.second.mu - 5.0
    grid = lone_root(lambda v: need - plate_current(c.second, above, v)[1], lowest, 0.0 * need)
    current, slope = plate_current(c.second, above, grid)
    bend = (plate_current(c.second, above, grid + 0.1)[1] - slope) / (0.1 * most(slope, 1e-12))
    return where(slope > 0.9 * need, cathode + grid - current / need, 1e6), most(bend, 0.05), current


def ring(circuit: Circuit, state: Rest, period: Array, discharge_s: Array) -> Ring:
    """Return the sine wave that the current of the first triode excites in the stabilizing coil.

    Args:
        circuit: Both tubes and the parts as arrays, see :class:`Circuit`; not checked here.
        state: What :func:`rest` gives.
        period: Time of a line [s], an array.
        discharge_s: Time in which the first triode is cut off [s], an array.
    Returns:
        :class:`Ring`, amplitude [V], angular rate [rad/s] and angle [rad], arrays.
    Raises:
        ValueError: The times do not go together in shape.
    Source: textbook resonance: the fundamental of the current times the impedance of the coil.
    Example: 5 mH and 20 nF with 20 k across them, in volts.
        >>> tube = TriodeFit(22.01, 1.32, 1294.0, 119.8, 1041.0)
        >>> parts = (250.0, 0.0, 10e3, 470e-12, 1e3, 1e3, 150e3, 150e3, 0.0, 1e12, 250.0, 100e3, 390e-12, 20e-12)
        >>> circuit = Circuit(tube, tube, *map(np.array, (*parts, 1e-9, 1e-9, 1e-3)))
        >>> from dataclasses import replace
        >>> coil = replace(circuit, coil_h=np.array(5e-3), coil_f=np.array(20e-9), coil_loss=np.array(20e3))
        >>> round(float(ring(coil, rest(coil), np.array(63.5e-6), np.array(8e-6)).amplitude))
        22
    """
    omega = 2.0 * math.pi / period
    admittance = 1.0 / circuit.coil_loss + 1j * (omega * circuit.coil_f - 1.0 / (omega * circuit.coil_h))
    excited = 2.0 * state.current / math.pi * cosine(math.pi * (0.5 - least(discharge_s / period, 0.5)))
    wave = excited / admittance
    return Ring(absolute(wave), omega, angle(wave))


def recharge(circuit: Circuit, state: Rest, wave: Ring, plate: Array, stored: Array, gap: Array) -> Fire:
    """Return when and where the second triode fires, ``gap`` being the length of the discharge.

    Args:
        circuit: Both tubes and the parts as arrays, see :class:`Circuit`; not checked here.
        state: What :func:`rest` gives.
        wave: What :func:`ring` gives.
        plate: Second plate when the recharge begins [V], an array.
        stored: Voltage of the coupling capacitor then [V], an array.
        gap: Length of the discharge before [s], an array.
    Returns:
        :class:`Fire`, times [s] and voltages [V], arrays.
    Raises:
        ValueError: The arguments do not go together in shape.
    Source: exponentials of the coupling and the sawtooth, derived here.
    Example: in microseconds.
        >>> tube = TriodeFit(22.01, 1.32, 1294.0, 119.8, 1041.0)
        >>> parts = (250.0, 0.0, 10e3, 470e-12, 1e3, 1e3, 150e3, 150e3, 0.0, 1e12, 250.0, 100e3, 390e-12, 20e-12)
        >>> circuit = Circuit(tube, tube, *map(np.array, (*parts, 1e-9, 1e-9, 1e-3)))
        >>> state, gap = rest(circuit), np.array(8e-6)
        >>> wave = ring(circuit, state, np.array(63e-6), gap)
        >>> fired = recharge(circuit, state, wave, np.array(60.0), state.plate + 20.0, gap)
        >>> round(float(fired.time) * 1e6, 1), bool(fired.alive)
        (69.7, True)
    """
    c = circuit
    bend = c.leak * (c.grid_return_a + state.plate / c.coupling_leak)
    unit, rise = c.coupling * (c.leak + state.source), c.charging * c.sawtooth
    lowest = bend + (state.plate - stored - bend) * c.leak / (c.leak + state.source)

    def second(time: Array) -> Array:
        return cast(Array, c.charge_from - (c.charge_from - plate) * exponential(least(-time / rise, 50.0)))

    def sine(time: Array) -> Array:
        return cast(Array, wave.amplitude * cosine(wave.omega * (time + 0.5 * gap) + wave.angle))

    def threshold(time: Array) -> Array:
        return state.fire_low - state.fire_fall * (second(time) - 0.5 * c.charge_from)

    def late(time: Array) -> Array:
        return cast(Array, threshold(time) - bend + (bend - lowest) * exponential(-time / unit) - sine(time))

    longest = 12.0 * (unit + rise)
    time = _first_crossing(late, wave, longest)
    alive = time < 0.99 * longest
    nearing = clip((late(time - 1e-7) - late(time)) * 1e7, 1e3, 1e9)
    early = least(state.fire_fall * state.fire_a / (state.bend * nearing**2 * c.sawtooth), 0.2 * time)
    time = time + early + 2.34 * (2.0 * (c.load * c.stray) ** 2 / (state.bend * nearing)) ** (1.0 / 3.0)
    return Fire(time, threshold(time), second(time), lowest + sine(0.0 * time), bend, alive)


def _first_crossing(late: Callable[[Array], Array], wave: Ring, longest: Array) -> Array:
    """Return the first time at which ``late`` is no longer positive."""
    once = lone_root(late, 0.0 * longest, longest)
    if every(wave.amplitude <= 0.1):
        return cast(Array, once)
    part = 0.05 * 2.0 * math.pi / wave.omega
    start, stop, found = 0.0 * once, once, once < 0.0
    for k in range(1, 41):
        crosses = no(found) & (late(k * part) <= 0.0) & (k * part < once)
        start, stop = where(crosses, (k - 1) * part, start), where(crosses, k * part, stop)
        found = found | crosses
        if every(found | (k * part >= once)):
            break
    return cast(Array, where(found, lone_root(late, start, stop), once))
