# SPDX-License-Identifier: MIT
"""Damper and boosted B+: the balance of energy in the horizontal output stage.

The winding between boosted rail and damper tap is the reference: its scan voltage stands on B+ and
makes the boost.  The output tube takes its current through all turns; what its ampere-turns bring in
excess of the damper's pays the losses and the loads.  The loop is solved as an average over a line.
Limits: the tube conducts in the trace only; overlap of tube and damper and ringing are left out.
Caution: every point computed here carries pulses of thousands of volts or the boosted rail; the values
serve to read side effects, not to invite a meter.
Sources: schade-1947, schade-1950 (keys in kb/sources/flyback.yaml).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root

__all__ = [
    "Boost",
    "boost",
    "boost_capacitor_share",
    "boost_ripple_v",
    "plate_pulse_v",
    "scan_loss_ohm",
]


@dataclass(frozen=True)
class Boost:
    """The boosted rail and what goes with it."""

    boost_v: Number
    """Boosted B+ against chassis."""
    scan_v: Number
    """Scan voltage on the reference winding, from boosted rail to damper tap."""
    plate_a: Number
    """Average current of the output tube's plate."""
    supply_a: Number
    """Average current taken from B+ through damper and leak together."""
    plate_low_v: Number
    """Plate voltage at the end of the trace, where it is lowest."""


@formula(
    "1 / (line_hz * (trace_s / shunt_ohm"
    " + trace_s**2 * (1 - returned_share) / (2 * inductance_h * (1 + returned_share)))"
    " + yoke_ohm * (yoke_share * trace_s / yoke_h)**2 / 12)"
)
def scan_loss_ohm(
    inductance_h: Number,
    trace_s: Number,
    line_hz: Number,
    shunt_ohm: Number,
    returned_share: Number,
    yoke_ohm: Number = 0.0,
    yoke_h: Number = 1.0,
    yoke_share: Number = 1.0,
) -> Number:
    r"""Return the losses of core, short circuits and yoke as one resistance that the scan voltage feeds.

    .. math::
        \frac1R = f \left[\frac{t_s}{R_{sh}} + \frac{t_s^2}{2L} \frac{1-b}{1+b}\right]
        + \frac{R_y}{12} \Big(\frac{n_y t_s}{L_y}\Big)^2

    A resistance across the winding (core, shorted turns) takes its share in the trace and, much more, of the
    energy that swings in the retrace; the yoke's copper carries a sawtooth.

    Args:
        inductance_h: Inductance of the reference winding with all that hangs on it [H], > 0.
        trace_s: Trace [s], > 0.
        line_hz: Line rate [Hz], > 0.
        shunt_ohm: Loss of core and of shorted turns, as a resistance across the winding [ohm], > 0.
        returned_share: What the retrace brings back of the current, see :func:`flyback.retrace`, 0 to 1.
        yoke_ohm: Copper of the yoke [ohm], >= 0.
        yoke_h: Inductance of the yoke [H], > 0.
        yoke_share: Turns under the yoke over turns of the reference winding, >= 0.
    Returns:
        Resistance [ohm], float or array: losses are scan voltage squared over it.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: schade-1950 for the kinds of loss; energy of the ideal waveforms derived here.
    Example: 14.3 mH, 54 us of trace, 15,750 Hz, 50 k across the winding, 0.855 brought back, worked by hand.
        >>> round(scan_loss_ohm(14.3e-3, 54e-6, 15750.0, 50e3, 0.855))
        7016
    """
    inductance, trace, rate, shunt, yoke = positive(
        inductance_h=inductance_h, trace_s=trace_s, line_hz=line_hz, shunt_ohm=shunt_ohm, yoke_h=yoke_h
    )
    copper, turns = not_negative(yoke_ohm=yoke_ohm, yoke_share=yoke_share)
    (back,) = share(returned_share=returned_share)
    swing = trace**2 * (1.0 - back) / (2.0 * inductance * (1.0 + back))
    # an open yoke carries no current: its current is limited by its own resistance
    current = turns * trace / (yoke + 0.5 * copper * trace)
    return plain(1.0 / (rate * (trace / shunt + swing) + copper * current**2 / 12.0))


