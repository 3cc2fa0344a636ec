# SPDX-License-Identifier: MIT
"""The composite signal of a scanning standard: its sync pulses as events, and the whole of it as a series.

Time zero is the leading edge of the first broad pulse of the first field, which stands at the start of a line; the
second field follows half a line off.  Each field begins with its field blanking, so that the first begins
before zero.  Levels: sync tip 0, white 1.
Limits: edges without slope; no colour burst, no lines of test signal.
Sources: ccir-field-order, tektronix-465b, system-a-e-constants (keys in kb/sources/scanning.yaml).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.scanning import Standard
from backporch.engine.errors import OutOfRange

__all__ = [
    "BROAD",
    "EQUALIZING",
    "LINE",
    "CompositeVideo",
    "Picture",
    "SyncTrain",
    "composite_sync",
    "composite_video",
]

LINE, EQUALIZING, BROAD = 0, 1, 2
"""The kinds of sync pulses."""

Picture = float | Callable[[Array, Array], Array]
"""A grey from 0 black to 1 white, or the grey at places across and down the picture, both 0 to 1."""

_MOST_SAMPLES = 50_000_000


@dataclass(frozen=True)
class SyncTrain:
    """Sync pulses in order of time."""

    on_s: Array
    """Leading edges."""
    off_s: Array
    """Trailing edges."""
    kind: NDArray[np.int64]
    """:data:`LINE`, :data:`EQUALIZING` or :data:`BROAD`."""


@dataclass(frozen=True)
class CompositeVideo:
    """A composite signal in equal steps; each value is the mean over its step."""

    time_s: Array
    """Start of each step."""
    level: Array
    """0 sync tip, 1 white."""
    sample_s: float


@formula(
    "broad pulses from n * lines half-lines on, broad_count of them; equalizing_count half-lines before and after;"
    " line sync at the start of every other line"
)
def composite_sync(standard: Standard, fields: int = 2) -> SyncTrain:
    r"""Return the sync pulses of whole fields as edges.

    .. math:: t_{k,j} = \left(k \frac{N}{2} + \frac{j}{2}\right) T_H

    for pulse j of field k of N lines.  Between the groups there is a line sync at each start of a line.

    Args:
        standard: Scanning standard.
        fields: Fields, >= 1; the first starts at -field_lead_s.
    Returns:
        :class:`SyncTrain`.
    Raises:
        OutOfRange: Less than one field.
    Source: ccir-field-order and tektronix-465b for the order of pulses; widths as in the standard.
    Example: a frame of 625 lines has 30 pulses of the field sync; they take the place of 15 line syncs.
        >>> from backporch.engine.circuits.scanning import standard
        >>> train = composite_sync(standard("625/50"))
        >>> [int((train.kind == kind).sum()) for kind in (LINE, EQUALIZING, BROAD)]
        [610, 20, 10]
    """
    if fields < 1:
        raise OutOfRange(f"fields is {fields}; expected one or more.")
    s = standard
    lead = s.field_lead_s / s.half_line_s
    halves = np.arange(int(np.ceil(-lead)), int(np.ceil(fields * s.lines - lead)))
    field = np.floor((halves + lead) / s.lines).astype(np.int64)
    place = halves - field * s.lines
    kind = _kinds(s, halves, place)
    keep = kind >= 0
    on = np.asarray(halves[keep] * s.half_line_s, dtype=np.float64)
    width = np.array([s.line_sync_s, s.equalizing_s, s.broad_s])[kind[keep]]
    return SyncTrain(on, on + width, kind[keep])


def _kinds(s: Standard, halves: NDArray[np.int64], place: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the kind of pulse at each half-line, -1 for none; ``place`` counts from the first broad one."""
    broad = (place >= 0) & (place < s.broad_count)
    near = (place >= -s.equalizing_count) & (place < s.broad_count + s.equalizing_count)
    usual = np.where(halves % 2 == 0, LINE, -1)
    return np.asarray(np.where(broad, BROAD, np.where(near, EQUALIZING, usual)), dtype=np.int64)


