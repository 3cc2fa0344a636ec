# SPDX-License-Identifier: MIT
"""The test card: our own geometry, made so that every way in which a picture goes wrong shows in it.

Squares for size and linearity, a circle for roundness, castles at the rim for centring and fold-over, a triangle
that points up, a disc at the left and a diamond at the right, a black block on white for smear and ringing,
gratings for detail, steps of grey for contrast.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["CARD_SHAPE", "test_card"]

Grey = NDArray[np.float32]

CARD_SHAPE = (576, 768)
"""Rows and columns of the card."""

_COLUMNS, _ROWS = 12, 9


@cache
def test_card() -> Grey:
    """Return the card as greys from 0 black to 1 white, (576, 768); do not write into it.

    Example:
        >>> card = test_card()
        >>> card.shape, float(card.min()), float(card.max())
        ((576, 768), 0.0, 1.0)
    """
    rows, columns = CARD_SHAPE
    x, y = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
    grey = np.full(CARD_SHAPE, 0.42, dtype=np.float32)
    _grid(grey, x, y)
    _rim(grey, x, y)
    _sides(grey, x, y)
    _centre(grey, x, y)
    grey.flags.writeable = False
    return grey


def _grid(grey: Grey, x: NDArray[np.float64], y: NDArray[np.float64]) -> None:
    off_x = np.abs(x * _COLUMNS - np.round(x * _COLUMNS))
    off_y = np.abs(y * _ROWS - np.round(y * _ROWS))
    grey[(off_x < 0.035) | (off_y < 0.035)] = 0.85


def _rim(grey: Grey, x: NDArray[np.float64], y: NDArray[np.float64]) -> None:
    """Draw black and white castles along all four edges."""
    outer = (x < 0.5 / _COLUMNS) | (x > 1 - 0.5 / _COLUMNS) | (y < 0.5 / _ROWS) | (y > 1 - 0.5 / _ROWS)
    odd = (np.floor(x * _COLUMNS) + np.floor(y * _ROWS)) % 2
    grey[outer] = odd[outer]


def _sides(grey: Grey, x: NDArray[np.float64], y: NDArray[np.float64]) -> None:
    """Draw what tells left from right: a black disc, and a white diamond."""
    across, down = (x - 0.5) * 4 / 3, y - 0.5
    grey[np.hypot(across + 0.5, down) < 0.10] = 0.0
    grey[np.abs(across - 0.5) + np.abs(down) < 0.13] = 1.0


def _centre(grey: Grey, x: NDArray[np.float64], y: NDArray[np.float64]) -> None:
    across, down = (x - 0.5) * 4 / 3, y - 0.5
    radius = np.hypot(across, down)
    inside = radius < 0.36
    grey[inside] = 0.55
    grey[(radius > 0.345) & inside] = 1.0
    block = inside & (np.abs(down + 0.02) < 0.10) & (np.abs(across) < 0.30)
    grey[block] = 1.0
    grey[block & (np.abs(down + 0.02) < 0.06) & (np.abs(across + 0.06) < 0.13)] = 0.0
    triangle = (down > -0.31) & (down < -0.15) & (np.abs(across) < 0.75 * (down + 0.31))
    grey[triangle] = 0.0
    _gratings(grey, x, across, down)
    steps = (down > 0.20) & (down < 0.29) & (np.abs(across) < 0.20)
    grey[steps] = (np.floor((across[steps] + 0.20) / 0.08) / 4.0).astype(np.float32)


def _gratings(grey: Grey, x: NDArray[np.float64], across: NDArray[np.float64], down: NDArray[np.float64]) -> None:
    """Draw three groups of upright stripes, coarse to fine."""
    column = np.floor(x * CARD_SHAPE[1])
    for place, pitch in ((-0.20, 16), (-0.06, 8), (0.08, 4)):
        here = (down > 0.10) & (down < 0.18) & (across >= place) & (across < place + 0.12)
        grey[here] = np.where(column[here] % pitch < pitch // 2, 1.0, 0.0)
