# SPDX-License-Identifier: MIT
"""What the usual meter shows of a simulated point: it loads the point that it measures.

Limits: direct volts only are loaded; the usual meter is one of 10 megohms.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from backporch.engine.chassis.simulator.bench import Result

__all__ = ["USUAL_METER_OHM", "as_read"]

USUAL_METER_OHM = 10e6


def as_read(result: Result, key: str, meter_ohm: float = USUAL_METER_OHM) -> NDArray[np.float64]:
    """Return what a meter of ``meter_ohm`` shows of "point.quantity"."""
    value, source = result.values[key], result.source_ohm[key]
    if not key.endswith(".dc"):
        return value
    return np.asarray(value * meter_ohm / (meter_ohm + source), dtype=float)
