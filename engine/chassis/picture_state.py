# SPDX-License-Identifier: MIT
"""What a simulated set shows to eyes, ears and nose: one number for each thing that can be noticed.

The same names are used by kb/picture_words (number -> symptom), by the raster renderer and by the
observations (looks and controls).  Each entry gives its value in a healthy set and its meaning.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PICTURE", "Quantity"]


@dataclass(frozen=True)
class Quantity:
    """One quantity of the picture state."""

    healthy: float
    meaning: str


PICTURE: dict[str, Quantity] = {
    # light
    "brightness": Quantity(1.0, "light at the present setting, 0 dark, 1 normal, above 2 glaring"),
    "brightness_most": Quantity(1.6, "most light that the brightness control can give"),
    "brightness_least": Quantity(0.0, "light with the brightness control fully down"),
    "focus_blur": Quantity(1.0, "diameter of the spot against a healthy one"),
    "blooming": Quantity(0.02, "growth of the picture from low to full brightness, as a fraction"),
    "retrace_lines": Quantity(0.0, "visibility of the retrace lines, 0 to 1"),
    "corner_shadow": Quantity(0.0, "share of the raster that the neck shadows"),
    "ion_burn": Quantity(0.0, "darkness of a burnt patch in the middle, 0 to 1"),
    "highlights_silver": Quantity(0.0, "flat silvery highlights of a worn-out gun, 0 to 1"),
    # size and shape
    "height": Quantity(1.0, "raster height against the full mask"),
    "width": Quantity(1.0, "raster width against the full mask"),
    "vertical_nonlinearity": Quantity(0.0, "top stretched positive, bottom stretched negative, fraction"),
    "horizontal_nonlinearity": Quantity(0.0, "left stretched positive, right stretched negative, fraction"),
    "fold_top": Quantity(0.0, "part of the height folded over at the top"),
    "fold_bottom": Quantity(0.0, "part of the height folded over at the bottom"),
    "fold_left": Quantity(0.0, "part of the width folded over at the left"),
    "fold_right": Quantity(0.0, "part of the width folded over at the right"),
    "shift_vertical": Quantity(0.0, "centre moved up, in raster heights"),
    "shift_horizontal": Quantity(0.0, "centre moved right, in raster widths"),
    "keystone_vertical": Quantity(0.0, "one side higher than the other, fraction"),
    "keystone_horizontal": Quantity(0.0, "top wider than the bottom, fraction"),
    # vertical sync
    "roll_hz": Quantity(0.0, "screens a second that the picture rolls, up positive; 0 when locked"),
    "vertical_jitter": Quantity(0.0, "unrest up and down, in raster heights"),
    "interlace_error": Quantity(0.0, "pairing of lines, 0 good, 1 paired"),
    "hold_low_hz": Quantity(54.0, "lowest field rate that the hold control reaches, free running"),
    "hold_high_hz": Quantity(66.0, "highest field rate that the hold control reaches, free running"),
    "vertical_sync": Quantity(1.0, "vertical sync at the oscillator against a healthy set"),
    # horizontal sync
    "line_error_hz": Quantity(0.0, "line oscillator minus line rate, 0 when locked"),
    "line_phase": Quantity(0.0, "picture locked but split by the bar, fraction of a line"),
    "line_tear": Quantity(0.0, "sideways unrest of lines, in raster widths"),
    "top_bend": Quantity(0.0, "bend of verticals at the top, in raster widths"),
    "hum_bend": Quantity(0.0, "sideways waving of verticals at hum rate, in raster widths"),
    "line_hold_low_hz": Quantity(15200.0, "lowest line rate that the hold control reaches, free running"),
    "line_hold_high_hz": Quantity(16300.0, "highest line rate that the hold control reaches, free running"),
    "horizontal_sync": Quantity(1.0, "line sync at the phase detector against a healthy set"),
    "sync_on_screen": Quantity(1.0, "darkness of sync against blanking in the signal at the picture tube"),
    # video
    "contrast": Quantity(1.0, "size of the picture signal at the tube; negative for a negative picture"),
    "smear": Quantity(0.0, "trailing to the right of large areas, 0 to 1"),
    "sharpness": Quantity(1.0, "video bandwidth against a healthy set"),
    "ringing": Quantity(0.0, "repeated edges, 0 to 1"),
    "hum_bars": Quantity(0.0, "number of dark bars across the picture"),
    "hum_depth": Quantity(0.0, "depth of the hum bars against the picture signal"),
    "hum_drift_hz": Quantity(0.0, "screens a second at which hum bars drift"),
    "snow": Quantity(0.0, "noise in the picture, 0 to 1"),
    "snow_without_signal": Quantity(1.0, "noise on a channel without signal, 1 in a healthy set"),
    "sound_in_picture": Quantity(0.0, "bars that dance with the sound, 0 to 1"),
    "overload": Quantity(0.0, "black and crushed sync through overload, 0 to 1"),
    # sound, smell, heat
    "sound": Quantity(1.0, "loudness of the wanted sound"),
    "sound_hum": Quantity(0.0, "hum in the loudspeaker, 0 to 1"),
    "sound_buzz": Quantity(0.0, "intercarrier buzz, 0 to 1"),
    "whistle": Quantity(1.0, "line-rate whistle, 0 none, 1 normal"),
    "heaters_lit": Quantity(1.0, "share of the tubes whose heaters glow"),
    "heaters_bright": Quantity(1.0, "brightest heater against its rating"),
    "tube_heater": Quantity(1.0, "heater volts of the picture tube against rating"),
    "warm_up": Quantity(1.0, "time to a picture against normal"),
    "output_plate_glow": Quantity(0.0, "red glow of the horizontal output plate, 0 to 1"),
    "rectifier_glow": Quantity(0.0, "violet or red in the B+ rectifier, 0 to 1"),
    "gas_glow": Quantity(0.0, "blue-violet haze between the electrodes of some tube, 0 to 1"),
    "high_voltage_filament": Quantity(1.0, "glow of the high-voltage rectifier's filament"),
    "anode_v": Quantity(14000.0, "anode voltage of the picture tube, volts"),
    "arcing": Quantity(0.0, "sparks at the high-voltage parts, 0 to 1"),
    "corona": Quantity(0.0, "hissing and ozone at the high-voltage parts, 0 to 1"),
    "burning": Quantity(0.0, "smell or smoke of an overloaded part, 0 to 1"),
    "fuse_blown": Quantity(0.0, "1 when the fuse has gone"),
    "unrest_tapped": Quantity(0.0, "how much the fault answers to tapping tubes and moving leads, 0 to 1"),
    "unrest_control": Quantity(0.0, "how much a control crackles and jumps when it is turned, 0 to 1"),
    "b_plus": Quantity(1.0, "B+ against a healthy set"),
    "supply_current": Quantity(1.0, "mains current against a healthy set"),
}
"""Every quantity of the picture state."""
