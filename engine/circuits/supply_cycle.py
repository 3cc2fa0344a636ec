# SPDX-License-Identifier: MIT
"""The steady state of a capacitor-input rectifier, exact for rectifiers of a constant drop and a resistance.

Between two switching instants a circuit of up to two capacitors and resistances is linear, so its voltages
are a constant, a sine and two exponentials.  A cycle is followed from peak to peak of the mains through
such pieces; the state that comes back to itself is found by Newton's method, whose matrix is the product of
the exponentials because no current flows at the instant where a rectifier opens or closes.
Time runs as phase of the mains: one cycle is 2 pi.  Arrays have the two states first, then the batch.
Limits: of the two rectifiers of a circuit one conducts at a time.
Source: derived here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array
from backporch.engine.circuits.quick_root import quick_root

__all__ = ["Cycle", "Mode", "Piece", "advanced", "cycle"]

ComplexArray: TypeAlias = NDArray[np.complex128]

_WITHIN = 4e-6


@dataclass(frozen=True)
class Mode:
    """The circuit with one rectifier conducting: x' = rates x + gain (sign peak cos p - drop), per radian."""

    rates: Array
    """Matrix of 2 by 2, then the batch."""
    gain: Array
    """What the driving voltage does to the two states."""
    sense: tuple[float, float]
    """The rectifier sees sign peak cos p - drop + sense x, and conducts while that is above zero."""
    sign: float
    """1 for a rectifier that works on the positive peak, -1 for the negative one."""
    peak: Array
    drop: Array
    ohm: Array
    """Resistance in the path of the current."""


@dataclass(frozen=True)
class Piece:
    """The states from one switching instant to the next: still + Re(wave e^jp) + two exponentials."""

    mode: Mode
    start: Array
    end: Array
    fast: Array
    slow: Array
    still: Array
    wave: ComplexArray
    first: Array
    second: Array

    def states(self, phase: Array) -> Array:
        """Return both states at a phase, or at rows of phases."""
        rows = (slice(None), *[None] * (phase.ndim - self.start.ndim))
        still, wave, first, second = (part[rows] for part in (self.still, self.wave, self.first, self.second))
        since = phase - self.start
        decay = first * np.exp(self.fast * since) + second * np.exp(self.slow * since)
        return np.asarray(still + (wave * np.exp(1j * phase)).real + decay)

    def seen(self, mode: Mode) -> Callable[[Array], Array]:
        """Return what the rectifier of ``mode`` sees along this piece, as a function of phase."""
        parts = (self.still, self.wave, self.first, self.second)
        still, wave, first, second = (mode.sense[0] * part[0] + mode.sense[1] * part[1] for part in parts)
        wave = wave + mode.sign * mode.peak
        size, lead, still = np.abs(wave), np.angle(wave), still - mode.drop

        def voltage(phase: Array) -> Array:
            since = phase - self.start
            decay = first * np.exp(self.fast * since) + second * np.exp(self.slow * since)
            return np.asarray(still + size * np.cos(phase + lead) + decay)

        return voltage

    def transition(self) -> Array:
        """Return how the states at the end answer to those at the start, a matrix."""
        span = self.end - self.start
        quick, slow = np.exp(self.fast * span), np.exp(self.slow * span)
        bend = (quick - slow) / (self.fast - self.slow)
        level = slow - bend * self.slow
        return np.asarray(level * _eye(self.mode.rates) + bend * self.mode.rates)


@dataclass(frozen=True)
class Cycle:
    """The pieces of a cycle, with the rectifier that conducts in each: 0, 1 or none."""

    pieces: tuple[Piece, ...]
    conducting: tuple[int | None, ...]
    end: Array
    """States at the end of the last piece."""
    carried: Array
    """How they answer to the states at the start, a matrix."""


def cycle(first: Mode, rest: Mode, second: Mode, state: Array, *, whole: bool) -> Cycle:
    """Return one cycle that starts with ``state`` at the peak on which ``first`` works.

    ``rest`` is the circuit with both rectifiers open.  With ``whole`` false the cycle stops at the next peak,
    which is enough where both rectifiers are alike.

    Args:
        first: The circuit with the first rectifier conducting, see :class:`Mode`.
        rest: The circuit with none conducting.
        second: The circuit with the second one conducting.
        state: Voltages of the two capacitors [V], an array with those first.
        whole: Whether a whole period of the mains is followed.
    Returns:
        :class:`Cycle` with its pieces and the states at its end [V].
    Raises:
        ValueError: The modes do not go together in shape.
    Source: exact solutions of linear circuits between the switching instants, derived here.
    Example: full wave, 120 V behind 50 ohm, 47 uF and 2 k, from 150 V at the peak.
        >>> omega, farads, load, source = 377.0, 47e-6, 2e3, 50.0
        >>> slow = np.diag([-1.0 / (load * omega * farads), -1.0])
        >>> fast = np.diag([-(1.0 / load + 1.0 / source) / (omega * farads), -1.0])
        >>> gain, none = np.array([1.0 / (source * omega * farads), 0.0]), np.zeros(2)
        >>> peak, drop, ohm = map(np.array, (170.0, 0.0, source))
        >>> one = Mode(fast, gain, (-1.0, 0.0), 1.0, peak, drop, ohm)
        >>> other = Mode(fast, gain, (-1.0, 0.0), -1.0, peak, drop, ohm)
        >>> idle = Mode(slow, none, (0.0, 0.0), 1.0, peak, drop, ohm)
        >>> round(float(cycle(one, idle, other, np.array([150.0, 0.0]), whole=False).end[0]), 1)
        151.5
    """
    begin = 0.0 * state[0]
    pieces = _half((first, rest, second), state, begin)
    kinds: list[int | None] = [0, None, 1]
    if whole:
        last = pieces[-1]
        pieces += _half((second, rest, first), last.states(last.end), begin + math.pi)
        kinds += [1, None, 0]
    carried = pieces[0].transition()
    for piece in pieces[1:]:
        carried = _times(piece.transition(), carried)
    return Cycle(tuple(pieces), tuple(kinds), pieces[-1].states(pieces[-1].end), carried)


