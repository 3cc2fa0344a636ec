# SPDX-License-Identifier: MIT
"""What a terminal can draw with; imports nothing, so that asking costs no time."""

from __future__ import annotations

from typing import Literal

__all__ = ["Depth", "terminal_depth"]

Depth = Literal["colour", "shades", "ascii"]


def terminal_depth(color_system: str | None, encoding: str) -> Depth:
    """Return how a terminal can draw: colour where it has 256 or more, else shades, else ASCII.

    Args:
        color_system: "truecolor", "256", "standard", "windows" or None, as the console library names them.
        encoding: Encoding of the output.
    Example:
        >>> terminal_depth("256", "utf-8"), terminal_depth(None, "utf-8"), terminal_depth("256", "ascii")
        ('colour', 'shades', 'ascii')
    """
    if not encoding.lower().replace("-", "").startswith("utf"):
        return "ascii"
    return "colour" if color_system in ("truecolor", "256") else "shades"
