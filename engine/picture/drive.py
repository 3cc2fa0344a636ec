# SPDX-License-Identifier: MIT
"""The drive of the gun at each moment of the beam's path, and the light that it makes.

Drive 0 is black and 1 white; light is drive to the power of the gun's gamma, white 1.
Limits: brightness and contrast are one number each; noise is white.
Source: the gamma of a picture tube, 2.2 to 2.8 in handbooks, is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.scanning import Standard
from backporch.engine.picture.deflection import Beam, hum_cycles
from backporch.engine.picture.signal import STEPS_PER_LINE

__all__ = ["GAMMA", "beam_light"]

Samples = NDArray[np.float32]

GAMMA = 2.2
_PIVOT = 0.35
"""Grey that stays where it is when contrast is turned."""
_MOST = 1.5
"""Drive above which the gun gives no more."""


def beam_light(of: Standard, look: Mapping[str, float], beam: Beam, signal: Samples, seed: int) -> Samples:
    """Return the light of each step of the beam's path in the shape of the path: white for a whole line is 1."""
    place = (beam.time_lines * STEPS_PER_LINE).astype(np.int32) % len(signal)
    drive = np.take(signal, place)
    contrast = np.float32(look["contrast"])
    if contrast != 1.0:
        drive = np.float32(_PIVOT) + contrast * (drive - np.float32(_PIVOT))
    if look["overload"] > 0:
        crushed = np.float32(look["overload"])
        drive = drive * (1 + 1.6 * crushed) - crushed
    drive = drive + _added(of, look, beam)[:, None]
    _disturb(of, look, beam, drive, seed)
    if look["highlights_silver"] > 0:
        drive = _silver(drive, look["highlights_silver"])
    brightness = look["brightness"]
    if brightness > 1:
        drive = drive + np.float32(0.27 * np.log2(min(brightness, 64.0)))
    seen = np.float32(look["retrace_lines"])
    drive = np.where(beam.flying_back, 0.9 * seen - np.float32(0.3) * (seen < 0.05), drive)
    light = np.clip(drive, 0, _MOST) ** np.float32(GAMMA)
    return np.asarray(light * (beam.share * np.float32(min(max(brightness, 0.0), 1.0))), dtype=np.float32)


def _added(of: Standard, look: Mapping[str, float], beam: Beam) -> Samples:
    """Return what is added to whole lines: hum, and sound in the picture."""
    added = np.zeros(len(beam.seconds))
    if look["hum_depth"] > 0 and look["hum_bars"] > 0.5:
        added -= look["hum_depth"] * 0.5 * (1 + np.cos(2 * np.pi * hum_cycles(of, look, beam.seconds)))
        added += 0.25 * look["hum_depth"]
    if look["sound_in_picture"] > 0:
        when = beam.seconds
        loud = 0.6 + 0.4 * np.sin(2 * np.pi * 3.1 * when)
        tone = np.sin(2 * np.pi * 437.0 * when) + 0.6 * np.sin(2 * np.pi * 283.0 * when + 1.0)
        added += 0.35 * look["sound_in_picture"] * loud * tone
    return added.astype(np.float32)


def _disturb(of: Standard, look: Mapping[str, float], beam: Beam, drive: Samples, seed: int) -> None:
    """Add noise, a fine pattern and flashes to the drive in place."""
    chance = np.random.default_rng([seed, 7, int(beam.seconds[0] * of.field_hz)])
    if look["snow"] > 0:
        noise = chance.standard_normal((drive.shape[0], drive.shape[1] // 4 + 1), dtype=np.float32)
        drive += np.float32(0.62 * look["snow"]) * np.repeat(noise, 4, axis=1)[:, : drive.shape[1]]
    if look["pattern"] > 0:
        wave = 58.4 * beam.time_lines.astype(np.float64) + 1.1 * np.sin(2 * np.pi * 0.031 * beam.time_lines)
        drive += (0.22 * look["pattern"] * np.sin(2 * np.pi * wave)).astype(np.float32)
    for name, level in (("white_dashes", 1.6), ("black_dashes", -1.6)):
        if look[name] > 0:
            _dashes(drive[:, beam.scan_from :], level, round(46 * look[name]), chance)


def _dashes(drive: Samples, level: float, count: int, chance: np.random.Generator) -> None:
    """Add short dashes to a few lines each, in both fields, since the eye sees each field by itself; in place."""
    lines, steps = drive.shape
    half = lines // 2
    for _ in range(count):
        line, start = int(chance.integers(0, half)), int(chance.integers(0, steps))
        length, high = int(chance.integers(steps // 50, steps // 12)), int(chance.integers(2, 5))
        for field in (line, line + half):
            drive[field : field + high, start : start + length] += level


def _silver(drive: Samples, how_much: float) -> Samples:
    """Flatten what is brighter than a middle grey, as a gun that gives no more does."""
    knee = np.float32(0.75 - 0.4 * how_much)
    above = np.maximum(drive - knee, 0)
    return np.asarray(np.minimum(drive, knee) + above * np.float32(1 - 0.9 * how_much), dtype=np.float32)