@formula("0 while sync, blanking_level while blanking, black_level + grey * (1 - black_level) else")
def composite_video(
    standard: Standard, fields: int = 2, sample_s: float = 1e-7, picture: Picture = 0.5
) -> CompositeVideo:
    r"""Return the composite signal of whole fields as a time series.

    .. math:: v_i = \frac{1}{\Delta t} \int_{t_i}^{t_i + \Delta t} v(t)\, dt

    so that the area under any pulse is exact whatever the step.

    Args:
        standard: Scanning standard.
        fields: Fields, >= 1; the series starts at -field_lead_s.
        sample_s: Step [s], > 0.
        picture: Grey 0 to 1, or a function of the place across and down, see :data:`Picture`.
    Returns:
        :class:`CompositeVideo`.
    Raises:
        OutOfRange: Less than one field, no positive step, or more than 50 million steps.
    Valid: the picture itself is taken in the middle of each step.
    Source: levels and times as in the standard.
    Example: the mean of a white line of 625 lines, worked by hand: (52 + 7.3 * 0.3) / 64.
        >>> from backporch.engine.circuits.scanning import standard
        >>> made = composite_video(standard("625"), 1, 1e-6, 1.0)
        >>> line = (made.time_s > 0.0099999) & (made.time_s < 0.0100639)
        >>> round(float(made.level[line].mean()), 4), round((52 + 7.3 * 0.3) / 64, 4)
        (0.8467, 0.8467)
    """
    (step,) = (float(plain(value)) for value in positive(sample_s=sample_s))
    train = composite_sync(standard, fields)
    count = round(fields * standard.field_s / step)
    if count > _MOST_SAMPLES:
        raise OutOfRange(f"sample_s is {step:g}; expected at most {_MOST_SAMPLES} steps in {fields} fields.")
    edges = np.asarray(-standard.field_lead_s + step * np.arange(count + 1), dtype=np.float64)
    sync = _share_within(edges, train.on_s, train.off_s)
    blank = _share_within(edges, *_blanking(standard, fields))
    grey = _picture_level(standard, edges[:-1] + 0.5 * step, picture)
    level = np.maximum(blank - sync, 0.0) * standard.blanking_level + (1.0 - blank) * grey
    return CompositeVideo(edges[:-1], level, step)


def _blanking(s: Standard, fields: int) -> tuple[Array, Array]:
    """Return start and end of each stretch of line or field blanking, joined where they touch."""
    first = int(np.floor(-s.field_lead_s / s.line_s)) - 1
    lines = s.line_s * np.arange(first, int(np.ceil(0.5 * fields * s.lines)) + 2) - s.front_porch_s
    tops = s.field_s * np.arange(fields + 1) - s.field_lead_s
    on = np.concatenate([lines, tops])
    off = np.concatenate([lines + s.line_blanking_s, tops + s.field_blanking_s])
    order = np.argsort(on, kind="stable")
    on, reached = on[order], np.maximum.accumulate(off[order])
    fresh = np.concatenate([[True], on[1:] > reached[:-1]])
    ends = np.concatenate([np.flatnonzero(fresh)[1:] - 1, [on.size - 1]])
    return on[fresh], reached[ends]


def _share_within(edges: Array, on: Array, off: Array) -> Array:
    """Return which share of each step lies in stretches that do not overlap."""
    corners = np.column_stack([on, off]).ravel()
    spent = np.column_stack([np.zeros_like(on), off - on]).ravel().cumsum()
    inside = np.interp(edges, corners, spent)
    share = np.diff(inside) / np.diff(edges)
    return np.asarray(np.clip(share, 0.0, 1.0), dtype=np.float64)


def _picture_level(s: Standard, time: Array, picture: Picture) -> Array:
    if isinstance(picture, int | float):
        grey: Array = np.asarray(float(picture))
    else:
        field = np.floor((time + s.field_lead_s) / s.field_s)
        down = (time + s.field_lead_s - field * s.field_s - s.field_blanking_s) / (s.field_s - s.field_blanking_s)
        across = (np.mod(time, s.line_s) - s.sync_to_picture_s) / s.active_line_s
        grey = np.asarray(picture(np.clip(across, 0.0, 1.0), np.clip(down, 0.0, 1.0)), dtype=np.float64)
    return s.black_level + np.clip(grey, 0.0, 1.0) * (1.0 - s.black_level)
