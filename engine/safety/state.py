# SPDX-License-Identifier: MIT
"""What is known about dangers at the bench; what is not known counts as the worst.

The state is rebuilt from what was said and done, so a change of power, tube or isolation arms the
gates again by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

__all__ = ["ALARMS", "Event", "SafetyState", "after"]

ALARMS = frozenset({"smoke", "arcing", "red-plate", "violet-glow"})
"""Signs on which the set goes off at the plug before any question is asked."""


@dataclass(frozen=True)
class Event:
    """Something that changes what is dangerous."""

    kind: Literal["said", "alarm", "power", "discharged", "cold-check", "proved", "repaired", "tube-out"]
    name: str = ""
    value: str = ""


@dataclass(frozen=True)
class SafetyState:
    """What the gate knows.  Every default is the worst case."""

    chassis_return: Literal["isolated", "one-mains-leg", "doubler-leg", "live-either-way", "unknown"] = "unknown"
    heaters: Literal["parallel", "string", "unknown"] = "unknown"
    envelope: Literal["glass", "metal-cone", "unknown"] = "unknown"
    high_voltage_source: Literal["flyback", "oscillator", "mains", "unknown"] = "unknown"
    isolation: Literal["isolated", "direct", "unknown"] = "unknown"
    supply_aid: Literal["full-mains", "lamp-limiter", "variable", "none", "unknown"] = "unknown"
    company: Literal["accompanied", "alone", "unknown"] = "unknown"
    power: Literal["on", "off", "unknown"] = "unknown"
    charged: bool = True
    """Whether picture tube and filters must be taken as charged."""
    cold_check_due: bool = True
    alarms: frozenset[str] = frozenset()
    proved: frozenset[str] = frozenset()
    """Stages whose supply, bias and drive were read and found good."""
    source: str = "unknown"
    """What feeds the set with a picture; "nothing" where no lead is joined to it."""
    rig: bool = False
    """Whether a substitute picture tube is in use: then there are two tubes that keep a charge."""

    @property
    def live_chassis(self) -> bool:
        """Whether the chassis must be taken as connected to the mains."""
        return self.chassis_return != "isolated" and self.isolation != "isolated"


def after(state: SafetyState, events: Iterable[Event]) -> SafetyState:
    """Return the state after ``events``, in their order.

    Example:
        >>> start = SafetyState(power="off", charged=False)
        >>> after(start, [Event("power", "on"), Event("power", "off")]).charged
        True
    """
    for event in events:
        state = _after_one(state, event)
    return state


_SAID: Mapping[str, str] = {
    "isolation": "isolation",
    "supply-aid": "supply_aid",
    "company": "company",
    "source": "source",
}


def _after_one(state: SafetyState, event: Event) -> SafetyState:
    if event.kind == "said" and event.name in _SAID:
        return replace(state, **{_SAID[event.name]: event.value})  # type: ignore[arg-type]
    if event.kind == "said" and event.name == "condition":
        return replace(state, cold_check_due=event.value == "cold-check")
    if event.kind == "alarm":
        alarms = state.alarms | {event.name}
        return replace(state, alarms=alarms, proved=frozenset(), power="off", charged=True)
    if event.kind == "power":
        on = event.name == "on"
        return replace(state, power="on" if on else "off", charged=True)
    if event.kind == "discharged":
        return replace(state, charged=state.power != "off")
    if event.kind == "cold-check":
        return replace(state, cold_check_due=event.value != "passed")
    if event.kind == "proved":
        return _after_proof(state, event)
    if event.kind == "repaired":
        alarms = state.alarms if event.value == "not-cured" else frozenset()
        return replace(state, alarms=alarms, proved=frozenset())
    if event.kind == "tube-out":
        return replace(state, charged=True)
    return state


def _after_proof(state: SafetyState, event: Event) -> SafetyState:
    """Return the state after a stage was read: found bad, or read through a limiter, it is not proved."""
    good = event.value != "bad" and state.supply_aid not in ("lamp-limiter", "variable")
    return replace(state, proved=state.proved | {event.name} if good else state.proved - {event.name})
