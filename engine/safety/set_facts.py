# SPDX-License-Identifier: MIT
"""What a chassis itself says to the gate; what its file does not say counts as the worst."""

from __future__ import annotations

from backporch.engine.chassis.model import SAFETY_FIELDS, Chassis
from backporch.engine.safety.state import SafetyState

__all__ = ["state_of_set", "unstated"]


def state_of_set(chassis: Chassis, *, rig: bool = False) -> SafetyState:
    """Return the state of which only the chassis is known; all that stands on the bench is unknown."""
    return SafetyState(
        chassis_return=chassis.chassis_return,
        heaters="string" if chassis.supply == "series-string" else "parallel",
        envelope=chassis.envelope,
        high_voltage_source=chassis.high_voltage_source,
        rated_v=chassis.mains_v,
        rig=rig,
    )


def unstated(chassis: Chassis) -> str:
    """Return in a sentence what the file of a chassis leaves open and what follows, or ""."""
    open_ones = [name for name in SAFETY_FIELDS if getattr(chassis, name) == "unknown"]
    if not open_ones:
        return ""
    names = " and ".join(filter(None, (", ".join(open_ones[:-1]), open_ones[-1])))
    return (
        f"The chassis file does not say {names} itself, or not believably; this is not taken over from the set "
        "it is like, and unknown counts as the worst. Look at your set, plug out, and write it into the file."
    )
