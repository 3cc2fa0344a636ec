# SPDX-License-Identifier: MIT
"""Fitted curves of the triodes that the simulator follows through their whole swing.

Sources: public fits of 6SN7GT/6CG7 and 12AU7 (koren-triode-form); both agree with the handbook point within 2 %.
"""

from __future__ import annotations

import numpy as np

from backporch.engine.chassis.parts import Value
from backporch.engine.circuits.horizontal_multivibrator import TriodeFit

__all__ = ["triode_fit"]

_MEDIUM = {"mu": 22.01, "exponent": 1.32, "kg1": 1294.0, "kp": 119.8, "kvb": 1041.0}
_SMALL = {"mu": 22.02, "exponent": 1.31, "kg1": 1259.0, "kp": 68.9, "kvb": 493.0}
_FITS = {"6SN7GTB": _MEDIUM, "6CG7": _MEDIUM, "12AU7": _SMALL, "ECC82": _SMALL, "6C4": _SMALL}


def triode_fit(tube_type: str, emission: Value) -> TriodeFit:
    """Return the fit of a triode with ``emission`` of that of a good one; unknown types count as 12AU7."""
    fit = _FITS.get(tube_type, _SMALL)
    more = np.maximum(emission, 1.0)
    return TriodeFit(
        mu=fit["mu"],
        exponent=fit["exponent"],
        kg1=fit["kg1"] / more,
        kp=fit["kp"],
        kvb=fit["kvb"],
        emission_share=np.clip(emission, 0.0, 1.0),
    )
