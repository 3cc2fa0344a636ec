# SPDX-License-Identifier: MIT
"""A reading told in a word: low, high or normal stand for what lies below, above or in the healthy band."""

from __future__ import annotations

from backporch.engine.session.workbench import Band
from backporch.engine.units import show

__all__ = ["in_figures"]

_LOW = {"low", "too low", "small", "too small", "weak", "down"}
_HIGH = {"high", "too high", "large", "too large", "up"}
_GOOD = {"good", "ok", "okay", "normal", "right", "correct", "fine", "healthy", "as it should be"}


def in_figures(text: str, band: Band, unit: str) -> str:
    """Return a reading told in a word as it would be typed in figures; anything else as it is.

    At a point that is negative in a healthy set a low reading is one of less size, as the bench says it: a grid
    with a low bias stands nearer to zero.

    Args:
        text: What was typed.
        band: Healthy band of the measurement, ``low`` and ``high``.
        unit: Its unit ("V", "A", "ohm" or "Hz").
    Example:
        >>> from types import SimpleNamespace
        >>> supply, bias = SimpleNamespace(low=280.0, high=330.0), SimpleNamespace(low=-50.0, high=-36.0)
        >>> in_figures("too low", supply, "V"), in_figures("OK", supply, "V"), in_figures("low", bias, "V")
        ('<280 V', '280 V to 330 V', '>-36 V')
        >>> in_figures("310", supply, "V")
        '310'
    """
    word = " ".join(text.lower().strip(" .!").split())
    low, high = show(band.low, unit, 4), show(band.high, unit, 4)
    if word in _GOOD:
        return f"{low} to {high}"
    negative = band.high < 0.0
    if word in _LOW:
        return f">{high}" if negative else f"<{low}"
    if word in _HIGH:
        return f"<{low}" if negative else f">{high}"
    return text
