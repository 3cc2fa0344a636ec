# SPDX-License-Identifier: MIT
"""Which tubes stay dark: what a look at the tubes shows beyond its outcome.

The fault model knows only how many are dark; somebody who looks sees which.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.simulator import Result
from backporch.engine.session.entry import Entry

__all__ = ["HEATERS_LOOK", "ONE_DARK", "dark_tubes", "found_dark"]

HEATERS_LOOK = "look-at-the-heaters"
"""The look by which dark tubes are found."""
ONE_DARK = "one-dark"
"""Its outcome where a single tube is dark."""
_SOME_DARK = "some-dark"
_GLOWS = 0.5
"""Least heater voltage over rated at which a glow is seen; as the simulated look has it."""


def dark_tubes(chassis: Chassis, result: Result) -> tuple[str, ...]:
    """Return the tubes of the heater line that do not glow; those heated by the flyback are looked at apart."""
    counted = [name for name, tube in chassis.tubes.items() if tube.heater in ("winding", "string")]
    return tuple(name for name in counted if float(np.ravel(result.inner[f"heat:{name}"])[0]) < _GLOWS)


def found_dark(entries: Iterable[Entry], dark: tuple[str, ...]) -> tuple[str, ...]:
    """Return those of ``dark`` that the learner has seen: none before the look, none where all are dark.

    Example:
        >>> found_dark([Entry("answer", "look-at-the-heaters", "one-dark")], ("V7",))
        ('V7',)
        >>> found_dark([], ("V7",))
        ()
    """
    looked = {e.value for e in entries if e.kind == "answer" and e.key == HEATERS_LOOK}
    return dark if looked & {ONE_DARK, _SOME_DARK} else ()
