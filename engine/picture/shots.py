# SPDX-License-Identifier: MIT
"""The drawings of a symptom: its shots, and the film where the picture moves."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from rich.text import Text

from backporch.engine.knowledge.models import Drawn, Shot
from backporch.engine.picture.blocks import picture_lines
from backporch.engine.picture.depth import Depth
from backporch.engine.picture.glass import Box
from backporch.engine.picture.look import complete_look
from backporch.engine.picture.render import Camera, screen_frames, screen_picture

__all__ = ["film_pictures", "framed_camera", "shot_camera", "shot_lines", "shot_picture"]

Colours = NDArray[np.uint8]

_FRAMED: Box = (-0.025, -0.025, 1.025, 1.025)
_CLOSE: Box = (0.405, 0.575, 0.525, 0.695)


def framed_camera(standard: str = "525/60", time_s: float = 0.0) -> Camera:
    """Return how a whole screen within its mask is looked at.

    Example:
        >>> framed_camera("625/50").standard
        '625/50'
    """
    return Camera(320, 240, standard, time_s, 2, 1, _FRAMED)


def shot_camera(shot: Shot, columns: int = 320, standard: str = "525/60", seed: int = 1) -> Camera:
    """Return how a shot is looked at, as a picture of 4:3.

    Example:
        >>> shot_camera(Shot(fields=4), 160).rows
        120
    """
    box = _CLOSE if shot.close else _FRAMED
    return Camera(columns, columns * 3 // 4, standard, shot.at_s, shot.fields, seed, box)


def shot_picture(shot: Shot, columns: int = 320, standard: str = "525/60") -> Colours:
    """Return a shot as colours, (rows, columns, 3).

    Args:
        shot: What to draw.
        columns: Columns of the picture; its rows are three quarters of them.
        standard: Name of the scanning standard.
    Example:
        >>> shot_picture(Shot(look={"height": 0.5}), 64).shape
        (48, 64, 3)
    """
    return screen_picture(shot.look, shot_camera(shot, columns, standard))


def shot_lines(shot: Shot, columns: int, depth: Depth, *, dense_is_dark: bool = False) -> list[Text]:
    """Return a shot as lines of text, see :func:`picture_lines`.

    Example:
        >>> len(shot_lines(Shot(), 16, "ascii"))
        6
    """
    camera = shot_camera(shot)
    return picture_lines(shot.look, columns=columns, depth=depth, camera=camera, dense_is_dark=dense_is_dark)


def film_pictures(drawn: Drawn, columns: int = 320, frames: int = 24, frames_hz: float = 12.0) -> list[Colours]:
    """Return the pictures of a symptom's film, or none where the picture stands still.

    Args:
        drawn: How the symptom is drawn.
        columns: Columns of each picture.
        frames: Number of pictures.
        frames_hz: Pictures a second.
    Example:
        >>> film_pictures(Drawn(shots=(Shot(),)))
        []
    """
    if drawn.film is None:
        return []
    begin = drawn.shots[0].look if drawn.film.start is None else drawn.film.start
    share = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(frames) / frames)
    looks = [_between(begin, drawn.film.look, float(part)) for part in share]
    return screen_frames(looks, shot_camera(drawn.shots[0], columns), frames_hz)


def _between(begin: Mapping[str, float], end: Mapping[str, float], share: float) -> dict[str, float]:
    """Return the look a share of the way from one to the other; what one of them lacks is as in a healthy set."""
    first, last = complete_look(begin), complete_look(end)
    return {name: first[name] + share * (last[name] - first[name]) for name in first}
