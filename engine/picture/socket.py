# SPDX-License-Identifier: MIT
"""Draws a tube socket from the soldering side, as plain text.

Seen from below the pins count clockwise from the gap (or the key of an octal socket), which is
drawn at the bottom: pin 1 is the first on the left of it.
Source: the numbering is that of the base drawings in every receiving-tube manual; common practice.
"""

from __future__ import annotations

import math

from backporch.engine.errors import OutOfRange

__all__ = ["BASES", "pin_angles", "socket_drawing"]

BASES: dict[str, tuple[int, bool]] = {
    "octal": (8, True),
    "miniature-7": (7, False),
    "noval": (9, False),
    "duodecal": (12, True),
    "duodecar": (12, False),
    "compactron": (12, False),
    "magnoval": (9, False),
    "loctal": (8, True),
    "neo-8": (8, False),
}
"""Pins of each base, and whether it has a key in the middle; without one there is a gap for a pin."""


def pin_angles(base: str) -> tuple[float, ...]:
    """Return where the pins stand, clockwise from gap or key at the bottom, seen from the soldering side [rad].

    Args:
        base: A key of :data:`BASES`.
    Raises:
        OutOfRange: The base is unknown.
    Example:
        >>> [round(math.degrees(angle)) for angle in pin_angles("miniature-7")]
        [45, 90, 135, 180, 225, 270, 315]
    """
    if base not in BASES:
        raise OutOfRange(f"There is no socket {base!r}; known: {', '.join(BASES)}.")
    pins, keyed = BASES[base]
    slots, offset = (pins, 0.5) if keyed else (pins + 1, 1.0)
    return tuple(2 * math.pi * (pin - 1 + offset) / slots for pin in range(1, pins + 1))


def socket_drawing(base: str, marked: int | None = None) -> str:
    """Return a drawing of the socket from the soldering side, with one pin marked by brackets.

    Args:
        base: A key of :data:`BASES`.
        marked: The pin to mark, counted from 1, or None.
    Raises:
        OutOfRange: The base is unknown or has no such pin.
    Example:
        >>> print(socket_drawing("miniature-7", 1))
                   4
             3           5
        <BLANKLINE>
          2                 6
        <BLANKLINE>
            [1]          7
        <BLANKLINE>
                  gap
    """
    angles = pin_angles(base)
    pins, keyed = BASES[base]
    if marked is not None and not 1 <= marked <= pins:
        raise OutOfRange(f"A {base} socket has pins 1 to {pins}; there is no pin {marked}.")
    radius_x, radius_y = (13, 5) if pins > 9 else (9, 3)
    height, width = 2 * radius_y + 2, 2 * radius_x + 8
    grid = [[" "] * width for _ in range(height)]
    for pin, angle in enumerate(angles, start=1):
        column = radius_x + 2 - round(radius_x * math.sin(angle))
        row = radius_y + round(radius_y * math.cos(angle))
        text = f"[{pin}]" if pin == marked else str(pin)
        start = column - (len(text) // 2)
        grid[row][start : start + len(text)] = text
    grid[-1][radius_x + 1 : radius_x + 4] = "key" if keyed else "gap"
    return "\n".join("".join(row).rstrip() for row in grid)
