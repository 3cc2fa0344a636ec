# SPDX-License-Identifier: MIT
"""From the light that falls on the phosphor to what is seen: spot, burn, shadow, mask of 4:3 with round corners.

Limits: the spot is a Gaussian of one size all over the screen.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from backporch.engine.picture.drive import GAMMA

__all__ = ["Box", "collected", "seen_through_mask", "shaded", "spread"]

Image = NDArray[np.float32]
Colours = NDArray[np.uint8]
Box = tuple[float, float, float, float]
"""Part of the screen that is drawn: left, top, right, bottom, the whole mask being (0, 0, 1, 1)."""

_UNLIT = 0.075
"""Grey of the glass without light, in a lit room."""
_TINT = (0.93, 0.97, 1.0)
_SURROUND = (74, 62, 52)
_CORNER = 0.14
_BOW = 0.018
_SPOT = 0.00066
"""Standard deviation of a healthy spot against the height of the screen; our judgement: 525 lines just show."""


def collected(across: Image, down: Image, light: Image, shape: tuple[int, int], box: Box) -> Image:
    """Return the light on each pixel.

    Each step of the beam spreads its light evenly from its start to its end sideways, and between the two nearest
    rows up and down, so that an even beam gives an even field at any size.

    Args:
        across: Where each step starts and ends on the screen, 0 to 1 within the mask, (lines, steps + 1).
        down: Height at which each step is drawn, (lines, steps).
        light: Light of each step, (lines, steps).
        shape: Rows and columns of the picture.
        box: The part of the screen that is drawn.
    """
    rows, columns = shape
    edges = (across - np.float32(box[0])) * np.float32(columns / (box[2] - box[0])) + np.float32(1)
    start, end = np.minimum(edges[:, :-1], edges[:, 1:]), np.maximum(edges[:, :-1], edges[:, 1:])
    y = (down - np.float32(box[1])) * np.float32(rows / (box[3] - box[1])) + np.float32(0.5)
    kept = (light > 1e-9) & (start >= 0) & (end < columns + 2) & (y >= 0) & (y < rows + 1)
    x, reach, y, weight = start[kept], np.maximum((end - start)[kept], np.float32(1e-4)), y[kept], light[kept]
    left, top = x.astype(np.int32), y.astype(np.int32)
    in_left = weight * np.minimum((left + 1 - x) / reach, np.float32(1))
    low, width, size = y - top, columns + 3, (rows + 3) * (columns + 3)
    place = top * width + left
    lower = in_left * low
    total = np.bincount(place, in_left - lower, size)
    total += np.bincount(place + width, lower, size)
    in_right = weight - in_left
    lower = in_right * low
    total += np.bincount(place + 1, in_right - lower, size)
    total += np.bincount(place + width + 1, lower, size)
    return total.reshape(rows + 3, width)[1 : rows + 1, 1 : columns + 1].astype(np.float32)


def spread(light: Image, spot: float, box: Box) -> Image:
    """Return the light after the size of the spot, ``spot`` being its diameter against a healthy one."""
    rows = light.shape[0]
    sigma = _SPOT * spot * rows / (box[3] - box[1])
    blurred = _blurred(light, sigma)
    if float(blurred.max(initial=0.0)) > 4.0:
        blurred = blurred + np.float32(0.025) * _blurred(np.minimum(blurred, 40.0), 0.012 * rows)
    return np.asarray(blurred, dtype=np.float32)


def _blurred(light: Image, sigma: float) -> Image:
    if sigma < 0.2:
        return light
    rows, columns = light.shape
    return np.asarray(_smoothing(rows, round(sigma, 2)) @ light @ _smoothing(columns, round(sigma, 2)))


@lru_cache(maxsize=16)
def _smoothing(count: int, sigma: float) -> Image:
    """Return the matrix that spreads each of ``count`` pixels into a Gaussian."""
    apart = np.subtract.outer(np.arange(count), np.arange(count)) / sigma
    weight = np.exp(-0.5 * apart**2) * (np.abs(apart) < 5)
    reach = np.arange(-math.ceil(5 * sigma), math.ceil(5 * sigma) + 1)
    return np.asarray(weight / np.exp(-0.5 * (reach / sigma) ** 2).sum(), dtype=np.float32)


def shaded(light: Image, look: Mapping[str, float], box: Box) -> Image:
    """Return the light without what the neck shadows and what a burnt phosphor no longer gives."""
    if look["corner_shadow"] <= 0 and look["ion_burn"] <= 0:
        return light
    x, y = _places(light.shape, box)
    if look["corner_shadow"] > 0:
        radius = 1.06 - 1.0 * look["corner_shadow"]
        away = np.hypot((x - 0.38) * 4 / 3, y - 0.72)
        light = light * np.clip((radius - away) / 0.06, 0, 1).astype(np.float32)
    if look["ion_burn"] > 0:
        away = np.hypot((x - 0.5) * 4 / 3, (y - 0.5) * 1.15) / 0.16
        dark = 1 - 0.85 * look["ion_burn"] * np.exp(-(away**4))
        light = light * dark.astype(np.float32)
    return light


def seen_through_mask(light: Image, box: Box) -> Colours:
    """Return the picture as colours, (rows, columns, 3), framed by the mask."""
    grey = np.clip(light, 0, 1) ** np.float32(1 / GAMMA)
    seen = _phosphor()[np.rint(grey * 1023).astype(np.int32)]
    inside = _mask(light.shape, box)
    rim = inside < 1
    share = inside[rim][:, None]
    seen[rim] = np.rint(seen[rim] * share + np.asarray(_SURROUND) * (1 - share)).astype(np.uint8)
    return np.asarray(seen, dtype=np.uint8)


@cache
def _phosphor() -> Colours:
    """Return the colour of the glass for each of 1024 steps of grey."""
    grey = _UNLIT + (1 - _UNLIT) * np.linspace(0, 1, 1024)
    return np.asarray(np.rint(grey[:, None] * np.asarray(_TINT) * 255), dtype=np.uint8)


def _places(shape: tuple[int, ...], box: Box) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows, columns = shape
    across = box[0] + (np.arange(columns) + 0.5) / columns * (box[2] - box[0])
    down = box[1] + (np.arange(rows) + 0.5) / rows * (box[3] - box[1])
    x, y = np.meshgrid(across, down)
    return x, y


@lru_cache(maxsize=16)
def _mask(shape: tuple[int, ...], box: Box) -> Image:
    """Return 1 within the mask and 0 outside it, with a soft edge one pixel wide."""
    x, y = _places(shape, box)
    right, low = np.abs(x - 0.5) * 4 / 3, np.abs(y - 0.5)
    half_width, half_height = 2 / 3 - _BOW * 4 * low**2, 0.5 - _BOW * 9 / 4 * right**2
    out_x, out_y = right - half_width + _CORNER, low - half_height + _CORNER
    outside = np.hypot(np.maximum(out_x, 0), np.maximum(out_y, 0)) + np.minimum(np.maximum(out_x, out_y), 0)
    pixel = (box[3] - box[1]) / shape[0]
    return np.clip(0.5 - (outside - _CORNER) / pixel, 0, 1).astype(np.float32)
