# SPDX-License-Identifier: MIT
"""The vertical integrator driven by the true sync of both fields: peak, residue, moment of triggering, interlace.

The ladder's exponentials are followed from edge to edge of the serrated waveform, the long runs of line sync as
geometric series, in steady repetition of the frame: exact, and for thousands of part values in one call.
Limits: square pulses; what the oscillator's grid draws counts as a resistance.
Sources: grob-basic-television for usual parts (key in kb/sources/sync.yaml); the rest is textbook networks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.scanning import Standard
from backporch.engine.circuits.scanning_waveform import BROAD, SyncTrain, composite_sync
from backporch.engine.circuits.sync_networks import Ladder, LadderModes, ladder_modes
from backporch.engine.errors import BadInput

__all__ = ["FieldPulse", "integrated_field_pulse", "integrator_waveform"]

_GRID = 8
_CREST_STEPS = 12
_TRIGGER_STEPS = 30
_PULSES_BEHIND = 8
"""Pulses behind the broad ones in which the end of a ladder may still rise."""


@dataclass(frozen=True)
class FieldPulse:
    """What leaves the integrator, field by field."""

    residue_v: Number
    """Greatest level in the line sync between the field pulses."""
    ripple_v: Number
    """Swing of the output at line rate there, peak to peak."""
    mean_v: Number
    """Mean over a frame; a coupling capacitor behind the ladder takes it away."""
    least_v: Number
    """Least level at a leading edge, anywhere in the frame."""
    first_before_v: Number
    """Greatest level between the last pulse in front of the broad ones and the first broad one, first field."""
    second_before_v: Number
    first_peak_v: Number
    second_peak_v: Number
    first_trigger_s: Number
    """From the first broad pulse until the trigger level is reached; time of the peak where it never is."""
    second_trigger_s: Number
    interlace_error_s: Number
    """Second trigger less first: below zero the second field starts early."""
    triggers: Number
    """1 where both fields reach the trigger level."""


@dataclass(frozen=True)
class _Beat:
    """A pulse and the gap behind it, ``times`` in a row."""

    pulse_s: float
    gap_s: float
    broad: bool
    times: int = 1


@dataclass(frozen=True)
class _Moment:
    """Where the output is highest, counted from a leading edge, and how high."""

    time: Array
    level: Array


@dataclass(frozen=True)
class _Output:
    """The end of the ladder, with what is left of each exponential after the few times that recur."""

    rate: Array
    weight: Array
    known: dict[float, Array] = field(default_factory=dict)

    def left(self, time: float) -> Array:
        """Return what is left of each exponential after a time."""
        if time not in self.known:
            self.known[time] = np.exp(-self.rate * time)
        return self.known[time]

    def passage(self, beat: _Beat) -> tuple[Array, Array]:
        """Return what a beat keeps of the state and what it adds to it."""
        pitch = beat.pulse_s + beat.gap_s
        once = -np.expm1(-self.rate * beat.pulse_s) * self.left(beat.gap_s)
        if beat.times == 1:
            return self.left(pitch), once
        row = np.expm1(-self.rate * pitch * beat.times) / np.expm1(-self.rate * pitch)
        return self.left(pitch * beat.times), once * row

    def of(self, state: Array) -> Array:
        """Return the voltage of a state."""
        return np.asarray(np.sum(self.weight * state, axis=0), dtype=np.float64)


@formula(
    "sum over the ladder of weight * x, dx/dt = rate * (sync - x), over both fields;"
    " trigger where it reaches trigger_v"
)
def integrated_field_pulse(
    ladder: Ladder,
    standard: Standard,
    pulse_v: Number = 1.0,
    broad_share: Number = 1.0,
    trigger_v: Number | None = None,
) -> FieldPulse:
    r"""Return peak, residue and trigger times of a vertical integrator for both fields.

    .. math::
        v(t) = \sum_m w_m x_m(t), \qquad \dot x_m = \lambda_m (s(t) - x_m)

    with s the sync of :func:`~backporch.engine.circuits.scanning_waveform.composite_sync`.

    Args:
        ladder: The parts, see :class:`~backporch.engine.circuits.sync_networks.Ladder`.
        standard: Scanning standard.
        pulse_v: Height of the sync into the integrator [V], >= 0.
        broad_share: Height of the broad pulses over that of the others, >= 0: what the separator leaves of them.
        trigger_v: Level at which the oscillator fires [V]; None for half of each field's own peak.
    Returns:
        :class:`FieldPulse`, its fields floats or arrays.
    Raises:
        OutOfRange: A part or an argument is out of its bounds.
        BadInput: Not one to three sections.
    Valid: exact for the linear network.  A fixed level gives a greater interlace error than the half of each
        field's own peak, since the second field starts from more residue and peaks higher.
    Source: textbook network; grob-basic-television for usual parts.
    Example: twice 22 k and 5 nF on 525 lines, 20 V of sync: the second field fires 1.15 us early.
        >>> from backporch.engine.circuits.scanning import standard
        >>> made = integrated_field_pulse(Ladder((22e3, 22e3), (5e-9, 5e-9)), standard("525/60"), 20.0)
        >>> round(made.first_peak_v, 2), round(made.residue_v, 2), round(made.interlace_error_s * 1e6, 2)
        (8.24, 1.52, -1.15)
    """
    modes = ladder_modes(ladder)
    height, share = not_negative(pulse_v=pulse_v, broad_share=broad_share)
    fires = None if trigger_v is None else any_sign(trigger_v=trigger_v)[0]
    batch = np.broadcast(modes.rate[0], height, share, 0.0 if fires is None else fires)
    output = _spread(modes, height, batch.shape)
    share = np.broadcast_to(share, batch.shape)
    beats = _beats(composite_sync(standard, 2), 2.0 * standard.field_s)
    states = _states(output, share, beats)
    first, second = (_field(output, share, beats, states, start, fires) for start in _broad_groups(beats))
    pairs = [value for pair in zip(first[:3], second[:3], strict=True) for value in pair]
    least = np.min([output.of(state) for state in states], axis=0)
    values = (
        *_line_residue(output, standard),
        _mean(output, share, beats),
        least,
        *pairs,
        second[2] - first[2],
        first[3] * second[3],
    )
    return FieldPulse(*(plain(np.array(value)) for value in np.broadcast_arrays(*values)))


@formula("sum over the ladder of weight * x, dx/dt = rate * (sync - x), at time_s")
def integrator_waveform(ladder: Ladder, standard: Standard, time_s: Array, pulse_v: float = 1.0) -> Array:
    r"""Return the output of one integrator at given times, in steady repetition of the frame.

    .. math:: v(t) = \sum_m w_m x_m(t), \qquad \dot x_m = \lambda_m (s(t) - x_m)

    Args:
        ladder: The parts, all single numbers.
        standard: Scanning standard.
        time_s: Times [s]; 0 is the first broad pulse of the first field.
        pulse_v: Height of the sync [V], >= 0.
    Returns:
        Voltages [V], an array shaped as the times.
    Raises:
        OutOfRange: A part is out of its bounds.
        BadInput: A part is an array.
    Source: textbook network.
    Example: 10 k and 5 nF at the end of the first broad pulse of 27.3 us: 42.1 % and what was there before.
        >>> from backporch.engine.circuits.scanning import standard
        >>> times = np.array([0.0, 27.302e-6])
        >>> start, end = integrator_waveform(Ladder((10e3,), (5e-9,)), standard("525"), times)
        >>> round(float(end - start * 0.579), 3)
        0.421
    """
    modes = ladder_modes(ladder)
    (height,) = not_negative(pulse_v=pulse_v)
    if modes.rate.ndim > 1 or height.ndim:
        raise BadInput("The ladder or pulse_v is an array; expected one network. Take one draw out of the batch.")
    train = composite_sync(standard, 2)
    beats = _beats(train, 2.0 * standard.field_s, together=False)
    start = np.array(_states(_spread(modes, height, ()), np.ones(()), beats))
    (time,) = any_sign(time_s=time_s)
    since_first = np.mod(time - train.on_s[0], 2.0 * standard.field_s)
    index = np.searchsorted(train.on_s - train.on_s[0], since_first, side="right") - 1
    into = (since_first - (train.on_s - train.on_s[0])[index])[..., None]
    width = (train.off_s - train.on_s)[index][..., None]
    x = 1.0 - (1.0 - start[index]) * np.exp(-modes.rate * np.minimum(into, width))
    return np.asarray(height * (x * np.exp(-modes.rate * np.maximum(into - width, 0.0))) @ modes.weight)


def _spread(modes: LadderModes, height: Array, shape: tuple[int, ...]) -> _Output:
    """Return the exponentials with the whole shape of the batch, the weights in volts."""
    count = modes.rate.shape[0]
    extra = (1,) * (len(shape) - modes.rate.ndim + 1)
    rate, weight = (array.reshape(count, *extra, *array.shape[1:]) for array in (modes.rate, modes.weight))
    full = (count, *shape)
    return _Output(np.array(np.broadcast_to(rate, full)), np.array(np.broadcast_to(weight * height, full)))


def _beats(train: SyncTrain, frame_s: float, *, together: bool = True) -> list[_Beat]:
    """Return the pulses of a frame in turn; equal ones in a row as one beat unless they shall stay apart."""
    widths = np.round(train.off_s - train.on_s, 12)
    gaps = np.round(np.append(train.on_s[1:], train.on_s[0] + frame_s) - train.off_s, 12)
    broad = train.kind == BROAD
    other = (widths[1:] != widths[:-1]) | (gaps[1:] != gaps[:-1]) | broad[1:] | (not together)
    starts = np.flatnonzero(np.append(True, other))
    times = np.diff(np.append(starts, widths.size))
    rows = (widths[starts], gaps[starts], broad[starts], times)
    return [_Beat(*row) for row in zip(*(column.tolist() for column in rows), strict=True)]


def _broad_groups(beats: list[_Beat]) -> list[int]:
    """Return where each field's broad pulses begin."""
    return [n for n, beat in enumerate(beats) if beat.broad and not beats[n - 1].broad]


