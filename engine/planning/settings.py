# SPDX-License-Identifier: MIT
"""How the planner weighs tests, minutes and doubt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Settings", "settings_of"]

_SECOND_WITNESS = 0.7
"""What the leading stage keeps in a careful diagnosis without the witness that it rests on most."""


@dataclass(frozen=True)
class Settings:
    """How the planner weighs; the defaults were chosen on other seeds than those reported."""

    gate_bits: float = 0.2
    """A cost class is worth asking while its best test teaches at least this much [bit]."""
    floor_bits: float = 0.004
    """A test that teaches less than this is never asked [bit]."""
    search_minutes: float = 45.0
    """Minutes to find by other means what is no part on the list of the chassis."""
    order: Literal["quickest", "cheapest"] = "quickest"
    """cheapest: strictly the cheapest class and the cheapest test in it, without a look ahead."""
    careful: bool = False
    """Ask on until the stage is nearly certain, even where changing parts at once would be quicker."""
    careful_stage: float = 0.97
    careful_bits: float = 0.04
    doubted_stage: float = 0.0
    """Share that the leading stage must keep in the careful mode without the one witness that it rests on most."""
    settled_stage: float = 0.95
    """Up to this share of the leading stage tests about the stage are asked that teach enough."""
    settled_part: float = 0.8
    """Then, up to this share of the leading part, tests about the part; then only what pays for itself."""
    settled_bits: float = 0.05
    """What a test must teach about the stage or the part to be asked before both are settled [bit]."""
    shared_way: float = 0.5
    """Share of the way to a lasting bench state that later tests are taken to need too."""
    guard: float = 4.0
    """Standard errors by which a sampled saving must be certain."""
    futures: int = 16
    """Sampled futures of the look ahead; 0 looks no further than one step."""
    exact: int = 12
    """Up to this many live hypotheses nothing is settled for its own sake: the minutes are known exactly."""
    small: int = 25
    """Up to this many live hypotheses every answer is followed."""
    candidates: int = 4
    carried: int = 12
    """Tests that the look ahead carries."""


def settings_of(order: Literal["quickest", "cheapest"], careful: bool) -> Settings:
    """Return the settings of a diagnosis; a careful one wants a second witness for the stage."""
    return Settings(order=order, careful=careful, doubted_stage=_SECOND_WITNESS if careful else 0.0)
