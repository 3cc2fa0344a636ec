# SPDX-License-Identifier: MIT
"""Where the beam stands at each moment: the sawtooth currents of both axes, with everything that may bend them.

Time runs in lines of the signal.  A line of the set begins with its retrace, and so does a field.
Limits: the retraces take the whole of the blanking; geometry is one number for each way in which it goes wrong.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.scanning import Standard
from backporch.engine.picture.signal import field_blanking_share, line_blanking_share, white_of_lines

__all__ = ["Beam", "beam_path"]

Array = NDArray[np.float64]
Samples = NDArray[np.float32]

_MOST_LINES = 12_000
_UNSEEN_TEAR = 0.01
"""Unrest of the lines, in raster widths, that the eye takes for snow; twice as much is seen as ragged edges."""
_MOVES_THE_BLANKING = ("line_error_hz", "line_phase", "line_tear", "top_bend", "hum_bend", "lean", "white_pull")


@dataclass(frozen=True)
class Beam:
    """The beam over a picture: one row for each line of the set, one column for each step within it."""

    time_lines: Samples
    """Place in the frame of the signal, in its lines."""
    across: Samples
    """Where each step starts and ends, 0 the left and 1 the right edge of the mask; one column more."""
    down: Samples
    """Height of each step, 0 the top and 1 the bottom of the mask."""
    flying_back: NDArray[np.bool_]
    """Whether the field retrace runs."""
    seconds: Array
    """When each line of the set begins."""
    share: Samples
    """Share of the line's time that each step takes."""
    scan_from: int
    """First step of a line after its retrace."""


def beam_path(
    of: Standard, look: Mapping[str, float], time_s: float, fields: int, columns: float, seed: int
) -> Beam:
    """Return where the beam goes during some fields of the set.

    Args:
        of: The scanning standard of the signal.
        look: A complete look.
        time_s: When the picture is taken; the first whole field after it is drawn.
        fields: Fields that are drawn.
        columns: Pixels across the mask; no step is longer than about one.
        seed: Seed of what is random.
    """
    line_hz = max(of.line_hz + look["line_error_hz"], 0.2 * of.line_hz)
    field_hz = min(max(of.field_hz - look["roll_hz"], 0.2 * of.field_hz), 5 * of.field_hz)
    first_field = np.ceil(time_s * field_hz - 1e-6)
    count = min(max(round(fields * line_hz / field_hz), 1), _MOST_LINES)
    lines = np.ceil(first_field / field_hz * line_hz - 1e-6) + np.arange(count)
    seconds = lines / line_hz
    edge = _edges(of, look, columns)
    step = 0.5 * (edge[:-1] + edge[1:])
    ahead = np.rint(look["rolled"] * of.lines / 2) + _late(of, look, seconds, seed)
    # Rounded so that the same picture comes back after whole frames.
    begun = np.round((seconds * of.line_hz + ahead) % of.lines, 6).astype(np.float32)
    turn = np.round(seconds * field_hz, 9)
    in_field = (turn % 1.0).astype(np.float32)[:, None] + edge * np.float32(field_hz / line_hz)
    x, _ = _sawtooth(edge, line_blanking_share(of))
    y, back = _sawtooth(in_field, field_blanking_share(of))
    x = _shaped(x, look["horizontal_nonlinearity"], look["fold_left"], look["fold_right"])
    y = _shaped(y, look["vertical_nonlinearity"], look["fold_top"], look["fold_bottom"])
    y = y + _unrest_down(of, look, turn, seed)[:, None]
    across, down = _placed(np.broadcast_to(_kinked(_rippled(x, look["sweep_ringing"]), look), y.shape), y, look)
    return Beam(
        time_lines=begun[:, None] + step * np.float32(of.line_hz / line_hz),
        across=across,
        down=down[:, :-1],
        flying_back=back[:, :-1],
        seconds=seconds,
        share=np.diff(edge),
        scan_from=int(np.searchsorted(edge, line_blanking_share(of))),
    )


