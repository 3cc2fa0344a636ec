# SPDX-License-Identifier: MIT
"""Where a falling function crosses zero, for a whole batch at once and in few steps.

Bisection that dares an inverse quadratic step where the function is straight enough (Chandrupatla's rule), so that
a smooth function costs about ten evaluations and a crooked one no more than bisection does.
Limits: one crossing between the bounds; a fixed number of steps.
Sources: chandrupatla-1997 (key in kb/sources/tubes.yaml).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from backporch.engine.circuits.arguments import Array

__all__ = ["quick_root"]


def quick_root(
    difference: Callable[[Array], Array], low: Any, high: Any, steps: int = 40, within: float = 1e-9
) -> Array:
    """Return where ``difference``, not negative at ``low`` and not positive at ``high``, crosses zero.

    Stops when every crossing is known to ``within`` of the interval; one that is known moves no more, so that an
    element of a batch comes out as it would alone.  Where the sign does not change, it ends at
    the bound on the side of the missing crossing.

    Example:
        >>> round(float(quick_root(lambda x: 2.0 - x * x, 0.0, 2.0)), 6)
        1.414214
    """
    first, last = np.broadcast_arrays(np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64))
    least = within * (np.abs(last - first) + 1e-300)
    a, b, c = last, first, last
    fa, fb = difference(a), difference(b)
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
