# SPDX-License-Identifier: MIT
"""Where a falling function crosses zero, for a whole batch at once and in few steps.

Bisection that dares an inverse quadratic step where the function is straight enough (Chandrupatla's rule), so that
a smooth function costs about ten evaluations and a crooked one no more than bisection does.
Limits: one crossing between the bounds; a fixed number of steps.
Sources: chandrupatla-1997 (key in kb/sources/tubes.yaml).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import numpy as np

from backporch.engine.circuits.arguments import Array

__all__ = ["lone_root", "quick_root"]


def quick_root(
    difference: Callable[[Array], Array], low: Any, high: Any, steps: int = 40, within: float = 1e-9
) -> Array:
    """Return where ``difference``, not negative at ``low`` and not positive at ``high``, crosses zero.

    Stops when every crossing is known to ``within`` of the interval; one that is known moves no more, so that an
    element of a batch comes out as it would alone.  Where the sign does not change, it ends at
    the bound on the side of the missing crossing.

    Args:
        difference: Function of an array, shaped as the bounds, to an array.
        low: Lower bound, float or array.
        high: Upper bound, float or array, in the unit of ``low``.
        steps: Most steps.
        within: Share of the interval to which the crossing is sought.
    Returns:
        The crossings, an array shaped as both bounds together.
    Raises:
        ValueError: The bounds do not go together in shape.
    Source: chandrupatla-1997 for the rule of the steps.
    Example:
        >>> round(float(quick_root(lambda x: 2.0 - x * x, 0.0, 2.0)), 6)
        1.414214
    """
    first, last = np.broadcast_arrays(np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64))
    least = within * (np.abs(last - first) + 1e-300)
    a, b, c = last, first, last
    fa, fb = difference(a), difference(b)
    if np.size(fa) == 1:
        return _alone(difference, (first, last), (fb, fa), steps, float(np.ravel(least)[0]))
    fc, part = fa, np.full(np.shape(fa), 0.5)
    a, b, c = (np.broadcast_to(x, np.shape(fa)) for x in (a, b, c))
    outside = np.sign(fa) * np.sign(fb) > 0.0
    end = np.where(fb > 0.0, last, first)
    done = np.zeros(np.shape(fa), dtype=bool)
    for _ in range(steps):
        x = np.where(done, a, a + part * (b - a))
        fx = difference(x)
        same = np.sign(fx) == np.sign(fa)
        c, fc = np.where(same, a, b), np.where(same, fa, fb)
        b, fb = np.where(same, b, a), np.where(same, fb, fa)
        a, fa = x, fx
        done = (np.abs(b - a) < least) | (fa == 0.0) | outside
        if done.all():
            break
        part = _part(a, b, c, fa, fb, fc, least)
    return np.asarray(np.where(outside, end, np.where(np.abs(fa) < np.abs(fb), a, b)))


def lone_root(difference: Callable[[Any], Any], low: Any, high: Any, steps: int = 40, within: float = 1e-9) -> Any:
    """Return the crossing between two plain numbers by the same steps, or that of a batch by :func:`quick_root`.

    Args:
        difference: Function of a plain float to a plain float, or of arrays where a bound is one.
        low: Lower bound, float or array.
        high: Upper bound, float or array, in the unit of ``low``.
        steps: Most steps.
        within: Share of the interval to which the crossing is sought.
    Returns:
        The crossing, float or array.
    Raises:
        ValueError: The bounds do not go together in shape.
    Source: chandrupatla-1997 for the rule of the steps.
    Example:
        >>> round(lone_root(lambda x: 2.0 - x * x, 0.0, 2.0), 6)
        1.414214
    """
    if type(low) is not float or type(high) is not float:
        return quick_root(difference, low, high, steps, within)
    ends = difference(low), difference(high)
    return _lone_steps(difference, (low, high), ends, steps, within * (abs(high - low) + 1e-300))


def _alone(
    difference: Callable[[Array], Array],
    bounds: tuple[Array, Array],
    ends: tuple[Array, Array],
    steps: int,
    least: float,
) -> Array:
    """Return the crossing of a single element: the same steps in plain numbers, which cost far less."""
    shape = np.shape(ends[1])
    (first, last), (fb, fa) = (tuple(float(np.ravel(v)[0]) for v in pair) for pair in (bounds, ends))

    def told(x: float) -> float:
        return float(np.ravel(difference(np.full(shape, x)))[0])

    return np.full(shape, _lone_steps(told, (first, last), (fb, fa), steps, least))


def _lone_steps(
    difference: Callable[[float], float],
    bounds: tuple[float, float],
    ends: tuple[float, float],
    steps: int,
    least: float,
) -> float:
    (b, a), (fb, fa), part = bounds, ends, 0.5
    if fa * fb > 0.0:
        return a if fb > 0.0 else b
    for _ in range(steps):
        x = a + part * (b - a)
        fx = difference(x)
        if (fx > 0.0) == (fa > 0.0) and (fx < 0.0) == (fa < 0.0):
            c, fc = a, fa
        else:
            b, c, fb, fc = a, b, fa, fb
        a, fa = x, fx
        if abs(b - a) < least or fa == 0.0:
            break
        part = _single_part((a, b, c), (fa, fb, fc), least)
    return a if abs(fa) < abs(fb) else b


def _single_part(places: tuple[float, float, float], values: tuple[float, float, float], least: float) -> float:
    """Return how far from the first place towards the second the next trial lies, as :func:`_part` does."""
    (a, b, c), (fa, fb, fc) = places, values
    gap = b - a if b != a else 1.0
    edge = min(0.5, 0.25 * least / abs(gap))
    bold = 0.5
    with suppress(ZeroDivisionError):
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        if phi * phi < xi and (1.0 - phi) * (1.0 - phi) < 1.0 - xi:
            bold = fa / (fb - fa) * fc / (fb - fc) + (c - a) / gap * fa / (fc - fa) * fb / (fc - fb)
    if not math.isfinite(bold):
        bold = 0.5
    return min(max(bold, edge), 1.0 - edge)


def _part(a: Array, b: Array, c: Array, fa: Array, fb: Array, fc: Array, least: Array) -> Array:
    """Return how far from ``a`` towards ``b`` the next trial lies."""
    gap = np.where(b == a, 1.0, b - a)
    edge = np.minimum(0.5, 0.25 * least / np.abs(gap))
    with np.errstate(divide="ignore", invalid="ignore"):
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        straight = (phi * phi < xi) & ((1.0 - phi) ** 2 < 1.0 - xi)
        bold = fa / (fb - fa) * fc / (fb - fc) + (c - a) / gap * fa / (fc - fa) * fb / (fc - fb)
    bold = np.where(straight & np.isfinite(bold), bold, 0.5)
    return np.asarray(np.clip(bold, edge, 1.0 - edge))
