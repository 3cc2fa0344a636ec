# SPDX-License-Identifier: MIT
"""What a simulated set shows to eyes, ears and nose: one number for each thing that can be noticed.

The same names are used by kb/picture_words (number -> symptom), by the raster renderer and by the
observations (looks and controls).  Each entry gives its value in a healthy set and its meaning.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any

import numpy as np

__all__ = ["PICTURE", "PictureState", "Quantity", "picture_of"]


@dataclass(frozen=True)
class Quantity:
    """One quantity of the picture state."""

    healthy: float
    meaning: str


def _shown(healthy: float, meaning: str) -> Any:
    return field(default=healthy, metadata={"meaning": meaning})


@dataclass(frozen=True)
class PictureState:
    """What one set shows; without arguments a healthy one.  ``PICTURE`` gives the meaning of each field.

    Lengths are shares of the full raster, rates are in hertz, visibilities run from 0 to 1.

    Example:
        >>> PictureState().height, PictureState(roll_hz=2.0).roll_hz, PICTURE["roll_hz"].meaning
        (1.0, 2.0, 'screens a second that the picture rolls, up positive; 0 when locked')
    """

    # light
    brightness: float = _shown(1.0, "light at the present setting, 0 dark, 1 normal, above 2 glaring")
    brightness_most: float = _shown(1.6, "most light that the brightness control can give")
    brightness_least: float = _shown(0.0, "light with the brightness control fully down")
    focus_blur: float = _shown(1.0, "diameter of the spot against a healthy one")
    blooming: float = _shown(0.02, "growth of the picture from low to full brightness, as a fraction")
    retrace_lines: float = _shown(0.0, "visibility of the retrace lines, 0 to 1")
    corner_shadow: float = _shown(0.0, "share of the raster that the neck shadows")
    ion_burn: float = _shown(0.0, "darkness of a burnt patch in the middle, 0 to 1")
    highlights_silver: float = _shown(0.0, "flat silvery highlights of a worn-out gun, 0 to 1")
    # size and shape
    height: float = _shown(1.0, "raster height against the full mask")
    width: float = _shown(1.0, "raster width against the full mask")
    vertical_nonlinearity: float = _shown(0.0, "top stretched positive, bottom stretched negative, fraction")
    horizontal_nonlinearity: float = _shown(0.0, "left stretched positive, right stretched negative, fraction")
    fold_top: float = _shown(0.0, "part of the height folded over at the top")
    fold_bottom: float = _shown(0.0, "part of the height folded over at the bottom")
    fold_left: float = _shown(0.0, "part of the width folded over at the left")
    fold_right: float = _shown(0.0, "part of the width folded over at the right")
    shift_vertical: float = _shown(0.0, "centre moved up, in raster heights")
    shift_horizontal: float = _shown(0.0, "centre moved right, in raster widths")
    keystone_vertical: float = _shown(0.0, "one side higher than the other, fraction")
    keystone_horizontal: float = _shown(0.0, "top wider than the bottom, fraction")
    mirrored: float = _shown(0.0, "1 where left and right are exchanged")
    upside_down: float = _shown(0.0, "1 where top and bottom are exchanged")
    # vertical sync
    roll_hz: float = _shown(0.0, "screens a second that the picture rolls, up positive; 0 when locked")
    vertical_jitter: float = _shown(0.0, "unrest up and down, in raster heights")
    interlace_error: float = _shown(0.0, "pairing of lines, 0 good, 1 paired")
    hold_low_hz: float = _shown(54.0, "lowest field rate that the hold control reaches, free running")
    hold_high_hz: float = _shown(66.0, "highest field rate that the hold control reaches, free running")
    vertical_sync: float = _shown(1.0, "vertical sync at the oscillator against a healthy set")
    # horizontal sync
    line_error_hz: float = _shown(0.0, "line oscillator minus line rate, 0 when locked")
    line_phase: float = _shown(0.0, "picture locked but split by the bar, fraction of a line")
    line_tear: float = _shown(0.0, "sideways unrest of lines, in raster widths")
    top_bend: float = _shown(0.0, "bend of verticals at the top, in raster widths")
    hum_bend: float = _shown(0.0, "sideways waving of verticals at hum rate, in raster widths")
    line_hold_low_hz: float = _shown(15200.0, "lowest line rate that the hold control reaches, free running")
    line_hold_high_hz: float = _shown(16300.0, "highest line rate that the hold control reaches, free running")
    horizontal_sync: float = _shown(1.0, "line sync at the phase detector against a healthy set")
    sync_on_screen: float = _shown(1.0, "darkness of sync against blanking in the signal at the picture tube")
    # video
    contrast: float = _shown(1.0, "size of the picture signal at the tube; negative for a negative picture")
    smear: float = _shown(0.0, "trailing to the right of large areas, 0 to 1")
    sharpness: float = _shown(1.0, "video bandwidth against a healthy set")
    ringing: float = _shown(0.0, "repeated edges, 0 to 1")
    sweep_ringing: float = _shown(0.0, "stripes at the left from a sweep that rings after the retrace, 0 to 1")
    hum_bars: float = _shown(0.0, "number of dark bars across the picture")
    hum_depth: float = _shown(0.0, "depth of the hum bars against the picture signal")
    hum_drift_hz: float = _shown(0.0, "screens a second at which hum bars drift")
    snow: float = _shown(0.0, "noise in the picture, 0 to 1")
    snow_without_signal: float = _shown(1.0, "noise on a channel without signal, 1 in a healthy set")
    sound_in_picture: float = _shown(0.0, "bars that dance with the sound, 0 to 1")
    overload: float = _shown(0.0, "black and crushed sync through overload, 0 to 1")
    # sound, smell, heat
    sound: float = _shown(1.0, "loudness of the wanted sound")
    sound_hum: float = _shown(0.0, "hum in the loudspeaker, 0 to 1")
    sound_buzz: float = _shown(0.0, "intercarrier buzz, 0 to 1")
    whistle: float = _shown(1.0, "line-rate whistle, 0 none, 1 normal")
    heaters_lit: float = _shown(1.0, "share of the tubes whose heaters glow")
    heaters_bright: float = _shown(1.0, "brightest heater against its rating")
    tube_heater: float = _shown(1.0, "heater volts of the picture tube against rating")
    warm_up: float = _shown(1.0, "time to a picture against normal")
    output_plate_glow: float = _shown(0.0, "red glow of the horizontal output plate, 0 to 1")
    rectifier_glow: float = _shown(0.0, "violet or red in the B+ rectifier, 0 to 1")
    gas_glow: float = _shown(0.0, "blue-violet haze between the electrodes of some tube, 0 to 1")
    high_voltage_filament: float = _shown(1.0, "glow of the high-voltage rectifier's filament")
    anode_v: float = _shown(14000.0, "anode voltage of the picture tube, volts")
    arcing: float = _shown(0.0, "sparks at the high-voltage parts, 0 to 1")
    corona: float = _shown(0.0, "hissing and ozone at the high-voltage parts, 0 to 1")
    burning: float = _shown(0.0, "smell or smoke of an overloaded part, 0 to 1")
    fuse_blown: float = _shown(0.0, "1 when the fuse has gone, and a new one goes too")
    unrest_tapped: float = _shown(0.0, "how much the fault answers to tapping tubes and moving leads, 0 to 1")
    unrest_control: float = _shown(0.0, "how much a control crackles and jumps when it is turned, 0 to 1")
    unrest_heat: float = _shown(0.0, "how much the fault comes and goes as the set warms, 0 to 1")
    b_plus: float = _shown(1.0, "B+ against a healthy set")
    supply_current: float = _shown(1.0, "mains current against a healthy set")


_HEALTHY = PictureState()
PICTURE: Mapping[str, Quantity] = MappingProxyType(
    {f.name: Quantity(getattr(_HEALTHY, f.name), str(f.metadata["meaning"])) for f in fields(PictureState)}
)
"""Every quantity of the picture state: its value in a healthy set and its meaning."""


def picture_of(picture: Mapping[str, Any], draw: int = 0) -> PictureState:
    """Return one draw of a simulated batch as a picture state.

    Args:
        picture: Arrays over draws by name of quantity, as :class:`Result` has them; what is missing is healthy.
        draw: Which of the sets.
    """
    found = {name: float(np.ravel(picture[name])[draw]) for name in PICTURE if name in picture}
    return PictureState(**found)