def _states(output: _Output, share: Array, beats: list[_Beat]) -> list[Array]:
    """Return the state of each exponential at the leading edge of each beat, in steady repetition."""
    *_, end = _walk(output, share, beats, np.zeros_like(output.rate))
    whole = sum(beat.times * (beat.pulse_s + beat.gap_s) for beat in beats)
    return list(_walk(output, share, beats, end / -np.expm1(-output.rate * whole)))[:-1]


def _walk(output: _Output, share: Array, beats: Iterable[_Beat], state: Array) -> Iterator[Array]:
    """Give the state at the leading edge of each beat and behind the last."""
    known: dict[_Beat, tuple[Array, Array]] = {}
    for beat in beats:
        yield state
        if beat not in known:
            known[beat] = output.passage(beat)
        keep, add = known[beat]
        state = state * keep + add * (share if beat.broad else 1.0)
    yield state


def _line_residue(output: _Output, standard: Standard) -> tuple[Array, Array]:
    """Return crest and swing of the output under endless line sync."""
    beat = _Beat(standard.line_sync_s, standard.line_s - standard.line_sync_s, False)
    _, add = output.passage(beat)
    state = add / -np.expm1(-output.rate * (beat.pulse_s + beat.gap_s))
    top = _crest(output, state, np.ones(()), beat).level
    # upside down, the trough behind a leading edge is a crest behind a trailing one
    end = 1.0 - (1.0 - state) * output.left(beat.pulse_s)
    troughs = output.of(np.ones(())) - _highest(output, 1.0 - state, beat.pulse_s).level
    return top, top - np.minimum(troughs, -_highest(output, -end, beat.gap_s).level)