@formula(
    "plate_ratio * plate_a * tube_v = damper_a * damper_v + scan_v**2 / loss_ohm + pulse_load_a * scan_v;"
    " damper_a = plate_a + steady_a + boost_v / load_ohm + (boost_v - supply_v) / leak_ohm;"
    " scan_v = boost_v - supply_v + damper_ohm * damper_a / (line_hz * trace_s);"
    " plate_a = drive_a * tanh((late_boost_v - plate_ratio * tube_v) / knee_v)"
)
def boost(
    supply_v: Number,
    drive_a: Number,
    plate_ratio: Number,
    loss_ohm: Number,
    load_ohm: Number,
    *,
    inductance_h: Number,
    trace_s: Number,
    line_hz: Number,
    knee_v: Number,
    damper_ohm: Number,
    boost_f: Number = 1.0,
    peak_a: Number = 1e9,
    returned_share: Number = 1.0,
    leak_ohm: Number = 1e12,
    pulse_load_a: Number = 0.0,
    steady_a: Number = 0.0,
) -> Boost:
    r"""Return the boosted B+ where what the tube brings pays for losses and loads.

    .. math::
        n I_p V_t = I_d V_d + V_s^2 / R + I_h V_s, \quad
        I_d = I_p + I_0 + \frac{V_b}{R_l} + \frac{V_b - B}{R_c}, \quad
        I_p = I \tanh \frac{V_b - n V_t}{V_k}

        V_s = V_b - B + \bar v, \quad V_t = V_b - B + \theta \bar v, \quad
        V_d = V_b - B + (1-\theta) \tfrac23 R_d \frac{V_s t_s}{2 L} + \theta \bar v, \quad
        \bar v = \frac{R_d I_d}{f t_s}, \quad \theta = \frac{R_d}{R_d + L / t_s}

    The reference winding feels the mean drop of the damper; the tube works late in the trace, when a
    sound damper has nearly stopped, the damper early, at the peak of its triangle of current.

    Args:
        supply_v: B+ at the damper's plate [V], >= 0.
        drive_a: Average plate current that the drive calls for, plate voltage permitting [A], >= 0.
        plate_ratio: Turns from boosted rail to plate over turns from boosted rail to damper tap, > 1.
        loss_ohm: Losses, see :func:`scan_loss_ohm` [ohm], > 0.
        load_ohm: What the boosted rail feeds, to chassis [ohm], > 0.
        inductance_h: Inductance of the reference winding with all that hangs on it [H], > 0.
        trace_s: Trace [s], > 0.
        line_hz: Line rate [Hz], > 0.
        knee_v: Plate voltage at which the tube gives three quarters of its current [V], > 0.
        damper_ohm: Resistance of the damper with its feed [ohm], > 0; 1e9 is an open damper.
        boost_f: Boost capacitor [F], > 0; 1e-15 is open.
        peak_a: Peak plate current; no more scan can be turned round than it carries [A], >= 0.
        returned_share: What the retrace brings back of the current, see :func:`flyback.retrace`, 0 to 1.
        leak_ohm: Leak across the boost capacitor, from boosted rail to B+ [ohm], > 0.
        pulse_load_a: Beam current times (turns of the high-voltage winding over the reference winding)
            times the pulse ratio [A], >= 0: the rectifier takes its charge at the peak.
        steady_a: Current of the output tube that no drive interrupts [A], >= 0.
    Returns:
        :class:`Boost`, its fields floats or arrays.  Without drive the rail is about B+ while the damper
        conducts, and near zero with the damper open.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: an average over a line; 5 % against a circuit simulation of the same ideal network with a
        damper below 300 ohm and a drive that does not bottom the plate for much of the trace.
    Source: schade-1950 (conservation of energy in the recovery circuit); solved here.
    Example: 270 V, 60 mA of drive, ratio 1.8; then with the drive lost; then with the damper open too.
        >>> parts = dict(inductance_h=14.3e-3, trace_s=54e-6, line_hz=15750.0, knee_v=40.0)
        >>> healthy = boost(270.0, 60e-3, 1.8, 7200.0, 60e3, damper_ohm=60.0, **parts)
        >>> round(healthy.boost_v), round(healthy.scan_v)
        (505, 239)
        >>> lost = boost(270.0, 0.0, 1.8, 7200.0, 60e3, damper_ohm=60.0, steady_a=0.2, **parts)
        >>> round(lost.boost_v)
        258
        >>> round(boost(270.0, 0.0, 1.8, 7200.0, 60e3, damper_ohm=1e9, steady_a=0.2, **parts).boost_v, 2)
        0.0
    """
    supply, drive, pulse, steady, peak = not_negative(
        supply_v=supply_v, drive_a=drive_a, pulse_load_a=pulse_load_a, steady_a=steady_a, peak_a=peak_a
    )
    (back,) = share(returned_share=returned_share)
    loss, load, knee, damper, leak = positive(
        loss_ohm=loss_ohm, load_ohm=load_ohm, knee_v=knee_v, damper_ohm=damper_ohm, leak_ohm=leak_ohm
    )
    inductance, trace, rate, capacitance = positive(
        inductance_h=inductance_h, trace_s=trace_s, line_hz=line_hz, boost_f=boost_f
    )
    (excess,) = positive(plate_ratio_less_one=np.asarray(plate_ratio, dtype=np.float64) - 1.0)
    late = damper / (damper + inductance / trace)
    swing = trace**2 / (16.0 * (excess + 1.0) * inductance * capacitance)
    sag = excess / (1.0 + swing)
    rail = _Rail(supply, damper, load, leak, drive, steady, knee, excess + 1.0, sag, late, rate * trace)
    slope = trace / (2.0 * inductance)
    plate, runs = _first_fall(
        lambda v: rail.unpaid(v, loss, pulse, slope), supply * rail.reach + 0.0 * (loss + pulse)
    )
    most = (excess + 1.0) * peak * (1.0 + back) * inductance / trace
    scan = _lesser(np.where(runs, np.maximum(rail.scan(plate), 0.0), 0.0), most)
    return rail.settled(scan * boost_capacitor_share(capacitance, inductance, trace), plate)


