# SPDX-License-Identifier: MIT
"""What an oscilloscope shows at a test point of a simulated set, the direct voltage taken off.

The height is that of the simulated set, so that it agrees with the expected values.
Limits: as in :mod:`backporch.engine.picture.shapes`; the trace is triggered by the set itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.flyback_boost import boost_ripple_v
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.picture.shapes import SHAPES, SIGNAL_SHAPES, Patch

__all__ = ["DIVISIONS", "SWEEPS", "Sweep", "Wave", "round_step", "scope_wave", "sweeps_of"]

Array = NDArray[np.float64]
Sweep = Literal["line", "field", "mains"]
SWEEPS: tuple[Sweep, ...] = ("line", "field", "mains")

DIVISIONS = 10
"""Divisions of the screen across."""
_POINTS = 12_000
_PERIODS = 2.5
_STEP_LINES = 12.0
"""Lines shown around the field sync."""
_LOOKED_AT: dict[str, tuple[Sweep, ...]] = {
    "signal": ("line", "field"),
    "steps": ("field", "line"),
    "line": ("line",),
    "field": ("field",),
    "mains": ("mains",),
}


@dataclass(frozen=True)
class Wave:
    """One trace of the oscilloscope."""

    point: str
    sweep: Sweep
    time_s: Array
    volts: Array
    """Voltage less its mean [V]."""
    pp_v: float
    """Peak to peak [V]."""
    dc_v: float | None
    """Direct voltage that was taken off [V], where the virtual set has it."""


def sweeps_of(point: str) -> tuple[Sweep, ...]:
    """Return the rates at which a point is looked at.

    Raises:
        UnknownWord: no oscilloscope is put to a point of that name.
    Example:
        >>> sweeps_of("sync-separator-grid"), sweeps_of("vertical-yoke")
        (('line', 'field'), ('field',))
    """
    if point not in SHAPES:
        raise UnknownWord("point with a waveform", point, SHAPES)
    return _LOOKED_AT[SHAPES[point][0]]


def scope_wave(patch: Patch, point: str, sweep: Sweep) -> Wave:
    """Return the trace at a point.

    Args:
        patch: The simulated set.
        point: Name of a test point.
        sweep: "line", "field" or "mains": at least two and a half periods of it are shown, ten divisions in all.
    Raises:
        UnknownWord: no oscilloscope is put to a point of that name.
        BadInput: this chassis has no such point.
    """
    sweeps_of(point)
    height = _height_v(patch, point)
    if height is None:
        raise BadInput(f"{patch.chassis.name} has no point {point}; its circuit is another.")
    start, least = _window_s(patch, point, sweep)
    time = np.linspace(0.0, DIVISIONS * round_step(least / DIVISIONS), _POINTS)
    shape = SHAPES[point][1]
    whole = shape(patch, np.linspace(0.0, 2.0 / min(patch.field_hz, patch.of.field_hz), 40_000))
    swing = float(whole.max() - whole.min())
    drawn = shape(patch, time + start)
    volts = (drawn - float(whole.mean())) * (height / swing if swing > 1e-12 else 0.0)
    return Wave(point, sweep, time, volts, height, _value(patch, f"{point}.dc"))


def round_step(least: float) -> float:
    """Return the smallest of 1, 2, 5 times a power of ten that is not below a value.

    Example:
        >>> round_step(0.03), round_step(41.0)
        (0.05, 50.0)
    """
    if least <= 1e-9:
        return 1e-3
    power = 10.0 ** math.floor(math.log10(least))
    return next(float(f"{n * power:.6g}") for n in (1, 2, 5, 10) if n * power >= least * 0.9999)


def _window_s(patch: Patch, point: str, sweep: Sweep) -> tuple[float, float]:
    """Return when the trace begins and how long it is at least: some periods, or the field sync from near."""
    rate = {"line": patch.of.line_hz, "field": patch.of.field_hz, "mains": patch.chassis.mains_hz}[sweep]
    natural = SHAPES[point][0]
    if sweep == "line" and natural == "steps":
        return patch.of.field_s - 3 * patch.of.line_s, _STEP_LINES * patch.of.line_s
    if sweep == "line" and SHAPES[point][1] in SIGNAL_SHAPES:
        return (patch.of.lines // 4 - 0.15) * patch.of.line_s, _PERIODS / rate
    return 0.4 / rate, _PERIODS / rate


def _height_v(patch: Patch, point: str) -> float | None:
    """Return the height of the waveform [V], or None where the chassis has no such point."""
    if point == "boosted-b-plus":
        return _boost_ripple_v(patch)
    pp = _value(patch, f"{point}.pp")
    rms = _value(patch, f"{point}.rms")
    if pp is None and rms is not None:
        return 2.0 * math.sqrt(2.0) * rms
    return abs(pp) if pp is not None else None


def _boost_ripple_v(patch: Patch) -> float | None:
    """Return the line-rate ripple of the boosted rail behind its filter."""
    batch, stage = patch.result.batch, "damper-boost"
    if "boosted-b-plus.dc" not in patch.result.values:
        return None
    figure = patch.chassis.figures.get
    farads = float(np.ravel(batch.farads(stage, "boost-capacitor"))[0]) + 300e-12
    raw = boost_ripple_v(
        max(patch.inner("scan_v", 0.0), 0.0),
        (1 - patch.retrace) / patch.line_hz,
        float(figure("reference_h", 14e-3)),
        float(figure("plate_ratio", 1.8)),
        farads,
    )
    ohms = float(np.ravel(batch.ohms(stage, "filter-resistor", 0.0))[0])
    filtering = float(np.ravel(batch.farads(stage, "filter-capacitor", 0.0))[0])
    turns = 2 * math.pi * patch.line_hz * min(ohms, 1e9) * filtering
    return float(min(float(np.asarray(raw)), patch.inner("scan_v", 0.0)) / math.hypot(1.0, turns))


def _value(patch: Patch, key: str) -> float | None:
    return float(np.ravel(patch.result.values[key])[0]) if key in patch.result.values else None
