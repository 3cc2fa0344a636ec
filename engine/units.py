# SPDX-License-Identifier: MIT
"""Engineering notation: the only module that reads and writes values such as "22 nF", "4k7" or "63.5 us".

SI numbers inside, engineering notation at the edges.  Formatting leans on quantiphy, which is loaded when the
first value is shown.
"""

from __future__ import annotations

import math
import re
from typing import Any

from backporch.engine.errors import BadInput

__all__ = ["UNITS", "parse", "show", "unit_of_name"]

UNITS: dict[str, str] = {
    "_v": "V",
    "_a": "A",
    "_ohm": "ohm",
    "_f": "F",
    "_h": "H",
    "_s": "s",
    "_hz": "Hz",
    "_w": "W",
    "_j": "J",
    "_c": "C",
    "_rad": "rad",
    "_m": "m",
    "_m2": "m2",
    "_perv": "A/V^1.5",
    "_a_per_v": "A/V",
    "_lines": "lines",
}
"""The unit that each suffix of a name stands for."""

_ALIASES = {
    "ohms": "ohm",
    "\u03a9": "ohm",
    "\u2126": "ohm",
    "r": "ohm",
    "R": "ohm",
    "volt": "V",
    "volts": "V",
    "v": "V",
    "Vdc": "V",
    "vdc": "V",
    "Vpp": "V",
    "vpp": "V",
    "Vp-p": "V",
    "Vrms": "V",
    "amp": "A",
    "amps": "A",
    "a": "A",
    "f": "F",
    "h": "H",
    "hz": "Hz",
    "S": "s",
    "sec": "s",
    "w": "W",
}
_LETTER_AS_POINT = re.compile(r"^([+-]?\d+)([RrkKMmuµnp])(\d+)\s*([A-Za-zΩ]*)$")
_SHAPE = re.compile(r"^([+-]?(?:\d[\d,]*\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)$")
_PREFIXES = {
    "": 1.0,
    "G": 1e9,
    "M": 1e6,
    "Meg": 1e6,
    "meg": 1e6,
    "k": 1e3,
    "K": 1e3,
    "m": 1e-3,
    "u": 1e-6,
    "µ": 1e-6,
    "μ": 1e-6,
    "n": 1e-9,
    "p": 1e-12,
}

_ALLOWED: dict[str, tuple[str, ...]] = {
    "F": ("", "m", "u", "µ", "μ", "n", "p"),
    "H": ("", "m", "u", "µ", "μ", "n"),
    "s": ("", "m", "u", "µ", "μ", "n"),
    "A": ("", "m", "u", "µ", "μ", "n"),
}
"""Prefixes that make sense with a unit; every prefix does with the others."""
_OLD_FARADS = {"mfd": 1e-6, "mmfd": 1e-12, "mmf": 1e-12, "uuf": 1e-12, "ufd": 1e-6, "uf": 1e-6}
"""How old schematics write capacitances."""


def unit_of_name(name: str) -> str:
    """Return the unit that the end of a quantity's ``name`` stands for, or "".

    Example:
        >>> unit_of_name("grid_leak_ohm")
        'ohm'
    """
    for suffix in sorted(UNITS, key=len, reverse=True):
        if name.endswith(suffix):
            return UNITS[suffix]
    return ""


def parse(text: str | float | int, unit: str) -> float:
    """Return the SI value of ``text``, which must be a number in ``unit`` (or with no unit at all).

    Raises:
        BadInput: the text is no number, or has another unit, or is not finite.

    Example:
        >>> parse("22 nF", "F"), parse("4k7", "ohm"), parse("1.5 M", "ohm"), parse("63.5us", "s")
        (2.2e-08, 4700.0, 1500000.0, 6.35e-05)
    """
    raw = str(text).strip()
    if not raw or len(raw) > 60:
        raise BadInput(f"Expected a value in {unit}, for example {_example(unit)}; got {raw[:60]!r}.")
    odd = _LETTER_AS_POINT.match(raw)
    if odd:
        whole, letter, rest, tail = odd.groups()
        raw = f"{whole}.{rest}{'' if letter in 'Rr' else letter}{tail}"
    shape = _SHAPE.match(raw)
    if not shape:
        raise BadInput(f"{raw!r} is not a number. Write a value in {unit}, for example {_example(unit)}.")
    number, tail = shape.group(1).replace(",", ""), shape.group(2).strip()
    factor = _factor(tail, unit)
    if factor is None:
        raise BadInput(f"{raw!r} is not in {unit}. Write it, for example, as {_example(unit)}.")
    value = float(number) * factor
    if not math.isfinite(value):
        raise BadInput(f"{raw!r} is not a finite number.")
    return float(f"{value:.12g}")


def _factor(tail: str, unit: str) -> float | None:
    if unit == "F" and tail.lower() in _OLD_FARADS:
        return _OLD_FARADS[tail.lower()]
    for prefix, factor in _PREFIXES.items():
        if not tail.startswith(prefix) or prefix not in _ALLOWED.get(unit, _PREFIXES):
            continue
        rest = tail[len(prefix) :].strip()
        if rest in ("", unit) or _ALIASES.get(rest, rest) == unit:
            return factor
    return None


def _example(unit: str) -> str:
    return {
        "V": "-18 V",
        "A": "12 mA",
        "ohm": "4.7 k",
        "F": "22 nF",
        "H": "10 mH",
        "s": "63.5 us",
        "Hz": "59.94 Hz",
        "W": "0.5 W",
    }.get(unit, f"5 {unit}")


def show(value: Any, unit: str = "", digits: int = 3) -> str:
    """Return ``value`` in engineering notation with its unit; ohms as on a schematic ("4.7 k").

    Example:
        >>> show(2.2e-8, "F"), show(4700.0, "ohm"), show(6.3492e-5, "s"), show(-18.0, "V"), show(0.0, "V")
        ('22 nF', '4.7 k', '63.5 us', '-18 V', '0 V')
    """
    try:
        number = float(value)
    except (TypeError, ValueError):
        return str(value)
    if not math.isfinite(number):
        return "open" if unit == "ohm" else str(number)
    if not unit:
        return f"{number:.{digits}g}"
    from quantiphy import Quantity

    text = str(Quantity(number, units=unit).render(prec=digits - 1, strip_zeros=True)).replace("µ", "u")
    return text.removesuffix("ohm") if unit == "ohm" and abs(number) >= 1000 else text
