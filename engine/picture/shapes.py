# SPDX-License-Identifier: MIT
"""The shape of the voltage at each kind of test point, as a function of time; heights come from the simulated set.

Signals run on the time of the transmitted standard, time bases on that of the set, supplies on that of the mains.
Limits: time bases are drawn from a few numbers (rate, retrace, curvature), not from a circuit simulation.
Sources: composite signal and integrator from the circuits with their sources; the other shapes are those that
handbooks print for such stages, common practice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.simulator import Result
from backporch.engine.circuits.scanning import Standard, standard
from backporch.engine.circuits.scanning_waveform import composite_video
from backporch.engine.circuits.sync_integrator import integrator_waveform
from backporch.engine.circuits.sync_networks import Ladder

__all__ = ["SHAPES", "SIGNAL_SHAPES", "Patch", "Shape"]

Array = NDArray[np.float64]

_STEP_S = 1e-7
_GREYS = 6
_OPEN_OHM, _OPEN_F = 1e9, 1e-15
_FIELD_RETRACE = 0.05


@dataclass(frozen=True)
class Patch:
    """One simulated set as its waveforms need it."""

    chassis: Chassis
    result: Result

    @property
    def of(self) -> Standard:
        """The scanning standard of the signal."""
        return standard(self.chassis.standard)

    def inner(self, name: str, default: float) -> float:
        """Return a quantity between the stages."""
        return float(np.ravel(self.result.inner[name])[0]) if name in self.result.inner else default

    def shown(self, name: str, default: float = 0.0) -> float:
        """Return a quantity of the picture state."""
        return float(np.ravel(self.result.picture[name])[0]) if name in self.result.picture else default

    @property
    def field_hz(self) -> float:
        """Rate at which the set scans its fields."""
        return max(self.of.field_hz - self.shown("roll_hz"), 1.0)

    @property
    def line_hz(self) -> float:
        """Rate at which the set scans its lines."""
        return max(self.of.line_hz + self.shown("line_error_hz"), 100.0)

    @property
    def retrace(self) -> float:
        """Line retrace as a share of the line."""
        return float(np.clip(self.inner("retrace_s", 9e-6) * self.line_hz, 0.05, 0.4))


Shape = Callable[[Patch, Array], Array]
"""Gives the voltages at times, in any unit: their height comes from elsewhere."""


@lru_cache(maxsize=4)
def _frame(name: str) -> tuple[Array, float]:
    """Return one frame of the composite signal of steps of grey, and the time of its start."""
    made = composite_video(standard(name), 2, _STEP_S, lambda across, _: np.floor(across * _GREYS) / (_GREYS - 1))
    return made.level, float(made.time_s[0])


def _level(patch: Patch, time_s: Array) -> Array:
    """Return the composite signal, 0 sync tip and 1 white, with what the set does to its sync."""
    level, start = _frame(patch.chassis.standard)
    place = ((time_s - start) / _STEP_S).astype(np.int64) % len(level)
    blank = patch.of.blanking_level
    share = patch.inner("video_sync_v", blank) / max(abs(patch.inner("video_pp_v", 1.0)), 1e-6)
    share = float(np.clip(abs(share), 0.0, 0.9))
    seen = level[place]
    below, above = share * seen / blank, share + (1 - share) * (seen - blank) / (1 - blank)
    return np.where(seen < blank, below, above) + _unrest(patch, time_s)


def _unrest(patch: Patch, time_s: Array) -> Array:
    """Return hum and noise against the whole signal."""
    hum = (
        0.5
        * patch.shown("hum_depth")
        * np.sin(2 * np.pi * patch.chassis.mains_hz * max(patch.shown("hum_bars"), 1) * time_s)
    )
    noise = np.random.default_rng(11).normal(0, 0.12, time_s.shape) * patch.shown("snow")
    return np.asarray(hum + noise)


def _video_tips_down(patch: Patch, time_s: Array) -> Array:
    return _level(patch, time_s)


def _video_tips_up(patch: Patch, time_s: Array) -> Array:
    return np.negative(_level(patch, time_s))


def _separator_grid(patch: Patch, time_s: Array) -> Array:
    """The picture signal with its tips held by grid current."""
    level = -_level(patch, time_s)
    return np.asarray(np.minimum(level, -0.04 + 0.02 * (level > -0.04)), dtype=float)


def _sync(patch: Patch, time_s: Array) -> Array:
    """The sync alone, and what picture comes through where the separator is wrongly biased."""
    level = _level(patch, time_s)
    blank = max(
        float(
            np.clip(
                abs(patch.inner("video_sync_v", 0.3)) / max(abs(patch.inner("video_pp_v", 1)), 1e-6), 0.02, 0.9
            )
        ),
        0.02,
    )
    pure = patch.inner("sync_purity", 1.0)
    pulses = np.clip(1.6 * (blank - level) / blank, 0, 1)
    return pure * pulses + (1 - pure) * (1 - level)


def _sync_down(patch: Patch, time_s: Array) -> Array:
    return -_sync(patch, time_s)


def _integrated(patch: Patch, time_s: Array) -> Array:
    """The field sync behind the integrator, with the half steps of its serrations."""
    batch, stage = patch.result.batch, "vertical-integrator"
    ohms, farads, leaks = [], [], []
    for n in (1, 2, 3):
        if batch.has(stage, f"resistor-{n}"):
            ohms.append(_one(batch.ohms(stage, f"resistor-{n}"), 1.0, _OPEN_OHM))
            farads.append(_one(batch.farads(stage, f"capacitor-{n}"), _OPEN_F, 1e-3) + 60e-12)
            leaks.append(_one(batch.leak(stage, f"capacitor-{n}"), 1.0, 1e12))
    return integrator_waveform(Ladder(tuple(ohms), tuple(farads), tuple(leaks)), patch.of, time_s)


def _one(value: object, least: float, most: float) -> float:
    return float(np.clip(np.ravel(np.asarray(value, dtype=float))[0], least, most))


def _field_place(patch: Patch, time_s: Array) -> Array:
    return np.asarray(time_s * patch.field_hz % 1.0)


def _ramp(place: Array, retrace: float, bend: float = 0.0) -> Array:
    """Return a sawtooth that falls during the retrace and rises from 0 to 1 over the trace."""
    rise = np.clip((place - retrace) / (1 - retrace), 0, 1)
    rise = rise + bend * rise * (1 - rise)
    return np.where(place < retrace, 1 - place / retrace, rise)


def _sawtooth(patch: Patch, time_s: Array) -> Array:
    """The charge of the sawtooth capacitor, with the step of its peaking resistor."""
    place = _field_place(patch, time_s)
    step = 0.5 * patch.inner("peaking_share", 0.1)
    saw = _ramp(place, _FIELD_RETRACE, float(np.clip(patch.shown("vertical_nonlinearity"), -0.9, 0.9)))
    return saw - step * (place < _FIELD_RETRACE)


def _oscillator_plate(patch: Patch, time_s: Array) -> Array:
    return _sawtooth(patch, time_s) - 0.4 * (_field_place(patch, time_s) < _FIELD_RETRACE)


def _oscillator_grid(patch: Patch, time_s: Array) -> Array:
    """A deep dip once at each field that climbs back along a curve."""
    place = _field_place(patch, time_s)
    return np.where(place < 0.02, 1.15, -np.expm1(-(place - 0.02) / 0.45))


def _trapezoid(patch: Patch, time_s: Array) -> Array:
    """What the yoke needs: a ramp for its resistance and a spike for its inductance."""
    place = _field_place(patch, time_s)
    ramp = _ramp(place, _FIELD_RETRACE, float(np.clip(patch.shown("vertical_nonlinearity"), -0.9, 0.9)))
    spike = np.sin(np.pi * np.clip(place / _FIELD_RETRACE, 0, 1))
    return -0.45 * ramp + 0.55 * spike * (place < _FIELD_RETRACE)


def _output_grid(patch: Patch, time_s: Array) -> Array:
    place = _field_place(patch, time_s)
    return _sawtooth(patch, time_s) - 0.3 * (place < _FIELD_RETRACE)


def _field_blanking(patch: Patch, time_s: Array) -> Array:
    place = _field_place(patch, time_s)
    return -np.sin(np.pi * np.clip(place / _FIELD_RETRACE, 0, 1)) * (place < _FIELD_RETRACE)


def _line_place(patch: Patch, time_s: Array) -> Array:
    return np.asarray(time_s * patch.line_hz % 1.0)


def _line_saw(patch: Patch, time_s: Array) -> Array:
    place = _line_place(patch, time_s)
    back = float(np.clip(patch.inner("line_discharge_s", 5e-6) * patch.line_hz, 0.03, 0.4))
    return _ramp(place, back, 0.25)


def _line_grid(patch: Patch, time_s: Array) -> Array:
    place = _line_place(patch, time_s)
    return np.where(place < 0.06, 1.1, -np.expm1(-(place - 0.06) / 0.5))


def _drive(patch: Patch, time_s: Array) -> Array:
    """The sawtooth of the drive with the negative pulse that cuts the output tube off."""
    place = _line_place(patch, time_s)
    return _ramp(place, 0.08, 0.1) - 0.45 * (place < patch.retrace)


def _clipped_drive(patch: Patch, time_s: Array) -> Array:
    drive = _drive(patch, time_s)
    return np.minimum(drive, 0.92)


def _comparison(patch: Patch, time_s: Array) -> Array:
    """The flyback pulse integrated: up during the retrace, straight down over the trace."""
    return 1 - _ramp(_line_place(patch, time_s), patch.retrace)


def _gate_pulse(patch: Patch, time_s: Array) -> Array:
    place = _line_place(patch, time_s)
    return np.sin(np.pi * np.clip(place / patch.retrace, 0, 1)) * (place < patch.retrace)


def _boost(patch: Patch, time_s: Array) -> Array:
    """Charged by the damper in the first half of the trace, drained by the output tube in the second."""
    place = np.clip((_line_place(patch, time_s) - patch.retrace) / (1 - patch.retrace), 0, 1)
    return 4 * place * (1 - place)


def _mains(patch: Patch, time_s: Array) -> Array:
    return np.asarray(np.sin(2 * np.pi * patch.chassis.mains_hz * time_s))


def _reservoir(patch: Patch, time_s: Array) -> Array:
    """Charged at the crests of the mains, drained in between."""
    place = time_s * patch.inner("ripple_hz", patch.chassis.mains_hz) % 1.0
    charging = 0.22
    return np.where(
        place < charging, 0.5 - 0.5 * np.cos(np.pi * place / charging), 1 - (place - charging) / (1 - charging)
    )


def _ripple(patch: Patch, time_s: Array) -> Array:
    return np.asarray(np.sin(2 * np.pi * patch.inner("ripple_hz", patch.chassis.mains_hz) * time_s))


SHAPES: dict[str, tuple[str, Shape]] = {
    "video-detector-output": ("signal", _video_tips_down),
    "video-grid": ("signal", _video_tips_down),
    "video-plate": ("signal", _video_tips_up),
    "picture-tube-cathode": ("signal", _video_tips_up),
    "sync-separator-grid": ("signal", _separator_grid),
    "sync-separator-plate": ("signal", _sync_down),
    "sync-amplifier-grid": ("signal", _sync_down),
    "sync-amplifier-plate": ("signal", _sync),
    "sync-amplifier-cathode": ("signal", _sync_down),
    "horizontal-sync-pulse": ("line", _sync),
    "integrator-output": ("steps", _integrated),
    "vertical-oscillator-grid": ("field", _oscillator_grid),
    "vertical-oscillator-plate": ("field", _oscillator_plate),
    "vertical-sawtooth": ("field", _sawtooth),
    "vertical-output-grid": ("field", _output_grid),
    "vertical-yoke": ("field", _trapezoid),
    "picture-tube-grid": ("field", _field_blanking),
    "horizontal-oscillator-grid": ("line", _line_grid),
    "horizontal-oscillator-plate": ("line", _line_saw),
    "horizontal-drive": ("line", _drive),
    "horizontal-output-grid": ("line", _clipped_drive),
    "afc-reference-pulse": ("line", _comparison),
    "agc-gate-pulse": ("line", _gate_pulse),
    "boosted-b-plus": ("line", _boost),
    "heater-winding": ("mains", _mains),
    "picture-tube-heater": ("mains", _mains),
    "mains-at-set": ("mains", _mains),
    "reservoir": ("mains", _reservoir),
    "b-plus": ("mains", _ripple),
    "rail-video": ("mains", _ripple),
    "rail-sync": ("mains", _ripple),
    "rail-vertical": ("mains", _ripple),
    "rail-horizontal": ("mains", _ripple),
    "rail-tuner": ("mains", _ripple),
}
"""For each point: the rate at which it is looked at, and its shape.  "signal" is looked at
at line and field rate, "steps" over a field and close to the field sync."""

SIGNAL_SHAPES: frozenset[Shape] = frozenset({_video_tips_down, _video_tips_up, _separator_grid, _sync, _sync_down})
"""Shapes that follow the signal and not the set's own time bases."""
