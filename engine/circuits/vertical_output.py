# SPDX-License-Identifier: MIT
"""The vertical output stage: what the sawtooth makes of tube, transformer and yoke.

Triode or pentode with cathode bias, fed through the primary of a transformer whose secondary drives the yoke.
Given are the drive at the sawtooth capacitor and the parts; found are the yoke current with its height, its
linearity and its folds, the retrace pulse, and every direct voltage of the stage.
Limits: no saturation of the core; the winding capacitance lumped across the primary.
Sources: vertical-output-practice, sawtooth-check-values (keys in kb/sources/vertical.yaml); else derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.tube_curves import TubeModel
from backporch.engine.circuits.tube_grid import grid_source
from backporch.engine.circuits.tubes import checked_tube
from backporch.engine.circuits.vertical_output_cycle import Field, Stage, settled_field
from backporch.engine.errors import OutOfRange

__all__ = [
    "OutputDrive",
    "OutputParts",
    "VerticalOutput",
    "height_fraction",
    "retrace_pulse_v",
    "vertical_output",
    "yoke_voltage",
]

_OPEN_OHM = 1e5
"""A primary of more than this is open; more makes no difference to anything that can be seen or measured."""


@dataclass(frozen=True)
class OutputParts:
    """The parts of the stage; every field may be a float or an array."""

    transformer_ratio: Number
    """Turns of the primary over those of the secondary."""
    primary_h: Number
    yoke_h: Number
    yoke_ohm: Number
    """Yoke with connector and anything in series."""
    cathode_ohm: Number
    """Cathode resistor with the linearity control, as far as it lies there."""
    grid_leak_ohm: Number
    coupling_f: Number
    bypass_f: Number = 100e-6
    """Cathode bypass; 1e-15 for none."""
    primary_ohm: Number = 400.0
    secondary_ohm: Number = 5.0
    damping_ohm: Number = 1000.0
    """Across the yoke; both halves in series."""
    stray_f: Number = 1.5e-9
    """Across the primary, windings and tuning capacitor; from memory, to verify."""
    bypass_leak_ohm: Number = 1e12
    coupling_leak_ohm: Number = 1e12
    leak_from_v: Number = 0.0
    """Direct voltage at the sawtooth side of the coupling capacitor."""
    grid_return_v: Number = 0.0
    screen_ohm: Number = 1e-3
    gas_a: Number = 0.0
    sawtooth_f: Number = 1.0
    """Sawtooth capacitor, from which grid leak and grid current are fed; 1 for a stiff source."""


@dataclass(frozen=True)
class OutputDrive:
    """The trapezoid at the sawtooth capacitor before grid leak and grid current take theirs; floats or arrays."""

    sawtooth_v: Number
    slope_ratio: Number = 0.9
    """Slope at the end of the ramp over that at its beginning."""
    pulse_v: Number = 0.0
    """Depth of the retrace pulse."""
    retrace_s: Number = 0.7e-3


@dataclass(frozen=True)
class VerticalOutput:
    """What the stage does; voltages against the foot of the cathode resistor."""

    yoke_pp_a: Number
    """Swing of the yoke current over the visible field."""
    top_slope: Number
    """Slope of the scan at the top over that in the middle: below 1 compressed, above 1 stretched."""
    bottom_slope: Number
    fold_top: Number
    """Part of the visible field over which the retrace still runs."""
    fold_bottom: Number
    """Part of the visible field, at its end, over which the scan has stopped or runs back."""
    retrace_s: Number
    """From the end of the ramp to the lowest yoke current."""
    plate_peak_v: Number
    plate_low_v: Number
    """Lowest plate voltage."""
    plate_v: Number
    """Mean plate voltage."""
    cathode_v: Number
    grid_v: Number
    grid_pp_v: Number
    bias_v: Number
    """Mean grid against mean cathode."""
    screen_v: Number
    plate_a: Number
    screen_a: Number
    plate_w: Number
    """Dissipation of the plate."""
    yoke_pp_v: Number
    """Swing of voltage at the secondary."""


@formula(
    "yoke current of the periodic solution of plate_a = curve(plate_v - cathode_v, grid_v - cathode_v),"
    " plate_a = magnetizing + (yoke + v / damping_ohm) / transformer_ratio,"
    " v = yoke_ohm * yoke + yoke_h * d(yoke)/dt,"
    " plate_v = supply_v - primary_ohm * plate_a - transformer_ratio * v"
)
def vertical_output(
    parts: OutputParts,
    drive: OutputDrive,
    tube: TubeModel,
    supply_v: Number,
    field_hz: Number,
    screen_supply_v: Number = 0.0,
    blanking_s: Number = 1.25e-3,
) -> VerticalOutput:
    r"""Return what the output stage makes of its drive.

    .. math::
        I_a = i_m + \frac{i_y + v/R_d}{N} + C N \dot v, \quad L_p \dot i_m = N v, \quad
        v = R i_y + L \dot i_y, \quad V_a = V_b - R_p I_a - N v

    Args:
        parts: The parts, see :class:`OutputParts`; values > 0 but for leak source, return and gas.
        drive: The trapezoid, see :class:`OutputDrive`.
        tube: The tube, see :class:`TubeModel`, its emission included.
        supply_v: Supply of the transformer [V], > 0.
        field_hz: Rate of the oscillator [Hz], > 0.
        screen_supply_v: Supply of the screen [V], >= 0; left out for a triode.
        blanking_s: Time from the end of the ramp to the first visible line [s], > 0.
    Returns:
        :class:`VerticalOutput`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds, or the retrace takes half a field or more.
    Valid: 5 % of a circuit simulation with the same tube curves in height, pulse and direct voltages (reached:
        2.3 %); with a primary or yoke all but shorted the pulse comes out 15 % high.
    Source: derived here; vertical-output-practice for the usual figures.
    Example: a triode such as 6S4A with a 12:1 transformer into a yoke of 42 mH, 45 ohm.
        >>> triode = TubeModel(17.04, 1.336, 1079.0, 116.9, 406.1, grid_perv=1e-3)
        >>> parts = OutputParts(12.0, 20.0, 42e-3, 45.0, 390.0, 2.2e6, 0.1e-6)
        >>> found = vertical_output(parts, OutputDrive(25.0, pulse_v=15.0), triode, 280.0, 60.0)
        >>> round(found.yoke_pp_a, 2), round(found.cathode_v, 0), 550 < found.plate_peak_v < 650
        (0.32, 6.0, True)
    """
    stage, blanking = _stage(parts, drive, tube, supply_v, field_hz, screen_supply_v, blanking_s)
    return _measured(stage, settled_field(stage), blanking)


@formula("yoke_pp_a / full_a")
def height_fraction(yoke_pp_a: Number, full_a: Number) -> Number:
    r"""Return the height of the raster over that of the mask.

    .. math:: h = I_{pp} / I_{full}

    Args:
        yoke_pp_a: Swing of the yoke current over the visible field [A], >= 0.
        full_a: Swing that just fills the mask at the anode voltage there is [A], > 0.
    Returns:
        Fraction, float or array; above 1 is overscan.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: deflection goes with the current.
    Example: worked by hand.
        >>> round(height_fraction(0.28, 0.35), 2)
        0.8
    """
    (swing,) = not_negative(yoke_pp_a=yoke_pp_a)
    (full,) = positive(full_a=full_a)
    return plain(swing / full)


@formula("yoke_h * yoke_pp_a / retrace_s * transformer_ratio")
def retrace_pulse_v(
    yoke_h: Number, yoke_pp_a: Number, retrace_s: Number, transformer_ratio: Number = 1.0
) -> Number:
    r"""Return the mean of the retrace pulse that the yoke's inductance makes.

    .. math:: V = N \frac{L I_{pp}}{t_r}

    Args:
        yoke_h: Inductance of the yoke [H], > 0.
        yoke_pp_a: Swing of the yoke current [A], >= 0.
        retrace_s: Time of the retrace [s], > 0.
        transformer_ratio: Turns of the primary over those of the secondary, 1 for the pulse at the yoke.
    Returns:
        Voltage above that at the end of the scan [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the mean; a half sine wave peaks at 1.57 times that.
    Source: sawtooth-check-values.
    Example: worked by hand there: 50 mH, 0.35 A and 0.75 ms.
        >>> round(retrace_pulse_v(50e-3, 0.35, 0.75e-3), 1)
        23.3
    """
    inductance, retrace, ratio = positive(yoke_h=yoke_h, retrace_s=retrace_s, transformer_ratio=transformer_ratio)
    (swing,) = not_negative(yoke_pp_a=yoke_pp_a)
    return plain(inductance * swing / retrace * ratio)


@formula("yoke_ohm * yoke_pp_a + yoke_h * yoke_pp_a / trace_s")
def yoke_voltage(yoke_h: Number, yoke_ohm: Number, yoke_pp_a: Number, trace_s: Number) -> Number:
    r"""Return the ramp and step that a yoke needs for a straight scan, together.

    .. math:: V = R I_{pp} + L \frac{I_{pp}}{t}

    Args:
        yoke_h: Inductance of the yoke [H], > 0.
        yoke_ohm: Resistance of the yoke [ohm], > 0.
        yoke_pp_a: Swing of the yoke current [A], >= 0.
        trace_s: Time of the trace [s], > 0.
    Returns:
        Voltage without the retrace pulse [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: sawtooth-check-values.
    Example: worked by hand there: 21.0 V of ramp and 1.1 V of step.
        >>> round(yoke_voltage(50e-3, 60.0, 0.35, 15.9e-3), 1)
        22.1
    """
    inductance, resistance, trace = positive(yoke_h=yoke_h, yoke_ohm=yoke_ohm, trace_s=trace_s)
    (swing,) = not_negative(yoke_pp_a=yoke_pp_a)
    return plain(swing * (resistance + inductance / trace))


def _stage(
    parts: OutputParts,
    drive: OutputDrive,
    tube: TubeModel,
    supply_v: Number,
    field_hz: Number,
    screen_supply_v: Number,
    blanking_s: Number,
) -> tuple[Stage, Array]:
    """Check everything, fold the leaks in, and give all parts one shape."""
    supply, rate, blanking = positive(supply_v=supply_v, field_hz=field_hz, blanking_s=blanking_s)
    (screen,) = not_negative(screen_supply_v=screen_supply_v)
    saw, bend, pulse, retrace = _drive(drive, rate)
    *resistors, dropper = _resistors(parts)
    flat = np.broadcast_arrays(
        supply,
        *resistors,
        screen,
        dropper,
        saw,
        bend,
        pulse,
        retrace,
        1.0 / rate,
        blanking,
        np.asarray(tube.emission_share),
    )
    *made, blank, alive = (np.array(value, dtype=np.float64) for value in flat)
    return Stage(checked_tube(replace(tube, emission_share=alive)), *made), blank


def _drive(drive: OutputDrive, rate: Array) -> tuple[Array, Array, Array, Array]:
    saw, pulse = not_negative(sawtooth_v=drive.sawtooth_v, pulse_v=drive.pulse_v)
    bend, retrace = positive(slope_ratio=drive.slope_ratio, retrace_s=drive.retrace_s)
    if np.any(retrace * rate >= 0.5):
        raise OutOfRange(f"retrace_s is {np.max(retrace):g}; expected less than half a field.")
    return saw, bend, pulse, retrace


def _resistors(parts: OutputParts) -> tuple[Array, ...]:
    """Return the parts from the transformer to the coupling capacitor, and the screen dropper last."""
    values = dict(vars(parts))
    back, far = any_sign(**{name: values.pop(name) for name in ("grid_return_v", "leak_from_v")})
    (gas,) = not_negative(gas_a=values.pop("gas_a"))
    p = dict(zip(values, positive(**values), strict=True))
    seen = grid_source(back, p["grid_leak_ohm"], far, p["coupling_leak_ohm"])
    leak = np.asarray(seen.leak_ohm)
    return (
        p["transformer_ratio"],
        p["primary_h"],
        np.minimum(p["primary_ohm"], _OPEN_OHM),
        p["yoke_h"],
        p["yoke_ohm"] + p["secondary_ohm"],
        p["damping_ohm"],
        p["stray_f"],
        p["cathode_ohm"] * p["bypass_leak_ohm"] / (p["cathode_ohm"] + p["bypass_leak_ohm"]),
        p["bypass_f"],
        np.asarray(seen.source_v) + gas * leak,
        leak,
        1.0 / (1.0 / p["coupling_f"] + 1.0 / p["sawtooth_f"]),
        p["screen_ohm"],
    )


def _measured(stage: Stage, field: Field, blanking: Array) -> VerticalOutput:
    """Read the waveforms."""
    values = _scan(stage, field, blanking) | _levels(stage, field)
    return VerticalOutput(**{name: plain(value) for name, value in values.items()})


def _scan(stage: Stage, field: Field, blanking: Array) -> dict[str, Array]:
    """Return what the yoke current makes of the picture."""
    lasts = stage.period - blanking
    marks = [_at(field.time, field.yoke, blanking + part * lasts) for part in np.arange(7) / 6.0]
    parts = np.diff(np.stack(marks), axis=0)
    middle = 0.5 * (parts[2] + parts[3])
    safe = np.where(np.abs(middle) < 1e-7, 1e-7, middle)
    inside = np.where(field.time >= blanking, field.yoke, marks[0])
    low = np.take_along_axis(field.time, np.argmin(field.yoke, axis=0)[None], axis=0)[0]
    high = np.take_along_axis(field.time, np.argmax(inside, axis=0)[None], axis=0)[0]
    swing = inside.max(axis=0) - inside.min(axis=0)
    moves = swing > 1e-3
    late = moves & (high > blanking + 0.3 * lasts)
    return {
        "yoke_pp_a": swing,
        "top_slope": np.where(moves, np.clip(parts[0] / safe, -3.0, 3.0), 1.0),
        "bottom_slope": np.where(moves, np.clip(parts[5] / safe, -3.0, 3.0), 1.0),
        "fold_top": np.where(moves, np.clip((low - blanking) / lasts, 0.0, 1.0), 0.0),
        "fold_bottom": np.where(late, np.clip((stage.period - high) / lasts, 0.0, 1.0), 0.0),
        "retrace_s": low,
    }


def _levels(stage: Stage, field: Field) -> dict[str, Array]:
    """Return what instruments show at the stage."""

    def mean(wave: Array) -> Array:
        return np.asarray(np.sum(wave * field.weight, axis=0))

    across = (stage.supply - stage.primary * field.plate_a - field.plate) / stage.ratio
    return {
        "plate_peak_v": field.plate.max(axis=0),
        "plate_low_v": field.plate.min(axis=0),
        "plate_v": mean(field.plate),
        "cathode_v": mean(field.cathode),
        "grid_v": mean(field.grid),
        "grid_pp_v": field.grid.max(axis=0) - field.grid.min(axis=0),
        "bias_v": mean(field.grid - field.cathode),
        "screen_v": field.screen if stage.tube.screened else 0.0 * field.screen,
        "plate_a": mean(field.plate_a),
        "screen_a": mean(field.screen_a),
        "plate_w": mean((field.plate - field.cathode) * field.plate_a),
        "yoke_pp_v": across.max(axis=0) - across.min(axis=0),
    }


def _at(time: Array, wave: Array, when: Array) -> Array:
    """Return a waveform at a time, straight between its points."""
    after = np.clip(np.sum(time < when, axis=0), 1, len(time) - 1)[None]

    def pick(values: Array, place: Any) -> Array:
        return np.asarray(np.take_along_axis(values, place, axis=0)[0])

    t0, t1, w0, w1 = (pick(v, after - k) for v in (time, wave) for k in (1, 0))
    part = np.clip((when - t0) / np.maximum(t1 - t0, 1e-12), 0.0, 1.0)
    return np.asarray(w0 + part * (w1 - w0))