@formula("boost_f / (boost_f + trace_s**2 / (34 * inductance_h))")
def boost_capacitor_share(boost_f: Number, inductance_h: Number, trace_s: Number) -> Number:
    r"""Return what a boost capacitor that is too small leaves of the scan voltage.

    .. math:: s = \frac{C_b}{C_b + t_s^2 / (34 L)}

    Args:
        boost_f: Boost capacitor with all other capacitance from the boosted rail to B+ or chassis [F], > 0.
        inductance_h: Inductance of the reference winding with all that hangs on it [H], > 0.
        trace_s: Trace [s], > 0.
    Returns:
        Share, 0 to 1, float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: an estimate: within 20 % of a circuit simulation from 0.1 uF down to 5 nF.  With less the
        winding rings with what is left, and a meter on the rail says little.
    Source: derived here (series resonance of winding and capacitor); the number chosen to fit a simulation.
    Example: 0.1 uF, and what is left with 1 nF, for 14.3 mH, worked by hand.
        >>> [round(boost_capacitor_share(value, 14.3e-3, 54e-6), 2) for value in (1e-7, 1e-9)]
        [0.94, 0.14]
    """
    capacitance, inductance, trace = positive(boost_f=boost_f, inductance_h=inductance_h, trace_s=trace_s)
    return plain(capacitance / (capacitance + trace**2 / (34.0 * inductance)))


@formula("scan_v * trace_s**2 / (8 * plate_ratio * inductance_h * boost_f)")
def boost_ripple_v(
    scan_v: Number, trace_s: Number, inductance_h: Number, plate_ratio: Number, boost_f: Number
) -> Number:
    r"""Return the line-rate swing of the boosted rail, peak to peak.

    .. math:: \Delta V = \frac{V_s t_s^2}{8 n L C_b}

    The capacitor gives in the second half of the trace what the damper gave back in the first.

    Args:
        scan_v: Scan voltage on the reference winding [V], >= 0.
        trace_s: Trace [s], > 0.
        inductance_h: Inductance of the reference winding with all that hangs on it [H], > 0.
        plate_ratio: Turns to the plate over turns to the damper tap, > 0.
        boost_f: Boost capacitor [F], > 0.
    Returns:
        Ripple [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: no overlap of tube and damper: within 20 % of a circuit simulation; ripple below half the scan voltage.
    Source: derived here (charge of a triangle of current).
    Example: 271 V, 54 us, 14.3 mH, ratio 1.8, 0.1 uF, worked by hand.
        >>> round(boost_ripple_v(271.0, 54e-6, 14.3e-3, 1.8, 1e-7))
        38
    """
    (voltage,) = not_negative(scan_v=scan_v)
    trace, inductance, ratio, capacitance = positive(
        trace_s=trace_s, inductance_h=inductance_h, plate_ratio=plate_ratio, boost_f=boost_f
    )
    return plain(voltage * trace**2 / (8.0 * ratio * inductance * capacitance))


@formula("boost_v + plate_ratio * pulse_v")
def plate_pulse_v(boost_v: Number, plate_ratio: Number, pulse_v: Number) -> Number:
    r"""Return the peak that stands at the plate of the output tube in the retrace.

    .. math:: V = V_b + n V_p

    Do not measure here: thousands of volts that destroy meters and ordinary probes.

    Args:
        boost_v: Boosted B+ [V], >= 0.
        plate_ratio: Turns from boosted rail to plate over turns of the reference winding, > 0.
        pulse_v: Pulse across the reference winding [V], >= 0.
    Returns:
        Peak against chassis [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: derived here; about 6,000 V at such a plate in gernsback-probes-54.
    Example: 520 V of boost, ratio 1.8, 2,200 V, worked by hand.
        >>> plate_pulse_v(520.0, 1.8, 2200.0)
        4480.0
    """
    rail, pulse = not_negative(boost_v=boost_v, pulse_v=pulse_v)
    (ratio,) = positive(plate_ratio=plate_ratio)
    return plain(rail + ratio * pulse)


