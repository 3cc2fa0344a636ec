# SPDX-License-Identifier: MIT
"""Whether a point may be measured on one chassis: what the trade says of it, and what is computed for it.

The computed voltage is direct voltage, peak to peak and the peak of an alternating one together; it is raised
by a share for a set without load, since filters and rails stand higher until the tubes are warm.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from backporch.engine.chassis.cache import healthy_values
from backporch.engine.chassis.model import Chassis
from backporch.engine.knowledge.models import PointRating
from backporch.engine.safety.gate import PointClass

__all__ = ["UNLOADED", "class_of", "volts_at"]

UNLOADED = 1.15
"""Share by which a point may stand higher with the tubes cold or the load open; our estimate, no source."""
_PEAKS = {"dc": 1.0, "pp": 1.0, "rms": math.sqrt(2.0)}


def volts_at(chassis: Chassis) -> Mapping[str, float]:
    """Return the highest voltage computed at each test point of a healthy set [V]."""
    found: dict[str, float] = {}
    for key, value in healthy_values(chassis).items():
        point, _, quantity = key.rpartition(".")
        if point in chassis.test_points and quantity in _PEAKS:
            found[point] = found.get(point, 0.0) + abs(value) * _PEAKS[quantity]
    return found


def class_of(rating: PointRating | None, volts: float | None) -> PointClass | None:
    """Return how a point is rated, by the stricter of what is known and what is computed.

    Example:
        >>> class_of(None, 900.0).rated_v
        1035.0
    """
    computed = round((volts or 0.0) * UNLOADED, 3)
    if rating is None:
        if not computed:
            return None
        return PointClass("rated", computed, "Use a meter or probe rated for it.", "So much is computed here.")
    if rating.rating == "forbidden":
        return PointClass("forbidden", 0.0, rating.substitute, rating.because)
    return PointClass("rated", max(rating.rated_v, computed), rating.substitute, rating.because)