def _crest(output: _Output, state: Array, height: Array, beat: _Beat) -> _Moment:
    """Return the highest point behind a pulse that begins in ``state``."""
    end = height - (height - state) * output.left(beat.pulse_s)
    found = _highest(output, end, beat.gap_s)
    return _Moment(found.time + beat.pulse_s, found.level)


def _highest(output: _Output, state: Array, most_s: float) -> _Moment:
    """Return the highest point of the output while every exponential falls from ``state``."""
    level = np.array([output.of(state * output.left(most_s * n / _GRID)) for n in range(_GRID + 1)])
    best = np.argmax(level, axis=0)
    slope = output.weight * output.rate * state
    low, high = (np.clip(best + step, 0, _GRID) * most_s / _GRID for step in (-1, 1))
    inside = (best > 0) & ((best < _GRID) | (np.sum(slope * output.left(most_s), axis=0) > 0.0))
    inside |= (best == 0) & (np.sum(slope, axis=0) < 0.0)
    for _ in range(_CREST_STEPS if np.any(inside) else 0):
        middle = 0.5 * (low + high)
        rising = np.sum(slope * np.exp(-output.rate * middle), axis=0) < 0.0
        low, high = np.where(rising, middle, low), np.where(rising, high, middle)
    time = np.where(inside, low, best * most_s / _GRID)
    found = output.of(state * np.exp(-output.rate * time)) if np.any(inside) else level.max(axis=0)
    return _Moment(time, np.maximum(found, level.max(axis=0)))