def _lesser(paid: Array, carried: Array) -> Array:
    """Return the lesser of two scan voltages, rounded where they meet: the damper stops early there."""
    ratio = np.minimum(paid, carried) / np.maximum(np.maximum(paid, carried), 1e-9)
    return np.asarray(np.minimum(paid, carried) * (1.0 + ratio**24) ** (-1.0 / 24.0))


def _first_fall(unpaid: Callable[[Array], Array], most: Array) -> tuple[Array, Array]:
    """Return the lower of the two plate voltages at which the tube pays for the stage, and whether there is one.

    Near its own supply the tube pays for nothing, so the search begins half way and goes up.
    """
    low, high, found = 0.0 * most, most, np.zeros(most.shape, dtype=bool)
    for halving in range(1, 21):
        trial = most * (1.0 - 0.5**halving)
        here = (unpaid(trial) <= 0.0) & ~found
        low, high = np.where(here | found, low, trial), np.where(here, trial, high)
        found = found | here
        if found.all():
            break
    return np.where(found, quick_root(unpaid, low, high), most), found


@dataclass(frozen=True)
class _Rail:
    """Kirchhoff's sums at the boosted rail, for a given plate voltage late in the trace."""

    supply: Array
    damper: Array
    load: Array
    leak: Array
    drive: Array
    steady: Array
    knee: Array
    ratio: Array
    sag: Array
    late: Array
    duty: Array

    @property
    def divider(self) -> Array:
        return np.asarray(1.0 + self.damper / self.load + self.damper / self.leak)

    @property
    def reach(self) -> Array:
        """Boosted rail over B+ with neither scan nor plate current."""
        return np.asarray((1.0 + self.damper / self.leak) / self.divider)

    def plate_a(self, plate: Array) -> Array:
        return np.asarray((self.drive + self.steady) * np.tanh(plate / self.knee))

    def extra(self, plate: Array) -> Array:
        """Boosted rail above B+ from the plate's voltage late in the trace."""
        drop = self.ratio * self.late * self.damper / self.duty
        fall = self.supply - plate - drop * (self.plate_a(plate) + self.supply / self.load)
        return np.asarray(fall / (self.sag + drop * (1.0 / self.load + 1.0 / self.leak)))

    def damper_a(self, plate: Array) -> Array:
        extra = self.extra(plate)
        return np.asarray(self.plate_a(plate) + (self.supply + extra) / self.load + extra / self.leak)

    def scan(self, plate: Array) -> Array:
        return np.asarray(self.extra(plate) + self.damper * self.damper_a(plate) / self.duty)

    def unpaid(self, plate: Array, loss: Array, pulse: Array, slope: Array) -> Array:
        """Current that the tube would need for what is spent, less what it gives, over its own voltage."""
        extra, damper_a = self.extra(plate), self.damper_a(plate)
        mean = self.damper * damper_a / self.duty
        scan, tube = np.maximum(extra + mean, 0.0), np.maximum(extra + self.late * mean, 1e-9)
        early = extra + (1.0 - self.late) * self.damper * scan * slope / 1.5 + self.late * mean
        spent = damper_a * np.maximum(early, 0.0) + scan**2 / loss + pulse * scan
        return np.asarray(spent / tube - self.ratio * self.drive * np.tanh(plate / self.knee))

    def settled(self, scan: Array, plate: Array) -> Boost:
        """Sums for a scan voltage that may be less than the plate voltage alone would give."""
        plate = np.where(scan > 0.0, plate, self.still())
        drop = self.damper / np.where(scan > 0.0, self.duty, 1.0)
        current = self.plate_a(plate)
        extra = (scan - drop * (current + self.supply / self.load)) / (1.0 + drop / self.load + drop / self.leak)
        rail = self.supply + extra
        low = self.supply - self.sag * extra - self.ratio * self.late * (scan - extra)
        fields = np.broadcast_arrays(
            rail, scan, current, current + rail / self.load, np.where(scan > 0, low, plate)
        )
        return Boost(*(plain(np.array(field)) for field in fields))

    def still(self) -> Array:
        """Plate voltage with no scan at all."""
        drop = self.damper / self.divider
        return quick_root(
            lambda v: np.asarray(self.supply * self.reach - drop * self.plate_a(v) - v),
            0.0,
            self.supply * self.reach,
        )
