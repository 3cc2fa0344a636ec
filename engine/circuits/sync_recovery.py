# SPDX-License-Identifier: MIT
"""How the bias of a grid-leak separator moves: droop between pulses, hum, recovery from the field sync.

The bias follows the signal with one time constant, that of the balance of charge over a line.
Limits: changes small enough that the grid conducts at the same levels before and after.
Sources: grob-basic-television for usual parts (key in kb/sources/sync.yaml); derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.scanning import Standard
from backporch.engine.circuits.sync_separator import SeparatorGrid, SeparatorParts, SeparatorSignal, separator_grid

__all__ = ["FieldRecovery", "droop_share", "field_recovery", "hum_at_grid_v", "recovered_share"]


@dataclass(frozen=True)
class FieldRecovery:
    """What the field sync does to the bias."""

    dip_v: Number
    """How far the grid stands too low behind the broad pulses."""
    dip_share: Number
    """The same over the height of the sync at the grid; near 1 the line sync is gone."""
    picture_dip_v: Number
    """How much too low it is where the picture begins, by the dip and by the blank lines since."""
    recovery_s: Number
    """From the last broad pulse until a tenth of the dip is left."""


@formula("1 - exp(-interval_s / (grid_leak_ohm * coupling_f))")
def droop_share(interval_s: Number, grid_leak_ohm: Number, coupling_f: Number) -> Number:
    r"""Return which share of the bias leaks away in a time without pulses.

    .. math:: \delta = 1 - e^{-t / (R_g C)}

    Args:
        interval_s: Time: a line between two pulses, a field after the loss of sync [s], >= 0.
        grid_leak_ohm: Grid leak, the leak of the capacitor in parallel [ohm], > 0.
        coupling_f: Coupling capacitor [F], > 0.
    Returns:
        Share, 0 to 1, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: textbook exponential.
    Example: 0.1 uF and 1 M: per line of 525 and per field, in per cent; worked by hand.
        >>> [round(100 * droop_share(t, 1e6, 0.1e-6), 3) for t in (1 / 15750, 1 / 60)]
        [0.063, 15.352]
    """
    (time,) = not_negative(interval_s=interval_s)
    leak, farads = positive(grid_leak_ohm=grid_leak_ohm, coupling_f=coupling_f)
    return plain(-np.expm1(-time / (leak * farads)))


@formula("1 - exp(-interval_s / (load_ohm * stray_f))")
def recovered_share(interval_s: Number, load_ohm: Number, stray_f: Number) -> Number:
    r"""Return how far a plate climbs back towards its supply between two sync pulses.

    .. math:: s = 1 - e^{-t / (R C)}

    A plate whose load is open has no way back: the tube takes it down once, and no pulse follows.

    Args:
        interval_s: Time between two pulses [s], >= 0.
        load_ohm: Plate load; 1e9 is open [ohm], > 0.
        stray_f: Capacitance of plate, wiring and what follows [F], > 0.
    Returns:
        Share, 0 to 1, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: textbook exponential.
    Example: 47 k, 1 M and an open load with 40 pF, between the pulses of a line of 59 us; worked by hand.
        >>> [round(recovered_share(59e-6, ohm, 40e-12), 3) for ohm in (47e3, 1e6, 1e9)]
        [1.0, 0.771, 0.001]
    """
    (time,) = not_negative(interval_s=interval_s)
    load, farads = positive(load_ohm=load_ohm, stray_f=stray_f)
    return plain(-np.expm1(-time / (load * farads)))


@formula("hum_v * x / sqrt(1 + x**2), x = 2 * pi * hum_hz * settling_s")
def hum_at_grid_v(hum_v: Number, hum_hz: Number, settling_s: Number) -> Number:
    r"""Return how much of a hum on the signal stays at the grid of the separator.

    .. math:: h = H \frac{\omega \tau}{\sqrt{1 + (\omega \tau)^2}}

    The sync tips set the bias anew line by line; a quick bias takes slow hum out, a slow one lets it pass, and the
    sync is then cut at a height that changes down the picture.

    Args:
        hum_v: Hum on the signal, peak to peak [V], >= 0.
        hum_hz: Its rate [Hz], > 0.
        settling_s: Time constant of the bias, see :class:`SeparatorGrid` [s], > 0.
    Returns:
        Hum at the grid, peak to peak [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: hum below the height of the sync.
    Source: textbook high-pass with the time constant of the clamp.
    Example: 5 V of 60 Hz, bias following in 2 ms, worked by hand.
        >>> round(hum_at_grid_v(5.0, 60.0, 2e-3), 2)
        3.01
    """
    (hum,) = not_negative(hum_v=hum_v)
    rate, settling = positive(hum_hz=hum_hz, settling_s=settling_s)
    turns = 2.0 * math.pi * rate * settling
    return plain(hum * turns / np.sqrt(1.0 + turns**2))


@formula(
    "stored voltage relaxes towards its balance under blanking, broad pulses, blanking and picture in turn:"
    " dip = (stored_broad_v - stored_v) * (1 - exp(-broad_time_s / charging_s))"
)
def field_recovery(signal: SeparatorSignal, parts: SeparatorParts, standard: Standard) -> FieldRecovery:
    r"""Return how the broad pulses of the field sync shift the bias, and how long the separator needs to recover.

    .. math::
        \Delta = (V_b - V) (1 - e^{-T_b / \tau_b}), \qquad \Delta(t) = \Delta e^{-t / \tau}

    with the balances and time constants of :func:`separator_grid` under broad pulses and under lines.  The tips
    last for most of the time under broad pulses, the grid charges the capacitor further, and the line sync behind
    stands too low.

    Args:
        signal: The signal of an ordinary line.
        parts: See :class:`SeparatorParts`.
        standard: Scanning standard.
    Returns:
        :class:`FieldRecovery`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: equalizing pulses count as line sync; 6 % against the bias followed in small steps.
    Source: balance of charge, derived here.
    Example: 0.022 uF and 1 M lose a fifth of the sync, 0.005 uF loses much more.
        >>> from backporch.engine.circuits.scanning import standard
        >>> from backporch.engine.circuits.sync_separator import line_signal
        >>> signal = line_signal(standard("625"), 40.0, 150.0)
        >>> made = [field_recovery(signal, SeparatorParts(22e3, c, 1e6), standard("625")) for c in (22e-9, 5e-9)]
        >>> [round(one.dip_share, 2) for one in made]
        [0.2, 0.58]
    """
    pitch = standard.half_line_s if standard.broad_count > 1 else standard.line_s
    line = separator_grid(signal, parts)
    bare = separator_grid(replace(signal, white_share=0.0), parts)
    broad = separator_grid(replace(signal, sync_s=standard.broad_s, pitch_s=pitch, white_share=0.0), parts)
    lasting = standard.broad_count * pitch
    rest = standard.field_blanking_s - standard.field_lead_s - lasting
    start = np.asarray(line.stored_v, dtype=np.float64)
    ready = _relaxed(start, bare, standard.field_lead_s)
    charged = _relaxed(ready, broad, lasting)
    shown = _relaxed(charged, bare, rest)
    dip = charged - start
    height = np.asarray(line.tip_v) - np.asarray(line.blanking_v)
    late = rest + np.asarray(line.settling_s) * np.log(np.maximum(10.0 * (shown - start) / _some(dip), 1.0))
    ahead = (charged - bare.stored_v) / _some(start + 0.1 * dip - bare.stored_v)
    early = np.asarray(bare.settling_s) * np.log(np.maximum(ahead, 1.0))
    time = np.where(np.abs(shown - start) > 0.1 * np.abs(dip), late, np.minimum(early, rest))
    values = (dip, dip / np.maximum(height, 1e-9), shown - start, time)
    return FieldRecovery(*(plain(np.array(value)) for value in np.broadcast_arrays(*values)))


def _relaxed(stored: Array, towards: SeparatorGrid, time_s: float) -> Array:
    """Return the stored voltage after a time under a signal with another balance."""
    end, settling = np.asarray(towards.stored_v), np.asarray(towards.settling_s)
    return np.asarray(end + (stored - end) * np.exp(-time_s / settling), dtype=np.float64)


def _some(value: Array) -> Array:
    """Return the value kept off zero."""
    return np.asarray(np.where(np.abs(value) < 1e-12, 1e-12, value), dtype=np.float64)