def advanced(found: Cycle, state: Array) -> Array:
    """Return the state from which the cycle would come back to itself if its pieces kept their lengths.

    Args:
        found: A cycle.
        state: The state that it started with [V], an array.
    Returns:
        The better state [V], an array shaped as ``state``.
    Raises:
        LinAlgError: The cycle carries all of its state over.
    Source: one step of Newton's rule, derived here.
    Example: the same supply settles at its peak.
        >>> omega, farads, load, source = 377.0, 47e-6, 2e3, 50.0
        >>> slow = np.diag([-1.0 / (load * omega * farads), -1.0])
        >>> fast = np.diag([-(1.0 / load + 1.0 / source) / (omega * farads), -1.0])
        >>> gain, none = np.array([1.0 / (source * omega * farads), 0.0]), np.zeros(2)
        >>> peak, drop, ohm = map(np.array, (170.0, 0.0, source))
        >>> one = Mode(fast, gain, (-1.0, 0.0), 1.0, peak, drop, ohm)
        >>> other = Mode(fast, gain, (-1.0, 0.0), -1.0, peak, drop, ohm)
        >>> idle = Mode(slow, none, (0.0, 0.0), 1.0, peak, drop, ohm)
        >>> state = np.array([140.0, 0.0])
        >>> for _ in range(6):
        ...     state = advanced(cycle(one, idle, other, state, whole=False), state)
        >>> round(float(state[0]), 1)
        152.1
    """
    miss = found.end - state
    return np.asarray(state + _solved(_eye(found.carried) - found.carried, miss))


def _half(modes: tuple[Mode, Mode, Mode], state: Array, begin: Array) -> list[Piece]:
    """Return the pieces from the peak of one rectifier to the peak of the other."""
    first, rest, second = modes
    finish = begin + math.pi
    on = _piece(first, begin, finish, state)
    on = replace(on, end=quick_root(on.seen(first), begin, finish, within=_WITHIN))
    idle = _piece(rest, on.end, finish, on.states(on.end))
    seen = idle.seen(second)
    idle = replace(idle, end=quick_root(lambda phase: -seen(phase), on.end, finish, within=_WITHIN))
    return [on, idle, _piece(second, idle.end, finish, idle.states(idle.end))]


def _piece(mode: Mode, start: Array, end: Array, state: Array) -> Piece:
    """Return the piece of a mode that begins with a state."""
    fast, slow = _decays(mode.rates)
    still, wave = _forced(mode)
    rest = state - still - wave.real * np.cos(start) + wave.imag * np.sin(start)
    first = (_applied(mode.rates, rest) - slow * rest) / (fast - slow)
    return Piece(mode, start, end, fast, slow, still, wave, first, rest - first)


def _decays(rates: Array) -> tuple[Array, Array]:
    """Return the two rates of decay, the faster first."""
    middle = 0.5 * (rates[0, 0] + rates[1, 1])
    bend = np.sqrt(0.25 * (rates[0, 0] - rates[1, 1]) ** 2 + rates[0, 1] * rates[1, 0])
    fast = middle - np.maximum(bend, -1e-9 * middle)
    return fast, _determinant(rates) / fast


def _forced(mode: Mode) -> tuple[Array, ComplexArray]:
    """Return the constant and the phasor with which the states answer to the driving voltage."""
    still = _solved(mode.rates, mode.gain * mode.drop)
    return still, _solved(1j * _eye(mode.rates) - mode.rates, mode.gain * (mode.sign * mode.peak))


def _eye(like: Array) -> Array:
    return np.eye(2).reshape(2, 2, *[1] * (like.ndim - 2))


def _determinant(matrix: Array) -> Array:
    return np.asarray(matrix[0, 0] * matrix[1, 1] - matrix[0, 1] * matrix[1, 0])


def _applied(matrix: Array, vector: Array) -> Array:
    return np.asarray(matrix[:, 0] * vector[0] + matrix[:, 1] * vector[1])


def _times(left: Array, right: Array) -> Array:
    return np.asarray(left[:, 0, None] * right[None, 0] + left[:, 1, None] * right[None, 1])


def _solved(matrix: Any, vector: Array) -> Any:
    """Return the vector that the matrix turns into ``vector``."""
    one = matrix[1, 1] * vector[0] - matrix[0, 1] * vector[1]
    two = matrix[0, 0] * vector[1] - matrix[1, 0] * vector[0]
    return np.stack([one, two]) / _determinant(matrix)
