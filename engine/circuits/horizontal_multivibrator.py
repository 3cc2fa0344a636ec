# SPDX-License-Identifier: MIT
"""The cathode-coupled multivibrator, plain or with a stabilizing coil: its rate from parts and control voltage.

The first triode takes the control voltage and hands on to the second through a coupling capacitor; both share
a cathode resistor; the second discharges the sawtooth capacitor.  The long part of the cycle is a
recharge of the coupling capacitor up to the point where the loop gain comes back to one, which lies volts
before the cut-off of a tube with a remote tail; the short part is followed along the fall of the sawtooth.
Limits: tube capacitances and the rise times they make are left out; the coil acts by its fundamental.
Sources: koren-triode-form, puckle-time-bases (keys in kb/sources/horizontal.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, plain, positive, share
from backporch.engine.circuits.elementwise import clip, every, lone_first, no, where
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.horizontal_multivibrator_cycle import (
    Circuit,
    Fall,
    Fire,
    Rest,
    Ring,
    TriodeFit,
    recharge,
    rest,
    ring,
)
from backporch.engine.circuits.horizontal_multivibrator_fall import discharge

__all__ = ["Multivibrator", "MultivibratorParts", "TriodeFit", "control_slope", "multivibrator"]


@dataclass(frozen=True)
class MultivibratorParts:
    """The parts of the oscillator; every field may be a float or an array."""

    first_plate_ohm: Number
    """Load of the first plate."""
    coupling_f: Number
    """From the first plate to the second grid."""
    grid_leak_ohm: Number
    """From the second grid to its return, hold control included."""
    cathode_ohm: Number
    second_plate_ohm: Number
    """Charging resistor of the sawtooth."""
    discharge_f: Number
    """Sawtooth capacitor at the second plate."""
    grid_return_v: Number = 0.0
    """Where the grid leak returns to."""
    coupling_leak_ohm: Number = 1e12
    """Leak of the coupling capacitor."""
    discharge_leak_ohm: Number = 1e12
    """Leak of the sawtooth capacitor."""
    grid_ohm: Number = 1000.0
    """Slope of the grid current of the second triode."""
    stray_f: Number = 10e-12
    """Stray capacitance at the first plate, tube and wiring; from memory, to verify."""
    coil_h: Number = 1e-9
    """Stabilizing coil in the first plate lead, tuned by the capacitor below; 1e-9 for none or a shorted one."""
    coil_f: Number = 1e-9
    coil_loss_ohm: Number = 1.0
    """Loss of the coil, as a resistance across it."""


@dataclass(frozen=True)
class Multivibrator:
    """What the oscillator does."""

    frequency_hz: Number
    """Rate; 0 where it stands still."""
    discharge_s: Number
    """Time for which the second triode conducts."""
    sawtooth_v: Number
    """Sawtooth at the second plate, peak to peak."""
    fire_v: Number
    """Voltage of the second grid at which it fires."""
    lowest_grid_v: Number
    """Lowest voltage of the second grid."""
    cathode_v: Number
    """Cathodes for most of the line."""
    first_plate_v: Number
    """First plate for most of the line."""
    ring_v: Number
    """Amplitude of the sine wave that a stabilizing coil adds."""


@formula(
    "1 / (recharge_s + discharge_s): first plate falls by first_plate_ohm * plate_a, the second grid comes back as"
    " return_v - (return_v - lowest_grid_v) * exp(-t / ((grid_leak_ohm + first_plate_ohm) * coupling_f))"
    " and fires at fire_v, where the loop gain is one"
)
def multivibrator(
    parts: MultivibratorParts,
    first: TriodeFit,
    second: TriodeFit,
    supply_v: Number,
    control_v: Number,
    second_supply_v: Number | None = None,
) -> Multivibrator:
    r"""Return the rate of a cathode-coupled multivibrator from its parts and its control voltage.

    .. math::
        T = t_d + R C \ln \frac{E - V_0}{E - V_f}, \qquad V_0 = V_{g,end} - R_1 I_1, \qquad
        g_m(V_f) = \frac{1 + g_k R_k}{R_k (g_k R_1 - 1)}, \quad g_k = \frac{g_1 + 1/r_1}{1 + R_1/r_1}

    A more positive control voltage makes the first triode draw more, drives the second grid further down and
    lowers the rate.

    Args:
        parts: The parts, see :class:`MultivibratorParts`; values > 0 but for the return voltage.
        first: The triode that takes the control voltage.
        second: The triode that discharges the sawtooth.
        supply_v: Supply of the first plate [V], > 0.
        control_v: Control voltage on the first grid against the cathode resistor's foot [V].
        second_supply_v: Supply of the charging resistor [V], > 0; that of the first plate where none is given.
    Returns:
        :class:`Multivibrator`, its fields floats or arrays; rate 0 where it does not oscillate.
    Raises:
        OutOfRange: A part or a supply is out of its bounds.
    Valid: 5 % against a circuit simulation with the same tube curves, plain or with a coil that holds it.
        A coil that pulls the rate by more than a fifth may in truth let it skip a beat.
    Source: puckle-time-bases for the circuit; koren-triode-form for the tube; firing point derived here.
    Example: 10 k, 390 pF, 82 k, 1.5 k, 150 k and 680 pF with a pair such as 6SN7 or 6CG7 at 250 V.
        >>> triode = TriodeFit(mu=22.01, exponent=1.32, kg1=1294.0, kp=119.8, kvb=1041.0)
        >>> parts = MultivibratorParts(10e3, 390e-12, 82e3, 1500.0, 150e3, 680e-12)
        >>> free, positive_control = (multivibrator(parts, triode, triode, 250.0, v).frequency_hz for v in (0, 2))
        >>> round(free, -2), positive_control < free
        (13800.0, True)
    """
    circuit = _circuit(parts, first, second, supply_v, control_v, second_supply_v)
    found = lone_first(lambda: _cycles(_lone(circuit)), lambda: _cycles(circuit), circuit.control.size == 1)
    return Multivibrator(*(plain(np.reshape(value, circuit.control.shape)) for value in found))


def _cycles(circuit: Circuit) -> tuple[Number, ...]:
    """Follow the oscillator from cycle to cycle until it repeats itself."""
    state = rest(circuit)
    plate, stored = 0.35 * circuit.charge_from, circuit.supply - 0.1 * (circuit.supply - state.plate)
    tuned = 2.0 * np.pi * (circuit.coil_h * circuit.coil_f) ** 0.5
    period = where(tuned > 1e-5, tuned, circuit.coupling * circuit.leak)
    gap = 0.1 * period
    for _ in range(3 if every(circuit.coil_h < 1e-6) else 8):
        held = where(tuned > 1e-5, clip(period, 0.9 * tuned, 1.12 * tuned), period)
        wave = ring(circuit, state, held, gap)
        fired = recharge(circuit, state, wave, plate, stored, gap)
        ended = discharge(circuit, state, wave, fired)
        plate, stored, gap = ended.plate, ended.stored, ended.time
        period = where(wave.amplitude > 0.1, (period * (fired.time + gap)) ** 0.5, fired.time + gap)
    return _summary(state, wave, fired, ended)


def _lone(circuit: Circuit) -> Circuit:
    """Return the parts of a single set as plain numbers."""
    fits = [TriodeFit(*map(_number, vars(fit).values())) for fit in (circuit.first, circuit.second)]
    return Circuit(*fits, *(_number(value) for value in list(vars(circuit).values())[2:]))  # type: ignore[arg-type]


def _number(value: Number) -> float:
    return float(np.ravel(value)[0])


@formula("(rate(control_v + step_v) - rate(control_v - step_v)) / (2 * step_v)")
def control_slope(
    parts: MultivibratorParts,
    first: TriodeFit,
    second: TriodeFit,
    supply_v: Number,
    control_v: Number,
    step_v: float = 1.0,
) -> Number:
    r"""Return how much the rate of the multivibrator changes with its control voltage.

    .. math:: K_o = df/dV_c

    Args:
        parts: The parts, see :class:`MultivibratorParts`.
        first: The triode that takes the control voltage.
        second: The triode that discharges the sawtooth.
        supply_v: Supply [V], > 0.
        control_v: Control voltage [V].
        step_v: Half of the step over which the slope is taken [V], > 0.
    Returns:
        Slope [Hz/V], negative: a more positive voltage lowers the rate; float or array.
    Raises:
        OutOfRange: A part or a voltage is out of its bounds.
    Valid: within 15 %: the rate of :func:`multivibrator` is not perfectly smooth.
    Source: difference of :func:`multivibrator`.
    Example: the oscillator of :func:`multivibrator`, to the nearest kilohertz for a volt.
        >>> triode = TriodeFit(mu=22.01, exponent=1.32, kg1=1294.0, kp=119.8, kvb=1041.0)
        >>> parts = MultivibratorParts(10e3, 390e-12, 82e3, 1500.0, 150e3, 680e-12)
        >>> round(control_slope(parts, triode, triode, 250.0, 0.0), -3)
        -1000.0
    """
    (step,) = positive(step_v=step_v)
    (control,) = any_sign(control_v=control_v)
    up, down = (
        np.asarray(multivibrator(parts, first, second, supply_v, plain(control + sign * step)).frequency_hz)
        for sign in (1.0, -1.0)
    )
    return plain((up - down) / (2.0 * step))


def _circuit(
    parts: MultivibratorParts,
    first: TriodeFit,
    second: TriodeFit,
    supply_v: Number,
    control_v: Number,
    second_supply_v: Number | None,
) -> Circuit:
    """Check everything and fold the leaks into the resistors that they lie across."""
    values = dict(vars(parts))
    (back,) = any_sign(grid_return_v=values.pop("grid_return_v"))
    ohms = dict(zip(values, positive(**values), strict=True))
    share(first_emission_share=first.emission_share, second_emission_share=second.emission_share)
    supply, charge = positive(
        supply_v=supply_v, second_supply_v=supply_v if second_supply_v is None else second_supply_v
    )
    (control,) = any_sign(control_v=control_v)
    leak = 1.0 / (1.0 / ohms["grid_leak_ohm"] + 1.0 / ohms["coupling_leak_ohm"])
    bleed = ohms["discharge_leak_ohm"] / (ohms["second_plate_ohm"] + ohms["discharge_leak_ohm"])
    arrays = (
        supply,
        control,
        ohms["first_plate_ohm"],
        ohms["coupling_f"],
        ohms["cathode_ohm"],
        ohms["grid_ohm"],
        ohms["grid_leak_ohm"],
        leak,
        back / ohms["grid_leak_ohm"],
        ohms["coupling_leak_ohm"],
        charge * bleed,
        ohms["second_plate_ohm"] * bleed,
        ohms["discharge_f"] + ohms["stray_f"],
        ohms["stray_f"],
        ohms["coil_h"],
        ohms["coil_f"],
        ohms["coil_loss_ohm"],
    )
    return Circuit(first, second, *_same_shape(arrays, first, second))


def _same_shape(arrays: tuple[Array, ...], first: TriodeFit, second: TriodeFit) -> list[Array]:
    extra = [np.asarray(value, dtype=np.float64) for fit in (first, second) for value in vars(fit).values()]
    return [np.array(array) for array in np.broadcast_arrays(*arrays, *extra)[: len(arrays)]]


def _summary(state: Rest, wave: Ring, fired: Fire, ended: Fall) -> tuple[Number, ...]:
    alive = fired.alive & (ended.time > 0.0) & no(ended.stays) & (fired.lowest < fired.grid + wave.amplitude)
    rate = 1.0 / where(alive, fired.time + ended.time, np.inf)
    fall = [where(alive, value, 0.0) for value in (ended.time, fired.plate - ended.plate)]
    grid = [where(alive, value, fired.settled) for value in (fired.grid, fired.lowest)]
    ringing = where(alive, wave.amplitude, 0.0)
    return (rate, *fall, *grid, state.cathode, state.plate, ringing)