def _mean(output: _Output, share: Array, beats: list[_Beat]) -> Array:
    """Return the mean of the output: that of the sync, divided down by the resistances of the ladder alone."""
    whole = sum(beat.times * (beat.pulse_s + beat.gap_s) for beat in beats)
    narrow, broad = (
        sum(beat.times * beat.pulse_s for beat in beats if beat.broad is kind) / whole for kind in (False, True)
    )
    return output.of(np.ones(())) * (narrow + broad * share)


def _field(
    output: _Output, share: Array, beats: list[_Beat], states: list[Array], start: int, fires: Array | None
) -> tuple[Array, Array, Array, Array]:
    """Return level before, peak, time of triggering, and whether it triggers, of one field."""
    ahead = beats[start - 1]
    *_, last = _walk(output, share, [replace(ahead, times=ahead.times - 1)], states[start - 1])
    before = _crest(output, last, np.ones(()), ahead)
    singles = _singles(beats, start)
    heights = [share if beat.broad else np.ones_like(share) for beat in singles]
    inside = list(_walk(output, share, singles, states[start]))[:-1]
    crests = [_crest(output, *item) for item in zip(inside, heights, singles, strict=True)]
    peak = np.max([crest.level for crest in crests], axis=0)
    level = 0.5 * peak if fires is None else np.broadcast_to(fires, peak.shape)
    time, reached = _trigger(output, singles, heights, inside, crests, level)
    return before.level, peak, time, reached


def _singles(beats: list[_Beat], start: int) -> list[_Beat]:
    """Return the broad pulses and the few behind them, one by one."""
    turn = [*beats[start:], *beats[:start]]
    broad = next(n for n, beat in enumerate(turn) if not beat.broad)
    single = [replace(beat, times=1) for beat in turn for _ in range(min(beat.times, _PULSES_BEHIND))]
    return single[: broad + _PULSES_BEHIND]


def _trigger(
    output: _Output,
    singles: list[_Beat],
    heights: list[Array],
    states: list[Array],
    crests: list[_Moment],
    level: Array,
) -> tuple[Array, Array]:
    """Return when the output first reaches the level, from the first leading edge on, and whether it does."""
    tops = np.array([crest.level for crest in crests])
    enough = tops >= level
    reached = enough.any(axis=0)
    which = np.where(reached, enough.argmax(axis=0), tops.argmax(axis=0))
    starts = np.cumsum([0.0, *(beat.pulse_s + beat.gap_s for beat in singles)])[which]
    pulse = np.array([beat.pulse_s for beat in singles])[which]
    times = [crest.time for crest in crests]
    height, high, state = (_picked(values, which) for values in (heights, times, states))
    low = np.zeros_like(high)
    for _ in range(_TRIGGER_STEPS):
        middle = 0.5 * (low + high)
        x = height - (height - state) * np.exp(-output.rate * np.minimum(middle, pulse))
        below = output.of(x * np.exp(-output.rate * np.maximum(middle - pulse, 0.0))) < level
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return starts + high, np.where(reached, 1.0, 0.0)


def _picked(values: list[Array], which: NDArray[np.intp]) -> Array:
    """Return for each draw the one of its values that ``which`` points to."""
    stack = np.array(values)
    index = which.reshape(1, *(1,) * (stack.ndim - which.ndim - 1), *which.shape)
    return np.asarray(np.take_along_axis(stack, index, axis=0)[0], dtype=np.float64)
