# SPDX-License-Identifier: MIT
"""The discrete observations of a set: looks, sounds, controls turned, things exchanged.

Each is a function of a simulation that returns the index of its outcome for every draw.  What a person
may get wrong is not in here; the dictionary mixes that in.
Limits: an exchanged or tested part answers for itself alone; masked second faults are not revealed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from backporch.engine.errors import UnknownWord

if TYPE_CHECKING:
    from backporch.engine.chassis.simulator.bench import Result

__all__ = ["OBSERVATIONS", "PER_TARGET", "observe", "outcomes_of"]

Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]

_NEON_AC_V, _NEON_DC_V = 65.0, 90.0
"""What a small neon lamp strikes at, alternating (rms) and direct; common practice, no source [V]."""

OBSERVATIONS: dict[str, tuple[str, ...]] = {
    "blanking-bar": ("sync-darker", "same-grey", "not-visible"),
    "vertical-hold-turn": ("locks", "stops-but-slips", "cannot-stop", "no-effect"),
    "height-turn": ("changes", "no-effect"),
    "vertical-linearity-turn": ("changes", "no-effect"),
    "horizontal-hold-turn": ("locks", "straight-for-a-moment", "cannot-reach", "no-effect"),
    "brightness-turn": ("normal", "always-bright", "always-dark", "no-effect"),
    "contrast-turn": ("normal", "no-effect", "upsets-sync"),
    "focus-turn": ("sharpens", "no-effect"),
    "width-turn": ("changes", "no-effect"),
    "heaters-look": ("all-lit", "all-dark", "one-dark", "some-dark", "some-too-bright"),
    "picture-tube-heater-look": ("lit", "dark", "too-bright"),
    "output-plate-look": ("normal", "red"),
    "rectifier-look": ("normal", "violet", "dark"),
    "high-voltage-filament-look": ("lit", "dark"),
    "static-on-glass": ("present", "absent"),
    "whistle-listen": ("heard", "not-heard", "wrong-pitch"),
    "sound-listen": ("good", "weak", "hum", "buzz", "none"),
    "free-channel-look": ("snow", "blank", "dark"),
    "hum-bars-count": ("none", "one", "two"),
    "raster-shape-look": ("full", "short", "narrow", "small", "line-across", "line-down", "none"),
    "burnt-parts-look": ("nothing", "something"),
    "source-exchange": ("cured", "same"),
    "lead-wiggle": ("changes", "same"),
    "agc-clamp": ("cured", "better", "same"),
    "afc-ground": ("steadies", "drifts-through", "cannot-reach", "same"),
    "ion-trap-move": ("brighter", "same"),
    "tap-tubes": ("changes", "same"),
    "control-wiggle": ("changes", "same"),
    "lamp-limiter": ("bright", "bright-then-dim", "dull"),
    "lead-off": ("goes", "stays"),
    "feeds-lifted": ("no-short", "tuner", "video", "sync", "horizontal", "vertical", "stays"),
    "stages-silenced": ("stays", "goes-at-the-video", "goes-at-the-if"),
    "neon-at-mains": ("glows", "dark"),
    "neon-at-reservoir": ("glows", "dark"),
    "neon-at-b-plus": ("glows", "dark"),
    "neon-at-rail-tuner": ("glows", "dark"),
    "neon-at-rail-video": ("glows", "dark"),
    "neon-at-rail-horizontal": ("glows", "dark"),
    "neon-at-rail-vertical": ("glows", "dark"),
    "neon-at-heater-string-1": ("glows", "dark"),
    "neon-at-heater-string-5": ("glows", "dark"),
    "neon-at-heater-string-8": ("glows", "dark"),
    "neon-at-heater-string-9": ("glows", "dark"),
    "neon-at-heater-string-13": ("glows", "dark"),
    "neon-near-the-cage": ("glows", "dark"),
}
"""Every observation of the whole set with its outcomes."""

PER_TARGET: dict[str, tuple[str, ...]] = {
    "exchange-tube": ("cured", "changed", "same"),
    "part-test": ("bad", "good"),
    "tube-test": ("bad", "good"),
}
"""Observations that are made on one tube or one part, with their outcomes."""


def outcomes_of(name: str) -> tuple[str, ...]:
    """Return the outcomes of an observation.

    Raises:
        UnknownWord: there is none of that name.
    """
    known = {**OBSERVATIONS, **PER_TARGET}
    if name not in known:
        raise UnknownWord("observation", name, known)
    return known[name]


def observe(name: str, result: Result) -> Indices:
    """Return the index of the outcome of an observation for each draw.

    Raises:
        UnknownWord: there is no such observation of the whole set.
    """
    if name not in OBSERVATIONS:
        raise UnknownWord("observation", name, OBSERVATIONS)
    return np.asarray(_FUNCTIONS[name](result), dtype=np.intp)


def _first(*flags: Flags) -> Indices:
    """Return the index of the first flag that is set; the number of flags where none is."""
    stack = np.vstack([*flags, np.ones_like(flags[0])])
    return np.asarray(np.argmax(stack, axis=0), dtype=np.intp)


def _lit(r: Result) -> Flags:
    """Return where there is light, if need be with the brightness control turned up."""
    return np.asarray(r.picture["brightness_most"] > 0.06)


def _raster(r: Result) -> Flags:
    return np.asarray(_lit(r) & (r.picture["height"] > 0.08) & (r.picture["width"] > 0.08))


def _blanking_bar(r: Result) -> Indices:
    p = r.picture
    seen = _raster(r) & (np.abs(p["contrast"]) > 0.12)
    return np.where(~seen, 2, np.where(p["sync_on_screen"] > 0.45, 0, 1))


def _vertical_hold(r: Result) -> Indices:
    p, rate = r.picture, r.inner["field_hz"]
    low, high = p["hold_low_hz"], p["hold_high_hz"]
    dead = (p["height"] < 0.05) | (high - low < 0.02 * rate) | ~_lit(r)
    reaches = (low < rate * 1.005) & (high > rate * 0.995)
    locks = reaches & (p["vertical_sync"] > 0.3) & (p["vertical_jitter"] < 0.05)
    return _first(locks & ~dead, reaches & ~dead, ~dead)


def _height_turn(r: Result) -> Indices:
    return np.where((r.picture["height"] > 0.05) & _lit(r) & (r.inner["height_range"] > 0.05), 0, 1)


def _linearity_turn(r: Result) -> Indices:
    return np.where((r.picture["height"] > 0.05) & _lit(r) & (r.inner["linearity_range"] > 0.05), 0, 1)


def _horizontal_hold(r: Result) -> Indices:
    p, rate = r.picture, r.inner["line_hz"]
    low, high = p["line_hold_low_hz"], p["line_hold_high_hz"]
    dead = ~_raster(r) | (high - low < 0.004 * rate)
    reaches = (low < rate * 1.004) & (high > rate * 0.996)
    locks = reaches & (p["horizontal_sync"] > 0.25) & (r.inner["afc_pull"] > 0.2)
    return _first(locks & ~dead, reaches & ~dead, ~dead)


def _brightness_turn(r: Result) -> Indices:
    p = r.picture
    most, least = p["brightness_most"], p["brightness_least"]
    dark, bright = most < 0.15, least > 0.5
    still = most - least < 0.15
    return _first(~dark & ~bright & ~still, bright, dark)


def _contrast_turn(r: Result) -> Indices:
    p = r.picture
    upsets = (p["overload"] > 0.4) | (r.inner["sync_at_full_contrast"] < 0.3)
    still = (r.inner["contrast_range"] < 0.15) | (np.abs(p["contrast"]) < 0.08) | ~_raster(r)
    return np.where(still, 1, np.where(upsets, 2, 0))


def _focus_turn(r: Result) -> Indices:
    return np.where(_lit(r) & (r.inner["focus_range"] > 0.3), 0, 1)


def _width_turn(r: Result) -> Indices:
    return np.where((r.picture["width"] > 0.08) & _lit(r) & (r.inner["width_range"] > 0.02), 0, 1)


def _heaters(r: Result) -> Indices:
    lit, bright = r.picture["heaters_lit"], r.picture["heaters_bright"]
    dark_tubes = r.inner["heaters_dark"]
    return np.select([lit < 0.02, bright >= 1.18, dark_tubes < 0.5, dark_tubes < 1.5], [1, 4, 0, 2], 3)


def _tube_heater(r: Result) -> Indices:
    heater = r.picture["tube_heater"]
    return np.where(heater < 0.5, 1, np.where(heater > 1.25, 2, 0))


def _plate_look(r: Result) -> Indices:
    return np.where(r.picture["output_plate_glow"] > 0.5, 1, 0)


def _rectifier_look(r: Result) -> Indices:
    return np.select([r.picture["rectifier_glow"] > 0.5, r.inner["rectifier_heater"] < 0.5], [1, 2], 0)


def _filament(r: Result) -> Indices:
    return np.where(r.picture["high_voltage_filament"] > 0.5, 0, 1)


def _static(r: Result) -> Indices:
    return np.where(r.picture["anode_v"] > 0.3 * r.inner["nominal_anode_v"], 0, 1)


def _whistle(r: Result) -> Indices:
    off = np.abs(r.picture["line_error_hz"]) > 0.08 * r.inner["line_hz"]
    return np.select([r.picture["whistle"] < 0.25, off], [1, 2], 0)


def _sound(r: Result) -> Indices:
    p = r.picture
    return np.select(
        [p["sound_hum"] > 0.4, p["sound"] < 0.08, p["sound_buzz"] > 0.4, p["sound"] < 0.5], [2, 4, 3, 1], 0
    )


def _free_channel(r: Result) -> Indices:
    return np.where(~_raster(r), 2, np.where(r.picture["snow_without_signal"] > 0.25, 0, 1))


def _hum_bars(r: Result) -> Indices:
    seen = _raster(r) & (r.picture["hum_depth"] > 0.06)
    return np.where(seen, np.clip(np.rint(r.picture["hum_bars"]), 0, 2), 0)


def _shape(r: Result) -> Indices:
    height, width = r.picture["height"], r.picture["width"]
    small_h, small_w = height < 0.9, width < 0.9
    return np.select(
        [~_lit(r), height < 0.08, width < 0.08, small_h & small_w, small_h, small_w], [6, 4, 5, 3, 1, 2], 0
    )


def _burnt(r: Result) -> Indices:
    return np.where(r.picture["burning"] > 0.5, 1, 0)


def _marked(name: str) -> Callable[[Result], Indices]:
    return lambda r: np.where(r.inner[name] > 0.5, 0, 1)


def _agc_clamp(r: Result) -> Indices:
    return np.select([r.inner["agc_clamp_cures"] > 0.8, r.inner["agc_clamp_cures"] > 0.3], [0, 1], 2)


def _afc_ground(r: Result) -> Indices:
    p, rate = r.picture, r.inner["line_hz"]
    low, high = p["line_hold_low_hz"], p["line_hold_high_hz"]
    reaches = (low < rate * 1.004) & (high > rate * 0.996)
    hunts = p["line_tear"] > 0.05
    out = np.abs(p["line_error_hz"]) > 20.0
    return np.select(
        [~_raster(r) | (p["horizontal_sync"] < 0.02) & ~reaches, ~reaches, hunts | out & reaches], [3, 2, 0], 1
    )


def _lamp(r: Result) -> Indices:
    current = r.picture["supply_current"]
    return np.select([r.inner["mains_short"] > 0.5, current > 1.7, current < 0.35], [0, 0, 2], 1)


def _feeds(r: Result) -> Indices:
    feed = np.rint(r.inner["cold_short_feed"])
    return np.where(r.inner["cold_short"] < 0.5, 0, np.where(feed < 0.5, 6, feed))


def _silenced(r: Result) -> Indices:
    """Say at which stage a hum bar goes: its largest share decides; what comes in by rail or tube stays."""
    video, ahead = r.inner["hum_video_v"], r.inner["hum_ahead_v"]
    larger = np.maximum(video, ahead) > r.inner["hum_rail_v"] + 0.2 * r.inner["b_plus_ripple"]
    seen = larger & (r.picture["hum_depth"] > 0.06)
    return np.where(~seen, 0, np.where(video > ahead, 1, 2))


def _neon(key: str, strikes_v: float) -> Callable[[Result], Indices]:
    """Return what a neon tester shows at "point.quantity" that strikes at some voltage [V]; dark without one."""
    return lambda r: np.where(np.abs(r.values.get(key, 0.0 * r.picture["whistle"])) > strikes_v, 0, 1)


def _neon_near_the_cage(r: Result) -> Indices:
    """Say whether the field of the retrace pulses lights a lamp: at half the usual scan and more."""
    return np.where(r.picture["whistle"] > 0.5, 0, 1)


_FUNCTIONS: dict[str, Callable[[Result], Indices]] = {
    "blanking-bar": _blanking_bar,
    "vertical-hold-turn": _vertical_hold,
    "height-turn": _height_turn,
    "vertical-linearity-turn": _linearity_turn,
    "horizontal-hold-turn": _horizontal_hold,
    "brightness-turn": _brightness_turn,
    "contrast-turn": _contrast_turn,
    "focus-turn": _focus_turn,
    "width-turn": _width_turn,
    "heaters-look": _heaters,
    "picture-tube-heater-look": _tube_heater,
    "output-plate-look": _plate_look,
    "rectifier-look": _rectifier_look,
    "high-voltage-filament-look": _filament,
    "static-on-glass": _static,
    "whistle-listen": _whistle,
    "sound-listen": _sound,
    "free-channel-look": _free_channel,
    "hum-bars-count": _hum_bars,
    "raster-shape-look": _shape,
    "burnt-parts-look": _burnt,
    "source-exchange": _marked("mark_source"),
    "lead-wiggle": _marked("mark_contact"),
    "agc-clamp": _agc_clamp,
    "afc-ground": _afc_ground,
    "ion-trap-move": _marked("mark_ion_trap"),
    "tap-tubes": _marked("mark_tap"),
    "control-wiggle": _marked("mark_control"),
    "lamp-limiter": _lamp,
    "lead-off": _marked("mark_source"),
    "feeds-lifted": _feeds,
    "stages-silenced": _silenced,
    "neon-at-mains": _neon("mains-at-set.rms", _NEON_AC_V),
    "neon-at-reservoir": _neon("reservoir.dc", _NEON_DC_V),
    "neon-at-b-plus": _neon("b-plus.dc", _NEON_DC_V),
    "neon-at-rail-tuner": _neon("rail-tuner.dc", _NEON_DC_V),
    "neon-at-rail-video": _neon("rail-video.dc", _NEON_DC_V),
    "neon-at-rail-horizontal": _neon("rail-horizontal.dc", _NEON_DC_V),
    "neon-at-rail-vertical": _neon("rail-vertical.dc", _NEON_DC_V),
    "neon-at-heater-string-1": _neon("heater-string-1.rms", _NEON_AC_V),
    "neon-at-heater-string-5": _neon("heater-string-5.rms", _NEON_AC_V),
    "neon-at-heater-string-8": _neon("heater-string-8.rms", _NEON_AC_V),
    "neon-at-heater-string-9": _neon("heater-string-9.rms", _NEON_AC_V),
    "neon-at-heater-string-13": _neon("heater-string-13.rms", _NEON_AC_V),
    "neon-near-the-cage": _neon_near_the_cage,
}
