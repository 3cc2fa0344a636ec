# SPDX-License-Identifier: MIT
"""The fitted curves of the tubes of a chassis, from kb/tube_fits.

A type that has no fit of its own takes that of a usual tube of its kind.
"""

from __future__ import annotations

from functools import cache

from backporch.engine.circuits.tube_curves import TubeModel
from backporch.engine.circuits.tube_fits import tube_model
from backporch.engine.knowledge.library import shipped

__all__ = ["model_of"]

_USUAL = {"triode": "12AU7", "pentode": "6AU6", "oscillator": "12AU7", "output": "6S4A"}


@cache
def _known() -> dict[str, TubeModel]:
    found: dict[str, TubeModel] = {}
    for name, fit in shipped().tube_fits.items():
        if fit.kind != "diode":
            model = tube_model({str(key): float(value) for key, value in fit.model.items()})
            found |= dict.fromkeys((name, *fit.same), model)
    return found


def model_of(tube_type: str, section: str) -> TubeModel:
    """Return the model of a tube, or of one section of it: triode, pentode, oscillator or output.

    Example:
        >>> round(model_of("12AU7", "triode").mu), model_of("PCL85", "pentode").screened
        (20, True)
    """
    known = _known()
    return known.get(f"{tube_type}-{section}") or known.get(tube_type) or known[_USUAL[section]]
