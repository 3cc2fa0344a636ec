# SPDX-License-Identifier: MIT
"""Drive and bias of the horizontal output tube: grid leak, cathode resistor, width stabilizer.

The drive is a ramp with a negative pulse in the retrace; the grid conducts above zero like a resistance; the
tube follows the three-halves power of screen and grid voltage.
Caution: the grid of this tube carries the drive and may carry the coupling capacitor's leak from B+; with the
drive lost a tube with grid-leak bias has next to no bias and is destroyed in a minute or less.
Sources: langmuir-child-law, schade-1950, varistor-memory (keys in kb/sources/horizontal.yaml and flyback.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root

__all__ = [
    "GridBias",
    "GridCircuit",
    "OutputDrive",
    "charged_sawtooth_v",
    "drive_at_grid_v",
    "grid_bias",
    "output_drive",
    "varistor_bias_v",
]


@dataclass(frozen=True)
class GridCircuit:
    """The grid of the output tube and what drives it; every field may be a float or an array."""

    drive_v: Number
    """Ramp at the grid, peak to peak [V], >= 0; 0 is drive lost."""
    leak_ohm: Number
    """Grid leak [ohm], > 0; 1e9 is open."""
    trace_share: Number = 0.85
    """Trace over the line, 0 to 1."""
    pulse_v: Number = 0.0
    """Negative pulse in the retrace below the foot of the ramp [V], >= 0."""
    grid_ohm: Number = 2000.0
    """Slope of the grid current with the source of the drive [ohm], > 0."""
    coupling_leak_ohm: Number = 1e12
    """Leak of the coupling capacitor [ohm], > 0."""
    leak_from_v: Number = 0.0
    """Direct voltage behind that leak [V]."""
    return_v: Number = 0.0
    """Return of the grid leak: chassis, a bias rail or a width stabilizer [V]."""


@dataclass(frozen=True)
class GridBias:
    """The grid of the output tube against its cathode."""

    mean_v: Number
    """What a meter that does not load it would show."""
    tip_v: Number
    """At the end of the trace, where it is most positive."""
    lowest_v: Number
    """In the retrace."""
    grid_a: Number
    """Mean grid current."""


@dataclass(frozen=True)
class OutputDrive:
    """What the drive makes of the output tube."""

    grid_v: Number
    """Mean grid voltage against the foot of the cathode resistor."""
    cathode_v: Number
    bias_v: Number
    """Mean grid voltage against the cathode."""
    pulsed_a: Number
    """Mean plate current that the drive interrupts: what the flyback stage can use."""
    steady_a: Number
    """Plate current that nothing interrupts: only heat."""
    peak_a: Number
    """Plate current at the end of the trace."""
    cathode_a: Number
    """Mean cathode current, plate and screen."""


@formula("supply_v * leak_ohm / (charging_ohm + leak_ohm) * (1 - exp(-trace_s / (parallel_ohm * sawtooth_f)))")
def charged_sawtooth_v(
    supply_v: Number, charging_ohm: Number, sawtooth_f: Number, trace_s: Number, leak_ohm: Number = 1e12
) -> Number:
    r"""Return the sawtooth of a capacitor that is charged during the trace and emptied in the retrace.

    .. math:: V = E' (1 - e^{-t_s / (R' C)}), \quad E' = E \frac{R_l}{R + R_l}, \quad R' = R \parallel R_l

    Args:
        supply_v: Supply of the charging resistor [V], >= 0.
        charging_ohm: Charging resistor [ohm], > 0.
        sawtooth_f: Sawtooth capacitor [F], > 0.
        trace_s: Time of charging [s], > 0.
        leak_ohm: Leak of the capacitor [ohm], > 0.
    Returns:
        Peak-to-peak voltage [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: emptied to zero; a tube leaves tens of volts.
    Source: textbook exponential; puckle-time-bases.
    Example: 250 V, 470 k, 680 pF, 54 us, worked by hand.
        >>> round(charged_sawtooth_v(250.0, 470e3, 680e-12, 54e-6), 1)
        38.9
    """
    (supply,) = not_negative(supply_v=supply_v)
    resistance, capacitance, trace, leak = positive(
        charging_ohm=charging_ohm, sawtooth_f=sawtooth_f, trace_s=trace_s, leak_ohm=leak_ohm
    )
    divided = leak / (resistance + leak)
    return plain(-supply * divided * np.expm1(-trace / (resistance * divided * capacitance)))


@formula("sawtooth_v * coupling_f / (coupling_f + shunt_f)")
def drive_at_grid_v(sawtooth_v: Number, coupling_f: Number, shunt_f: Number) -> Number:
    r"""Return the drive at the grid of the output tube behind its coupling capacitor.

    .. math:: V = V_0 \frac{C_c}{C_c + C_s}

    Args:
        sawtooth_v: Sawtooth in front of the coupling capacitor, peak to peak [V], >= 0.
        coupling_f: Coupling capacitor or drive trimmer [F], > 0; 1e-15 is open.
        shunt_f: Capacitance from the grid to ground [F], > 0.
    Returns:
        Drive, peak to peak [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: grid leak large against the reactances at line rate.
    Source: textbook divider.
    Example: 100 V through 500 pF onto 100 pF, worked by hand.
        >>> round(drive_at_grid_v(100.0, 500e-12, 100e-12), 1)
        83.3
    """
    (sawtooth,) = not_negative(sawtooth_v=sawtooth_v)
    coupling, shunt = positive(coupling_f=coupling_f, shunt_f=shunt_f)
    return plain(sawtooth * coupling / (coupling + shunt))


@formula(
    "trace_share * tip_v**2 / (2 * drive_v * grid_ohm) = (return_v - mean_v) / leak_ohm"
    " + (leak_from_v - mean_v) / coupling_leak_ohm,"
    " mean_v = tip_v - drive_v * (1 - trace_share / 2) - pulse_v * (1 - trace_share)"
)
def grid_bias(circuit: GridCircuit) -> GridBias:
    r"""Return the bias that the drive makes by grid current, and what a leak takes from it.

    .. math::
        \frac{q\, x^2}{2 V_d r_g} = \frac{E - \bar v}{R_g} + \frac{U - \bar v}{R_c}, \qquad
        \bar v = x - V_d (1 - q/2) - V_p (1 - q)

    The grid lets the coupling capacitor charge until the tip x of the ramp only just draws current.

    Args:
        circuit: Grid and drive, see :class:`GridCircuit`; voltages against the cathode.
    Returns:
        :class:`GridBias`, its fields floats or arrays; without drive the mean is near the return voltage,
        and no more than a little above zero.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: coupling capacitor that holds its charge over a line.
    Source: clamping by grid current, textbook; solved here.
    Example: 80 V of drive on 470 k; drive lost; 1 Mohm of leak from 150 V.
        >>> [round(grid_bias(GridCircuit(drive, 470e3)).mean_v, 1) + 0.0 for drive in (80.0, 0.0)]
        [-40.3, 0.0]
        >>> round(grid_bias(GridCircuit(80.0, 470e3, coupling_leak_ohm=1e6, leak_from_v=150.0)).mean_v, 1)
        -36.1
    """
    c = circuit
    drive, pulse = not_negative(drive_v=c.drive_v, pulse_v=c.pulse_v)
    leak, slope, across = positive(leak_ohm=c.leak_ohm, grid_ohm=c.grid_ohm, coupling_leak_ohm=c.coupling_leak_ohm)
    (duty,) = share(trace_share=c.trace_share)
    source, back = any_sign(leak_from_v=c.leak_from_v, return_v=c.return_v)
    drive = np.maximum(drive, 1e-9)
    below = drive * (1.0 - duty / 2.0) + pulse * (1.0 - duty)
    give = 1.0 / leak + 1.0 / across
    push = back / leak + source / across + below * give
    bend = duty / (2.0 * drive * slope)
    tip = 2.0 * push / (give + np.sqrt(give**2 + 4.0 * bend * np.maximum(push, 0.0)))
    full = (push + duty * drive / (2.0 * slope)) / (give + duty / slope)
    tip = np.where(push < 0.0, push / give, np.where(tip > drive, full, tip))
    mean = tip - below
    current = np.maximum(push - give * tip, 0.0)
    fields = np.broadcast_arrays(mean, tip, tip - drive - pulse, current)
    return GridBias(*(plain(np.array(field)) for field in fields))


@formula(
    "cathode_v = cathode_ohm * cathode_a; cathode_a = mean over the line of"
    " tube_perv * max(0, grid - cathode + screen_v / screen_mu)**1.5"
)
def output_drive(
    circuit: GridCircuit,
    screen_v: Number,
    screen_mu: Number,
    tube_perv: Number,
    cathode_ohm: Number = 1e-3,
    plate_part: Number = 0.93,
) -> OutputDrive:
    r"""Return bias and currents of the output tube for a drive, with grid leak and cathode resistor.

    .. math::
        V_k = R_k \overline{G (v + V_{g2}/\mu)^{3/2}}, \qquad
        \overline{i} = \frac{2 q G}{5 V_d} \left(s_1^{5/2} - s_0^{5/2}\right), \quad s = \max(0, v + V_{g2}/\mu)

    Args:
        circuit: Grid and drive, see :class:`GridCircuit`; voltages against the foot of the cathode resistor.
        screen_v: Screen voltage against the cathode [V], >= 0.
        screen_mu: Amplification from grid to screen, > 0.
        tube_perv: Perveance, cathode current over the three-halves power [A/V^1.5], >= 0; times the emission left.
        cathode_ohm: Cathode resistor, bypassed [ohm], > 0; 1e-3 for none.
        plate_part: Part of the cathode current that reaches the plate, 0 to 1; from memory, to verify.
    Returns:
        :class:`OutputDrive`, its fields floats or arrays.  With grid leak alone a lost drive leaves next to no
        bias and all current steady; a cathode resistor keeps part of the bias.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: plate above its knee, where the screen rules the current.
    Source: langmuir-child-law; average over a ramp derived here.
    Example: a tube of 57 mA at 150 V screen and -22.5 V, mu 4.3: driven by 60 V, then the drive lost.
        >>> tube = dict(screen_v=150.0, screen_mu=4.3, tube_perv=1.36e-3)
        >>> driven, lost = (output_drive(GridCircuit(drive, 470e3), **tube) for drive in (60.0, 0.0))
        >>> round(driven.bias_v), round(driven.pulsed_a * 1e3), round(lost.bias_v), round(lost.steady_a * 1e3)
        (-30, 69, 0, 261)
    """
    screen, perv = not_negative(screen_v=screen_v, tube_perv=tube_perv)
    mu, resistor = positive(screen_mu=screen_mu, cathode_ohm=cathode_ohm)
    (part,) = share(plate_part=plate_part)
    lift = screen / mu

    def at(cathode: Array) -> tuple[GridBias, tuple[Array, Array, Array]]:
        bias = grid_bias(_seen_from(circuit, cathode))
        return bias, _currents(np.asarray(bias.tip_v) + lift, circuit, perv)

    (back,) = any_sign(return_v=circuit.return_v)
    most = resistor * perv * (lift + np.maximum(back, 0.0) + 5.0) ** 1.5
    shape = np.broadcast(at(0.0 * most)[1][0], most).shape
    cathode = quick_root(lambda v: np.asarray(resistor * at(v)[1][0] - v), np.zeros(shape), most + 1e-9)
    bias, (mean, steady, peak) = at(cathode)
    grid = np.asarray(bias.mean_v) + cathode
    values = (grid, cathode, bias.mean_v, part * (mean - steady), part * steady, part * peak, mean)
    return OutputDrive(*(plain(np.array(value)) for value in np.broadcast_arrays(*values)))


def _seen_from(circuit: GridCircuit, cathode: Array) -> GridCircuit:
    """Return the circuit with its direct voltages taken against the cathode."""
    source, back = np.asarray(circuit.leak_from_v), np.asarray(circuit.return_v)
    return replace(circuit, leak_from_v=plain(source - cathode), return_v=plain(back - cathode))


def _currents(top: Array, circuit: GridCircuit, perv: Array) -> tuple[Array, Array, Array]:
    """Return mean, uninterrupted and peak cathode current for a ramp that ends at ``top`` above cut-off."""
    drive, pulse, duty = (np.asarray(v) for v in (circuit.drive_v, circuit.pulse_v, circuit.trace_share))
    peak = perv * np.maximum(top, 0.0) ** 1.5
    steady = perv * np.maximum(top - drive - pulse, 0.0) ** 1.5
    ramp = np.maximum(drive, 1e-3)
    area = np.maximum(top, 0.0) ** 2.5 - np.maximum(top - ramp, 0.0) ** 2.5
    mean = duty * 0.4 * perv * area / ramp + (1.0 - duty) * steady
    return np.asarray(mean), np.asarray(np.minimum(steady, mean)), np.asarray(peak)


@formula("-pulse_v * (1 - duty - duty * k) / (1 + k), k = ((1 - duty) / duty)**(1 / exponent), plus reference_v")
def varistor_bias_v(pulse_v: Number, pulse_share: Number, exponent: Number, reference_v: Number = 0.0) -> Number:
    r"""Return the bias that a voltage-dependent resistor makes from flyback pulses: the width stabilizer.

    .. math:: \bar v = E - V_p \frac{(1-d) - d k}{1 + k}, \qquad k = \left(\frac{1-d}{d}\right)^{1/n}

    The resistor, with I = c V^n, conducts the tall pulses better than the long flat part; the capacitor in
    front charges until both carry the same.  More pulse makes more bias.  Without pulses the bias is the
    reference, zero or positive: lost drive or a dead flyback leaves the output tube without bias here too.

    Args:
        pulse_v: Flyback pulses at the resistor, peak to peak [V], >= 0.
        pulse_share: Pulse over the line, above 0, below 1.
        exponent: Exponent n of the resistor's current, > 0; 4 to 5 is usual.
        reference_v: Voltage to which the resistor's other end is set by the width control [V].
    Returns:
        Mean voltage [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: square pulses; no load.
    Source: varistor-memory for the exponent, from memory, to verify; balance of charge derived here.
    Example: 300 V of pulses for 15 % of the line, n = 4, worked by hand.
        >>> round(varistor_bias_v(300.0, 0.15, 4.0), 1)
        -73.0
    """
    (pulse,) = not_negative(pulse_v=pulse_v)
    duty, rest, power = positive(
        pulse_share=pulse_share, rest_of_the_line=plain(1.0 - np.asarray(pulse_share)), exponent=exponent
    )
    (reference,) = any_sign(reference_v=reference_v)
    ratio = (rest / duty) ** (1.0 / power)
    return plain(reference - pulse * (rest - duty * ratio) / (1.0 + ratio))
