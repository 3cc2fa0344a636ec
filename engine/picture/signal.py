# SPDX-License-Identifier: MIT
"""The video signal as it reaches the picture tube: the card with its blanking and sync, after the set's bandwidth.

One frame of the signal in order of time, in equal steps, black 0 and white 1; it starts with the blanking of the
first field, so that the place in it follows from the time alone, whatever the deflection does.
Limits: edges without slope; the card stands still.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.scanning import Standard, standard
from backporch.engine.picture.card import CARD_SHAPE, test_card

__all__ = ["STEPS_PER_LINE", "field_blanking_share", "line_blanking_share", "video_signal", "white_of_lines"]

Samples = NDArray[np.float32]

STEPS_PER_LINE = 1024
_SYNC_LEVEL = -0.43
"""Sync tips below black, black to white being 1: 40 to 100 in the levels of all standards."""
_DETAIL_CYCLES = 300.0
"""Cycles within a line that a healthy set still passes well; about 4.7 MHz at 15.7 kHz."""


def line_blanking_share(of: Standard) -> float:
    """Return the share of a line that carries no picture."""
    return of.line_blanking_s * of.line_hz


def field_blanking_share(of: Standard) -> float:
    """Return the share of a field that carries no picture."""
    return of.field_blanking_s * of.field_hz


@cache
def _plain(name: str) -> Samples:
    """Return the card in the signal of a standard, sync at its full depth, flat in order of time."""
    of = standard(name)
    place = (np.arange(STEPS_PER_LINE) + 0.5) / STEPS_PER_LINE
    down = _down(of)
    across = (place - line_blanking_share(of)) / (1 - line_blanking_share(of))
    rows = np.clip((down * CARD_SHAPE[0]).astype(int), 0, CARD_SHAPE[0] - 1)
    columns = np.clip((across * CARD_SHAPE[1]).astype(int), 0, CARD_SHAPE[1] - 1)
    level = test_card()[rows[:, None], columns[None, :]]
    level[:, across < 0] = 0.0
    level[down < 0] = 0.0
    porch = of.front_porch_s * of.line_hz
    level[:, (place > porch) & (place < porch + of.line_sync_s * of.line_hz)] = _SYNC_LEVEL
    _broad_pulses(level, of, place)
    level.flags.writeable = False
    return np.asarray(level.ravel(), dtype=np.float32)


def _down(of: Standard) -> NDArray[np.float64]:
    """Return how far down the picture each line lies, negative within the field blanking."""
    field = (np.arange(of.lines) + 0.5) * 2.0 / of.lines % 1.0
    blanked = field_blanking_share(of)
    return (field - blanked) / (1 - blanked)


def _broad_pulses(level: Samples, of: Standard, place: NDArray[np.float64]) -> None:
    time = (np.arange(of.lines)[:, None] + place[None, :]) * of.line_s % of.field_s - of.field_lead_s
    within = (time >= 0) & (time < of.broad_count * of.half_line_s)
    level[within & (time % of.half_line_s < of.broad_s)] = _SYNC_LEVEL


def white_of_lines(name: str) -> NDArray[np.float64]:
    """Return how much whiter each line of the frame is than the mean line, in order of time."""
    lines = np.maximum(_plain(name).reshape(-1, STEPS_PER_LINE), 0.0).mean(axis=1)
    smooth = np.convolve(lines, np.ones(7) / 7, mode="same")
    return np.asarray(smooth - smooth.mean(), dtype=float)


def video_signal(name: str, look: Mapping[str, float]) -> Samples:
    """Return one frame of the signal at the tube, flat in order of time, :data:`STEPS_PER_LINE` a line.

    Args:
        name: Name of the scanning standard.
        look: A complete look: sharpness, smear, ringing, ghost and sync_on_screen are used.
    """
    level = _plain(name)
    if abs(look["sync_on_screen"] - 1.0) > 0.01:
        level = np.where(level < 0, level * np.float32(look["sync_on_screen"]), level)
    response = _response(len(level), look)
    return np.fft.irfft(np.fft.rfft(level) * response, n=len(level)).astype(np.float32)


def _response(count: int, look: Mapping[str, float]) -> NDArray[np.complex64]:
    """Return what the video path does to each frequency."""
    cycles = np.arange(count // 2 + 1, dtype=np.float32) * (STEPS_PER_LINE / count)
    detail = _DETAIL_CYCLES * max(look["sharpness"], 0.02)
    response = np.exp(-0.35 * (cycles / np.float32(detail)) ** 2).astype(np.complex64)
    if look["smear"] > 0.01:
        share = np.float32(0.8 * min(look["smear"], 1.0))
        response *= (1 - share) + share / (1 + 1j * cycles / np.float32(1.8))
    if look["ringing"] > 0.01:
        response *= _echoes(cycles, 0.62 * min(look["ringing"], 1.0), 0.018, 4)
    if look["ghost"] > 0.01:
        response *= _echoes(cycles, 0.7 * min(look["ghost"], 1.0), 0.075, 1)
    return np.asarray(response, dtype=np.complex64)


def _echoes(cycles: NDArray[np.float32], share: float, later: float, count: int) -> NDArray[np.complex64]:
    """Return the response of a signal followed by fainter copies, each ``later`` by a share of a line."""
    turn = np.exp(-2j * np.pi * cycles * np.float32(later)).astype(np.complex64)
    total = np.ones_like(turn)
    copy = np.ones_like(turn)
    for n in range(count):
        copy = copy * turn * np.float32(share * 0.9**n * (-1.0 if count > 1 else 1.0))
        total += copy
    return np.asarray(total / (1.0 + share if count == 1 else 1.0), dtype=np.complex64)
