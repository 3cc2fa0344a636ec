# SPDX-License-Identifier: MIT
"""A picture as lines of text: two pixels to a character in colour, or shades where there is none.

Limits: without colour a light background turns shades round; ``dense_is_dark`` turns them back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from rich.text import Text

from backporch.engine.errors import OutOfRange
from backporch.engine.picture.depth import Depth
from backporch.engine.picture.drive import GAMMA
from backporch.engine.picture.render import Camera, screen_picture

__all__ = ["picture_lines", "text_lines"]

Colours = NDArray[np.uint8]

_SHADES = {"shades": " ░▒▓█", "ascii": " .:-=+*#%@"}
_MARGIN = 0.03


def picture_lines(
    state: Mapping[str, float],
    *,
    columns: int = 64,
    depth: Depth = "colour",
    camera: Camera | None = None,
    dense_is_dark: bool = False,
) -> list[Text]:
    """Return what the screen shows for a picture state, as lines of text.

    Args:
        state: Quantities of the picture state; what is left out is as in a healthy set.
        columns: Characters across; three eighths as many lines come back.
        depth: "colour" for half blocks, "shades" or "ascii" for a terminal without colour.
        camera: Standard, time, seed and part of the screen; its columns and rows are not used.
        dense_is_dark: True for shades on a light background.
    Raises:
        OutOfRange: fewer than 16 or more than 400 columns.
        UnknownWord: there is no such quantity.
    Example: the collapsed picture is one bright row.
        >>> lines = picture_lines({"height": 0.0}, columns=16, depth="ascii")
        >>> len(lines), "##" in lines[0].plain, "##" in lines[3].plain
        (6, False, True)
    """
    if not 16 <= columns <= 400:
        raise OutOfRange(f"A picture in text has 16 to 400 columns, not {columns}.")
    rows = max(round(columns * 3 / 8), 1) * 2
    asked = camera or Camera(box=(-_MARGIN, -_MARGIN, 1 + _MARGIN, 1 + _MARGIN))
    small = replace(asked, columns=columns, rows=rows)
    return text_lines(screen_picture(state, small), depth, dense_is_dark=dense_is_dark)


def text_lines(picture: Colours, depth: Depth, *, dense_is_dark: bool = False) -> list[Text]:
    """Return a picture, an even number of rows, as lines of text, two rows to a line.

    Example:
        >>> import numpy as np
        >>> [line.plain for line in text_lines(np.full((2, 3, 3), 255, dtype=np.uint8), "ascii")]
        ['@@@']
    """
    upper, lower = picture[0::2], picture[1::2]
    if depth == "colour":
        return [_half_blocks(top, low) for top, low in zip(upper, lower, strict=True)]
    ramp = _SHADES[depth]
    light = [(half.astype(float).mean(axis=2) / 255.0) ** GAMMA for half in (upper, lower)]
    grey = (0.5 * (light[0] + light[1])) ** (1 / GAMMA)
    if dense_is_dark:
        grey = 1 - grey
    step = np.clip(((grey - 0.12) / 0.8 * len(ramp)).astype(int), 0, len(ramp) - 1)
    return [Text("".join(ramp[k] for k in row)) for row in step]


def _half_blocks(top: Colours, low: Colours) -> Text:
    line = Text()
    for above, below in zip(top.tolist(), low.tolist(), strict=True):
        line.append("▀", f"rgb({above[0]},{above[1]},{above[2]}) on rgb({below[0]},{below[1]},{below[2]})")
    return line
