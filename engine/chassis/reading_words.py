# SPDX-License-Identifier: MIT
"""Readings, bands and points as a person writes them down."""

from __future__ import annotations

from backporch.engine.units import show

__all__ = ["NOTHING_V", "point_words", "reading_words", "span_words"]

NOTHING_V = 5e-3
"""What no meter at the bench tells from nothing [V]."""

_KINDS = {"dc": "", "pp": " pp", "rms": " AC", "ohm": "", "amp": "", "hz": ""}
_CAPITALS = ("agc", "afc", "if")


def reading_words(value: float, unit: str, quantity: str) -> str:
    """Return a reading as a person writes it down: nothing below 5 mV on a direct range.

    Example:
        >>> reading_words(93e-6, "V", "dc"), reading_words(6.29, "V", "rms"), reading_words(0.0131, "V", "pp")
        ('0 V', '6.29 V AC', '13.1 mV pp')
    """
    if quantity == "dc" and abs(value) < NOTHING_V:
        return "0 V"
    return show(value, unit) + _KINDS[quantity]


def span_words(low: float, high: float, unit: str) -> str:
    """Return a band with its unit once where both ends have the same, or "" where it has no width.

    Example:
        >>> span_words(151.2, 164.0, "V"), span_words(0.41, 1.2, "V"), span_words(45e3, 45e3, "ohm")
        ('151 to 164 V', '410 mV to 1.2 V', '')
    """
    first, last = show(low, unit), show(high, unit)
    if first == last:
        return ""
    tail = last.partition(" ")[2]
    return f"{first.removesuffix(' ' + tail) if tail else first} to {last}"


def point_words(point: str) -> str:
    """Return the name of a test point as words.

    Example:
        >>> point_words("b-plus-to-return"), point_words("agc-line")
        ('B+ to return', 'AGC line')
    """
    words = point.replace("b-plus", "B+").replace("-", " ").split()
    return " ".join(word.upper() if word in _CAPITALS else word for word in words)
