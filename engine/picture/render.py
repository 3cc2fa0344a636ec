# SPDX-License-Identifier: MIT
"""Draws what the picture tube of a simulated set shows, by tracing its beam.

The beam follows the sawtooth currents of both axes while the signal, which runs on its own time, drives the gun;
where the beam goes slowly or twice it is bright.
Limits: the card stands still, so that only the set moves the picture; the eye keeps two fields.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.scanning import standard
from backporch.engine.errors import OutOfRange
from backporch.engine.picture.deflection import beam_path
from backporch.engine.picture.drive import beam_light
from backporch.engine.picture.glass import Box, collected, seen_through_mask, shaded, spread
from backporch.engine.picture.look import complete_look
from backporch.engine.picture.signal import field_blanking_share, line_blanking_share, video_signal

__all__ = ["Camera", "screen_frames", "screen_light", "screen_picture"]

Image = NDArray[np.float32]
Colours = NDArray[np.uint8]

_WHOLE: Box = (0.0, 0.0, 1.0, 1.0)


@dataclass(frozen=True)
class Camera:
    """How the screen is looked at."""

    columns: int = 640
    rows: int = 480
    standard: str = "525/60"
    time_s: float = 0.0
    fields: int = 2
    """Fields that the eye keeps."""
    seed: int = 0
    box: Box = _WHOLE
    """Part of the screen that is drawn."""

    def __post_init__(self) -> None:
        """Refuse a picture of no size or far too large, or a box of no size."""
        if not (8 <= self.columns <= 4096 and 8 <= self.rows <= 4096 and 1 <= self.fields <= 64):
            raise OutOfRange(
                f"A picture has 8 to 4096 columns and rows and 1 to 64 fields; asked were {self.columns} columns, "
                f"{self.rows} rows, {self.fields} fields."
            )
        if not (self.box[0] < self.box[2] and self.box[1] < self.box[3]):
            raise OutOfRange(f"The part of the screen {self.box} has no size; give left, top, right, bottom.")


def screen_light(state: Mapping[str, float], camera: Camera | None = None) -> Image:
    """Return the light of each pixel, white of a healthy set being 1, (rows, columns).

    Args:
        state: Quantities of the picture state; what is left out is as in a healthy set.
        camera: How the screen is looked at; two fields at 640 by 480 by default.
    Raises:
        UnknownWord: there is no such quantity or standard.
    Example: half the height leaves the top of the mask dark.
        >>> light = screen_light({"height": 0.5}, Camera(columns=64, rows=48))
        >>> bool(light[4].max() < 0.01), bool(light[24].max() > 0.5)
        (True, True)
    """
    camera = camera or Camera()
    of, look = standard(camera.standard), complete_look(state)
    across = camera.columns / (camera.box[2] - camera.box[0])
    beam = beam_path(of, look, camera.time_s, camera.fields, across, camera.seed)
    light = beam_light(of, look, beam, video_signal(of.name, look), camera.seed)
    shape = (camera.rows, camera.columns)
    density = collected(beam.across, beam.down, light, shape, camera.box)
    down = camera.rows / (camera.box[3] - camera.box[1])
    shown = camera.fields * of.lines / 2 * (1 - field_blanking_share(of)) * (1 - line_blanking_share(of))
    return shaded(
        spread(density * np.float32(across * down / shown), look["focus_blur"], camera.box), look, camera.box
    )


def screen_picture(state: Mapping[str, float], camera: Camera | None = None) -> Colours:
    """Return what is seen as colours, (rows, columns, 3), 0 to 255, framed by the mask.

    Args:
        state: Quantities of the picture state; what is left out is as in a healthy set.
        camera: How the screen is looked at.
    Example:
        >>> screen_picture({"brightness": 0.0}, Camera(columns=64, rows=48)).shape
        (48, 64, 3)
    """
    camera = camera or Camera()
    return seen_through_mask(screen_light(state, camera), camera.box)


def screen_frames(
    states: Sequence[Mapping[str, float]], camera: Camera | None = None, frames_hz: float = 12.0
) -> list[Colours]:
    """Return one picture for each state, taken one after another from the camera's time on.

    Args:
        states: One state for each picture; the same one again for a fault that moves by itself.
        camera: How the screen is looked at.
        frames_hz: Pictures a second.
    Example: a picture that rolls is not where it was.
        >>> first, second = screen_frames([{"roll_hz": 2.0}] * 2, Camera(columns=64, rows=48))
        >>> bool((first != second).any())
        True
    """
    camera = camera or Camera()
    return [
        screen_picture(state, replace(camera, time_s=camera.time_s + n / frames_hz))
        for n, state in enumerate(states)
    ]