def _edges(of: Standard, look: Mapping[str, float], columns: float) -> Samples:
    """Return where the steps of a line end, 0 to 1: even over the scan, finer in a retrace that can be seen."""
    blanked = line_blanking_share(of)
    across = columns * min(max(abs(look["width"]), 0.6), 6.0)
    scan = int(min(max(1.2 * across, 200), 8192))
    in_place = all(abs(look[name]) < 0.01 for name in _MOVES_THE_BLANKING)
    dark = in_place and look["contrast"] > 0.8 and look["brightness"] < 1.3
    flyback = int(min(max(1.6 * across, 16), 8192)) if not dark else max(scan // 5, 16)
    back = np.linspace(0, blanked, flyback, endpoint=False)
    return np.concatenate([back, np.linspace(blanked, 1, scan + 1)]).astype(np.float32)


def _sawtooth(phase: Samples, blanking: float) -> tuple[Samples, NDArray[np.bool_]]:
    """Return the place in the picture for a phase of 0 to 1, and whether it is the retrace."""
    back = np.float32(blanking)
    forward = (phase - back) / np.float32(1 - blanking)
    flying = (phase < back) | ((phase >= 1) & (phase < 1 + back))
    retrace = np.float32(0.5) * (1 + np.cos(np.float32(np.pi) * np.clip((phase % 1.0) / back, 0, 1)))
    return np.where(flying, retrace, forward).astype(np.float32), flying


def _shaped(place: Samples, uneven: float, fold_low: float, fold_high: float) -> Samples:
    """Stretch the low end (positive) or the high end, and fold what lies beyond the turning points back."""
    uneven = float(np.clip(uneven, -0.95, 0.95))
    bent = place + np.float32(uneven) * place * (1 - place)
    if fold_high > 0:
        bent = (1 - fold_high) - np.abs(bent - (1 - fold_high))
    if fold_low > 0:
        bent = fold_low + np.abs(bent - fold_low)
    return np.asarray(bent, dtype=np.float32)


def _rippled(x: Samples, ringing: float) -> Samples:
    """Return the place across when the sweep rings after the retrace: slower and faster by turns, dying out."""
    if ringing <= 0:
        return x
    along = np.maximum(x, 0)
    return x + np.float32(0.0062 * ringing) * np.sin(2 * np.pi * 17 * along) * np.exp(-along / np.float32(0.13))


def _kinked(x: Samples, look: Mapping[str, float]) -> Samples:
    """Return the place across where the sweep slows (bright, cramped) or hurries (dark) for a part of the line."""
    for place, wide, slow in (
        (0.42, 0.012, 0.96 * look["crease"]),
        (0.12, 0.003, -4.0 * look["dark_line"]),
        (0.5, 0.16, 0.5 * look["middle_cramp"]),
    ):
        if slow:
            ends = np.tanh((np.array([0.0, 1.0]) - place) / wide) * slow * wide
            bent = x - np.float32(slow * wide) * np.tanh((x - np.float32(place)) / np.float32(wide))
            x = ((bent + ends[0]) / np.float32(1 - ends[1] + ends[0])).astype(np.float32)
    return x


def _placed(x: Samples, y: Samples, look: Mapping[str, float]) -> tuple[Samples, Samples]:
    """Return the place on the screen: size, wedge, tilt and centring."""
    right, low = x - np.float32(0.5), y - np.float32(0.5)
    across = right * (np.float32(look["width"]) * (1 - np.float32(look["keystone_horizontal"]) * low))
    down = low * (np.float32(look["height"]) * (1 + np.float32(look["keystone_vertical"]) * right))
    if look["tilt"]:
        turn = np.deg2rad(look["tilt"])
        cos, sin = np.float32(np.cos(turn)), np.float32(np.sin(turn))
        across, down = cos * across - sin * np.float32(0.75) * down, sin * np.float32(4 / 3) * across + cos * down
    across = across + np.float32(0.5 + look["shift_horizontal"])
    down = down + np.float32(0.5 - look["shift_vertical"])
    return across.astype(np.float32), down.astype(np.float32)


def _unrest_down(of: Standard, look: Mapping[str, float], turn: Array, seed: int) -> Samples:
    """Return what moves whole fields up or down: jitter, and the second field falling on the first."""
    field = np.floor(turn + 1e-6).astype(int)
    moved = np.where(field % 2 == 1, look["interlace_error"] * -1.0 / of.lines, 0.0)
    if look["vertical_jitter"] > 0:
        chance = np.random.default_rng([seed, 3, int(field[0])])
        moved = (
            moved + chance.normal(0, look["vertical_jitter"], field.max() - field.min() + 1)[field - field.min()]
        )
    return np.asarray(moved, dtype=np.float32)


def _late(of: Standard, look: Mapping[str, float], seconds: Array, seed: int) -> Array:
    """Return how far the signal is ahead in each line of the set, in lines: phase, bends, tearing."""
    in_field = seconds * of.field_hz % 1.0
    whole = np.full(len(seconds), look["line_phase"])
    whole += look["top_bend"] * np.exp(-np.maximum(in_field - field_blanking_share(of), 0.0) / 0.07)
    whole += look["lean"] * (in_field - 0.5)
    if look["hum_bend"]:
        whole += 0.5 * look["hum_bend"] * np.sin(2 * np.pi * hum_cycles(of, look, seconds))
    if look["white_pull"]:
        whole += (
            look["white_pull"]
            * 4.0
            * white_of_lines(of.name)[np.rint(seconds * of.line_hz).astype(int) % of.lines]
        )
    torn = look["line_tear"] * float(np.clip((look["line_tear"] - _UNSEEN_TEAR) / _UNSEEN_TEAR, 0.0, 1.0))
    if torn > 0:
        whole += torn * _tears(len(seconds), seed, int(seconds[0] * of.field_hz))
    return whole


def hum_cycles(of: Standard, look: Mapping[str, float], seconds: Array) -> Array:
    """Return the phase of the hum in cycles: as many in a field as there are bars, and a slow drift."""
    bars = max(round(look["hum_bars"]), 1)
    return bars * of.field_hz * seconds + look["hum_drift_hz"] * seconds + look["hum_phase"]


def _tears(count: int, seed: int, when: int) -> Array:
    """Return sideways jumps of groups of lines, most of them of size 1."""
    chance = np.random.default_rng([seed, 5, when])
    jumps = np.zeros(count)
    for start in chance.integers(0, count, max(count // 22, 1)):
        length = int(chance.integers(2, 12))
        part = jumps[start : start + length]
        part += chance.normal(0, 1.0) * np.exp(-np.arange(len(part)) / 5.0)
    return jumps + 0.12 * chance.normal(0, 1.0, count)
