# SPDX-License-Identifier: MIT
"""Understands a reading as a person writes it down: -18, 62 Vpp, 180-220 wandering, OL, <5, none, ?."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from backporch.engine.errors import BadInput
from backporch.engine.units import parse, show

__all__ = ["TypedReading", "read_reading"]

Shape = Literal["value", "range", "below", "above", "overload", "none", "unsure"]

_UNSURE = {"?", "not sure", "unsure", "dunno", "don't know", "dont know", "no idea", "maybe"}
_OVERLOAD = {"ol", "o.l", "o.l.", "0l", "over", "overload", "overrange", "infinity", "inf", "∞", "open"}
_NOTHING = {"none", "nothing", "no reading", "nil"}
_WANDERING = ("wandering", "wanders", "unsteady", "drifting", "jumping", "varies", "varying", "intermittent")
_NUMBER = r"[+-]?(?:\d[\d,]*\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_TAIL = r"(?!\s*to\b)(?![eE][+-]?\d)\s*[A-Za-zµΩ\u2126\u03a9][A-Za-zµΩ\u2126\u03a9\-]*"
_RANGE = re.compile(rf"^({_NUMBER})({_TAIL})?\s*(?:\.\.\.?|to|–|—|-)\s*({_NUMBER})({_TAIL})?$")


@dataclass(frozen=True)
class TypedReading:
    """A reading in SI units, with what kind of reading it was.

    ``low`` and ``high`` bound it: equal for a plain value, infinite on one side for "<5" and "OL".
    """

    shape: Shape
    low: float
    high: float
    wandering: bool = False
    typed: str = ""

    @property
    def middle(self) -> float:
        """The middle of the reading; the finite end where the other is infinite."""
        if math.isinf(self.low):
            return self.high
        if math.isinf(self.high):
            return self.low
        return (self.low + self.high) / 2

    def in_words(self, unit: str) -> str:
        """Return the reading as text, for example "-18 V" or "below 5 V"."""
        if self.shape == "value":
            text = show(self.low, unit)
        elif self.shape == "range":
            text = f"{show(self.low, unit)} to {show(self.high, unit)}"
        elif self.shape == "below":
            text = f"below {show(self.high, unit)}"
        elif self.shape == "above":
            text = f"above {show(self.low, unit)}"
        else:
            text = {"overload": "over range", "none": "nothing", "unsure": "not sure"}[self.shape]
        return f"{text}, wandering" if self.wandering else text


def read_reading(text: str, unit: str) -> TypedReading:
    """Return what was typed as a reading in ``unit`` ("V", "A", "ohm" or "Hz").

    Raises:
        BadInput: it is no reading in that unit; the message shows how to write one.

    Example:
        >>> read_reading("-18V", "V").low, read_reading("1.2k", "ohm").low
        (-18.0, 1200.0)
        >>> reading = read_reading("180-220 wandering", "V")
        >>> reading.low, reading.high, reading.wandering
        (180.0, 220.0, True)
        >>> read_reading("<5", "V").shape, read_reading("OL", "ohm").shape, read_reading("?", "V").shape
        ('below', 'overload', 'unsure')
    """
    typed = text.strip()
    words = " ".join(typed.replace("\u2212", "-").replace("\u2019", "'").split())
    wandering = any(re.search(rf"\b{word}\b", words, re.I) for word in _WANDERING)
    for word in _WANDERING:
        words = re.sub(rf",?\s*\b{word}\b", "", words, flags=re.I).strip()
    words = re.sub(r"^(?:about|around|approx\.?|circa|ca\.?|~|=)\s*", "", words, flags=re.I)
    lower = words.lower()
    if lower in _UNSURE:
        return TypedReading("unsure", -math.inf, math.inf, wandering, typed)
    if lower in _OVERLOAD:
        return TypedReading("overload", math.inf, math.inf, wandering, typed)
    if lower in _NOTHING:
        return TypedReading("none", 0.0, 0.0, wandering, typed)
    bound = re.match(r"^(<=?|>=?|below|under|less than|above|over|more than)\s*(.+)$", words, re.I)
    if bound:
        return _bounded(bound.group(1).lower(), bound.group(2), unit, wandering, typed)
    span = _RANGE.match(words)
    if span:
        return _spanned(span, unit, wandering, typed)
    value = parse(words, unit)
    return TypedReading("value", value, value, wandering, typed)


def _bounded(sign: str, rest: str, unit: str, wandering: bool, typed: str) -> TypedReading:
    value = parse(rest, unit)
    if sign in ("<", "<=", "below", "under", "less than"):
        return TypedReading("below", -math.inf if unit == "V" else 0.0, value, wandering, typed)
    return TypedReading("above", value, math.inf, wandering, typed)


def _spanned(span: re.Match[str], unit: str, wandering: bool, typed: str) -> TypedReading:
    first, first_tail, second, second_tail = span.groups()
    tail = second_tail or ""
    ends = parse(first + (first_tail or tail), unit), parse(second + tail, unit)
    low, high = min(ends), max(ends)
    if not low < high:
        raise BadInput(f"{typed!r} has two equal ends. Write one value, or two different ones: 180-220.")
    return TypedReading("range", low, high, wandering, typed)
