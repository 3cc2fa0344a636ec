# SPDX-License-Identifier: MIT
"""The series heater string: one current through all heaters, dropper and thermistor.

A heater that is open puts the mains across its break and leaves all others dark; a leak from heater to
cathode takes current out of the string where it happens, so that what lies towards the mains runs too
bright and what lies beyond runs dark.
Limits: heaters are taken as resistances that rise with the 0.6th power of their current.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.simulator.bench import Run

__all__ = ["heater_string"]

Floats = NDArray[np.float64]


def heater_string(run: Run) -> None:
    """Heat a series string from the mains end (place 1) to the chassis end."""
    raise NotImplementedError(str(run.chassis.name))
