# SPDX-License-Identifier: MIT
"""From the video plate to the electrodes of the picture tube: contrast, direct voltages, leaks, overload.

The overloaded video tube is a power law with cut-off, grid current and a knee, followed at sync tip, blanking
and white.
Limits: static; the bends of real tubes are softer than the corners here.
Sources: fcc-73-682-levels, terman-1943-amplifiers, coupling-leak-practice (keys in kb/sources/video.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula

__all__ = [
    "Slider",
    "VideoLevels",
    "black_shift_v",
    "contrast_slider",
    "drive_kept_share",
    "electrode_v",
    "plate_v",
    "slider_voltage",
    "video_levels",
]


@dataclass(frozen=True)
class Slider:
    """What a control hands on."""

    share: Number
    """Signal at the slider over that at the top of the control."""
    source_ohm: Number
    """Resistance that the slider looks back into: with the capacitance behind it, it blurs the picture."""


@formula(
    "share = lower / (upper + lower), upper = (1 - position) * track_ohm + feed_ohm,"
    " lower = position * track_ohm + end_ohm beside load_ohm"
)
def contrast_slider(
    position: Number,
    track_ohm: Number,
    load_ohm: Number = 1e12,
    feed_ohm: Number = 0.0,
    end_ohm: Number = 0.0,
) -> Slider:
    r"""Return the share of the video that a contrast control passes, and the resistance behind its slider.

    .. math::
        h = \frac{R_l}{R_u + R_l}, \quad R_u = (1 - p) R + R_f, \quad R_l = (p R + R_e) \parallel R_L

    Args:
        position: Place of the slider, 0 least to 1 most contrast.
        track_ohm: Whole track [ohm], > 0.
        load_ohm: Resistance from the slider to chassis [ohm], > 0; a leaky part there is the same.
        feed_ohm: Resistance before the top of the track, a bad contact included [ohm], >= 0.
        end_ohm: Resistance below the track; 1e9 is an open lower end: contrast stays full [ohm], >= 0.
    Returns:
        :class:`Slider`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the video comes from a low resistance.  A control in the cathode is ``video.stage_gain`` with its
        part that is not bypassed.
    Source: divider.
    Example: a track of 5 k half way up, nothing behind it, worked by hand.
        >>> found = contrast_slider(0.5, 5e3)
        >>> round(found.share, 3), round(found.source_ohm)
        (0.5, 1250)
    """
    (place,) = share(position=position)
    track, load = positive(track_ohm=track_ohm, load_ohm=load_ohm)
    feed, end = not_negative(feed_ohm=feed_ohm, end_ohm=end_ohm)
    upper = (1.0 - place) * track + feed
    bottom = place * track + end
    lower = bottom * load / (bottom + load)
    whole = upper + lower
    return Slider(plain(lower / whole), plain(upper * lower / whole))


@formula("supply_v * (position * track_ohm + end_ohm) / (feed_ohm + track_ohm + end_ohm)")
def slider_voltage(
    supply_v: Number, feed_ohm: Number, track_ohm: Number, position: Number, end_ohm: Number = 0.0
) -> Number:
    r"""Return the direct voltage at the slider of a brightness control that carries no current.

    .. math:: V = V_B \frac{p R + R_e}{R_f + R + R_e}

    Args:
        supply_v: Supply of the control [V], of either sign.
        feed_ohm: Resistor between supply and track [ohm], >= 0.
        track_ohm: Track [ohm], > 0.
        position: Place of the slider, 0 at the lower end to 1.
        end_ohm: Resistor below the track [ohm], >= 0; 1e9 is an open lower end.
    Returns:
        Voltage [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: divider.
    Example: 100 k fed from 250 V by 150 k, half way, worked by hand.
        >>> slider_voltage(250.0, 150e3, 100e3, 0.5)
        50.0
    """
    (supply,) = any_sign(supply_v=supply_v)
    feed, end = not_negative(feed_ohm=feed_ohm, end_ohm=end_ohm)
    (track,) = positive(track_ohm=track_ohm)
    (place,) = share(position=position)
    return plain(supply * (place * track + end) / (feed + track + end))


@formula("(set_v * leak_ohm + leak_to_v * source_ohm) / (source_ohm + leak_ohm)")
def electrode_v(set_v: Number, source_ohm: Number, leak_to_v: Number = 0.0, leak_ohm: Number = 1e12) -> Number:
    r"""Return the direct voltage of an electrode whose coupling capacitor, or other part, leaks.

    .. math:: V = \frac{V_0 R_l + V_l R_s}{R_s + R_l}

    A leaky coupling from the video plate lifts a cathode (the picture darkens) or a grid (it brightens, and
    brightness then moves with contrast).

    Args:
        set_v: Voltage without the leak [V], of either sign.
        source_ohm: Resistance of the electrode's own supply [ohm], >= 0; 1e9 is an open feed.
        leak_to_v: Voltage at the far end of the leak [V], of either sign.
        leak_ohm: Leakage [ohm], > 0.
    Returns:
        Voltage [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: divider; coupling-leak-practice for the sizes.
    Example: 10 M, then 50 M, from 200 V into a resistor of 1 M, worked by hand.
        >>> [round(electrode_v(0.0, 1e6, 200.0, leak), 1) for leak in (10e6, 50e6)]
        [18.2, 3.9]
    """
    volts, far = any_sign(set_v=set_v, leak_to_v=leak_to_v)
    (source,) = not_negative(source_ohm=source_ohm)
    (leak,) = positive(leak_ohm=leak_ohm)
    return plain((volts * leak + far * source) / (source + leak))


@formula("leak_ohm / (leak_ohm + source_ohm)")
def drive_kept_share(source_ohm: Number, leak_ohm: Number) -> Number:
    r"""Return the share of the drive that is left where a leak or short lies across it.

    .. math:: h = \frac{R_l}{R_l + R_s}

    Args:
        source_ohm: Resistance that the video comes from: load, control and series resistors [ohm], >= 0.
        leak_ohm: Grid to cathode, heater to cathode, or other leak across the drive [ohm], > 0.
    Returns:
        Share, 0 to 1, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the far end of the leak is at rest for video: a heater fed through a filter or an insulated winding
        lets more through.
    Source: divider.
    Example: a short of 100 ohm on 4.7 k, worked by hand.
        >>> round(drive_kept_share(4700.0, 100.0), 3)
        0.021
    """
    (source,) = not_negative(source_ohm=source_ohm)
    (leak,) = positive(leak_ohm=leak_ohm)
    return plain(leak / (leak + source))


@formula("max(0, supply_v - load_ohm * plate_a)")
def plate_v(supply_v: Number, load_ohm: Number, plate_a: Number) -> Number:
    r"""Return the direct voltage of the video plate, which a direct-coupled picture tube sees as its bias.

    .. math:: V_p = V_B - R I_p

    Args:
        supply_v: Supply of the stage [V], >= 0.
        load_ohm: Plate load with its coils and decoupling [ohm], >= 0.
        plate_a: Plate current [A], >= 0; 0 for a dead tube: the plate rises to the supply, and a cathode
            coupled to it is driven to cut-off.
    Returns:
        Voltage [V], float or array.
    Raises:
        OutOfRange: An argument is negative.
    Source: Ohm's law.
    Example: 250 V, 3.9 k, 20 mA, worked by hand.
        >>> round(plate_v(250.0, 3900.0, 20e-3))
        172
    """
    supply, load, current = not_negative(supply_v=supply_v, load_ohm=load_ohm, plate_a=plate_a)
    return plain(np.maximum(supply - load * current, 0.0))


@formula("video_v * (1 - direct_share) * (usual_share - average_share)")
def black_shift_v(
    video_v: Number, average_share: Number, direct_share: Number = 0.0, usual_share: Number = 0.5
) -> Number:
    r"""Return how far black moves towards white where the direct component of the video is lost.

    .. math:: \Delta V = V (1 - d) (a_0 - a)

    Args:
        video_v: Video from black to white [V], >= 0.
        average_share: Average brightness of the scene, 0 black to 1 white.
        direct_share: Share of the direct component that comes through: 0 a capacitor alone, 1 direct coupling
            or a restorer, between them a resistor across the capacitor.
        usual_share: Average brightness for which the control was set, 0 to 1.
    Returns:
        Shift [V], above 0 brighter: dark scenes turn grey; float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: sync and blanking left out: about a sixth less in the whole signal.
    Source: common practice, no source; a capacitor passes no mean value.
    Example: 80 V of video set for a half-bright scene, now a dark one, worked by hand.
        >>> round(black_shift_v(80.0, 0.1))
        32
    """
    (video,) = not_negative(video_v=video_v)
    average, direct, usual = share(average_share=average_share, direct_share=direct_share, usual_share=usual_share)
    return plain(video * (1.0 - direct) * (usual - average))


@dataclass(frozen=True)
class VideoLevels:
    """The plate of the video tube over one line."""

    tip_v: Number
    """Plate voltage at the sync tip."""
    blank_v: Number
    """Plate voltage at blanking."""
    white_v: Number
    """Plate voltage at white."""
    sync_share: Number
    """Sync over the whole of sync and picture at the plate."""
    crush_share: Number
    """Share of the sync that has been crushed, 0 none to 1 all; below 0 where the picture is crushed more."""


@formula(
    "plate_v = supply_v - load_ohm * min(zero_bias_a * (1 + grid_v / cut_off_v)**1.5,"
    " (supply_v - knee_v) / load_ohm), grid_v = bias_v + polarity * detected_v * level"
)
def video_levels(
    detected_v: Number,
    bias_v: Number,
    cut_off_v: Number,
    zero_bias_a: Number,
    supply_v: Number,
    load_ohm: Number,
    knee_v: Number = 30.0,
    polarity: Number = -1.0,
    grid_source_ohm: Number = 4e3,
    tip_share: Number = 1.0,
    blank_share: Number = 0.75,
    white_share: Number = 0.125,
) -> VideoLevels:
    r"""Return what a video tube, overloaded or not, makes of sync tip, blanking and white.

    .. math::
        V = V_B - R \min\!\left(I_0 \left(1 + V_g/V_c\right)_+^{3/2}, \frac{V_B - V_k}{R}\right), \quad
        V_g = V_b + p\, V_d\, s

    with the grid held near zero by its own current where it would go positive.

    Args:
        detected_v: Detected voltage at the peak of the carrier [V], >= 0.
        bias_v: Grid to cathode without signal [V], of either sign; a leaky coupling makes it less negative.
        cut_off_v: Grid voltage at cut-off, as a magnitude [V], > 0; it follows the screen voltage.
        zero_bias_a: Plate current at zero bias, emission included [A], >= 0.
        supply_v: Plate supply [V], >= 0.
        load_ohm: Plate load at low frequencies [ohm], > 0.
        knee_v: Least plate voltage of the tube [V], >= 0.
        polarity: -1 where more carrier drives the grid negative (sync tips towards cut-off), +1 the other way.
        grid_source_ohm: Resistance that the grid is fed from [ohm], >= 0.
        tip_share: Carrier at the sync tip, over its peak, 0 to 1.
        blank_share: Carrier at blanking.
        white_share: Carrier at white.  Positive modulation: 0, 0.3 and 1.
    Returns:
        :class:`VideoLevels`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a pentode above its knee; within the accuracy of a power law fitted at zero bias and cut-off.
    Source: fcc-73-682-levels (blanking 75 %, white 12.5 % of the peak carrier); terman-1943-amplifiers (tube law).
    Example: 3 V on a tube cut off at 6 V keeps most of the sync; 7 V puts it all beyond cut-off.
        >>> good = video_levels(3.0, -1.5, 6.0, 40e-3, 250.0, 3900.0)
        >>> bad = video_levels(7.0, -1.5, 6.0, 40e-3, 250.0, 3900.0)
        >>> round(good.sync_share, 2), round(bad.sync_share, 2), round(bad.crush_share, 2)
        (0.24, 0.0, 1.0)
    """
    detected, emitted, supply, knee = not_negative(
        detected_v=detected_v, zero_bias_a=zero_bias_a, supply_v=supply_v, knee_v=knee_v
    )
    (source,) = not_negative(grid_source_ohm=grid_source_ohm)
    bias, turned = any_sign(bias_v=bias_v, polarity=polarity)
    cut_off, load = positive(cut_off_v=cut_off_v, load_ohm=load_ohm)
    most = np.maximum(supply - knee, 0.0) / load
    levels = share(tip_share=tip_share, blank_share=blank_share, white_share=white_share)

    def plate(level: Array) -> Array:
        wanted = bias + turned * detected * level
        grid = np.minimum(wanted, 0.0) + np.maximum(wanted, 0.0) * _GRID_OHM / (_GRID_OHM + source)
        current = emitted * np.maximum(1.0 + grid / cut_off, 0.0) ** 1.5
        return np.asarray(supply - load * np.minimum(current, most))

    tip, blank, white = (plate(level) for level in levels)
    kept = (tip - blank) / _away_from_zero(tip - white)
    sent = (levels[0] - levels[1]) / _away_from_zero(levels[0] - levels[2])
    return VideoLevels(
        plain(tip), plain(blank), plain(white), plain(kept), plain(1.0 - kept / _away_from_zero(sent))
    )


_GRID_OHM = 1e3
"""Resistance of a grid that draws current; from memory, to verify."""


def _away_from_zero(value: Array) -> Array:
    return np.where(np.abs(value) < 1e-9, 1e-9, value)
