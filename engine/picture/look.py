# SPDX-License-Identifier: MIT
"""What a drawing of the screen can show: the picture state of the simulator, and a little more.

A look is a mapping from names to numbers; what is left out is as in a healthy set.
"""

from __future__ import annotations

from collections.abc import Mapping

from backporch.engine.chassis.picture_state import PICTURE, Quantity
from backporch.engine.errors import UnknownWord

__all__ = ["DRAWN_ONLY", "complete_look"]

DRAWN_ONLY: dict[str, Quantity] = {
    "tilt": Quantity(0.0, "turn of the whole raster, clockwise, in degrees"),
    "lean": Quantity(0.0, "steady lean of verticals, in raster widths from top to bottom"),
    "white_pull": Quantity(0.0, "shift of a line by the white in it, in raster widths"),
    "ghost": Quantity(0.0, "strength of a second picture to the right of the first, 0 to 1"),
    "pattern": Quantity(0.0, "strength of a fine herringbone, 0 to 1"),
    "white_dashes": Quantity(0.0, "short white flashes, 0 to 1"),
    "black_dashes": Quantity(0.0, "short black flashes, 0 to 1"),
    "crease": Quantity(0.0, "bright upright crease left of the middle, 0 to 1"),
    "dark_line": Quantity(0.0, "thin dark upright line at the left, 0 to 1"),
    "middle_cramp": Quantity(0.0, "how much the middle is cramped sideways, 0 to 1"),
    "rolled": Quantity(0.0, "screens by which the picture stands rolled up"),
    "hum_phase": Quantity(0.0, "where the hum stands at time 0, in cycles"),
}
"""Quantities that a drawing knows beyond the picture state."""


def complete_look(state: Mapping[str, float]) -> dict[str, float]:
    """Return a look with every quantity, those left out as in a healthy set.

    Args:
        state: Quantities of :data:`PICTURE` or :data:`DRAWN_ONLY` by name.
    Raises:
        UnknownWord: there is no such quantity.
    Example:
        >>> complete_look({"height": 0.5})["height"], complete_look({})["width"]
        (0.5, 1.0)
    """
    known = {**DRAWN_ONLY, **PICTURE}
    for name in state:
        if name not in known:
            raise UnknownWord("quantity of a picture", name, known)
    return {name: float(state.get(name, quantity.healthy)) for name, quantity in known.items()}
