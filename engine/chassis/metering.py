# SPDX-License-Identifier: MIT
"""What a meter shows of a simulated point: it loads the point that it measures.

Limits: direct volts only are loaded.  A needle meter is read on the lowest range that holds the point.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backporch.engine.circuits.meters import (
    DIGITAL_10_M,
    ELECTRONIC_11_M,
    NEEDLE_1_K,
    NEEDLE_20_K,
    Meter,
    meter_ohm,
    range_v,
)

if TYPE_CHECKING:
    from backporch.engine.chassis.simulator.bench import Result

__all__ = ["BENCH_METERS", "USUAL_METER_OHM", "as_read", "bench_meter", "read_by"]

USUAL_METER_OHM = DIGITAL_10_M.input_ohm

BENCH_METERS: dict[str, Meter] = {
    "meter": DIGITAL_10_M,
    "electronic-voltmeter": ELECTRONIC_11_M,
    "needle-meter": NEEDLE_20_K,
    "cheap-meter": NEEDLE_1_K,
}
"""Meters by their name among the instruments, in the order in which one reaches for them."""


def bench_meter(instruments: Collection[str]) -> str:
    """Return the meter that a bench reads voltages with, by its name among the instruments, or "".

    Example:
        >>> bench_meter({"eyes", "needle-meter"}), bench_meter({"needle-meter", "meter"})
        ('needle-meter', 'meter')
    """
    return next((name for name in BENCH_METERS if name in instruments), "")


def as_read(result: Result, key: str, meter_ohm: float = USUAL_METER_OHM) -> NDArray[np.float64]:
    """Return what a meter of ``meter_ohm`` shows of "point.quantity"."""
    value, source = result.values[key], result.source_ohm[key]
    if not key.endswith(".dc"):
        return value
    return np.asarray(value * meter_ohm / (meter_ohm + source), dtype=float)


def read_by(meter: Meter, usual_v: ArrayLike, source_ohm: ArrayLike) -> NDArray[np.float64]:
    """Return what ``meter`` shows of direct voltages that are known as the usual meter shows them.

    Args:
        meter: The meter in use.
        usual_v: What the usual meter shows [V], any shape.
        source_ohm: Resistance behind each point [ohm], same shape.
    Example: 100 V behind 1 M, of which the usual meter shows 90.9 V, on the 250 V range of 20 k per volt.
        >>> round(float(read_by(NEEDLE_20_K, 100.0 / 1.1, 1e6)), 1)
        83.3
    """
    usual, source = np.asarray(usual_v, dtype=float), np.asarray(source_ohm, dtype=float)
    if meter is DIGITAL_10_M:
        return usual
    true = usual * (1.0 + source / USUAL_METER_OHM)
    own = np.asarray(meter_ohm(meter, range_v(true, meter)), dtype=float)
    return np.asarray(true * own / (own + source), dtype=float)
