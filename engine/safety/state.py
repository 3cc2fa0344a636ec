# SPDX-License-Identifier: MIT
"""What is known about dangers at the bench; what is not known counts as the worst.

The state is rebuilt from what was said and done, so a change of power, tube or isolation arms the
gates again by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from backporch.engine.errors import BackporchError
from backporch.engine.units import parse

__all__ = ["ALARMS", "LEAST_SHARE", "MOST_SHARE", "Event", "SafetyState", "after"]

LEAST_SHARE, MOST_SHARE = 0.9, 1.1
"""Share of the rated mains from which readings count, and above which nothing is run; common practice."""

ALARMS = frozenset({"smoke", "arcing", "red-plate", "violet-glow", "far-too-much"})
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
    supply_aid: Literal["full-mains", "lamp-limiter", "variable", "unknown"] = "unknown"
    limiter_w: float = 0.0
    """Power of the lamp in series [W]; 0 where nobody said."""
    variable_v: float = 0.0
    """What the variable transformer gives [V]; 0 where nobody said."""
    mains_now_v: float = 0.0
    """Today's mains as it was read [V]; 0 where nobody did."""
    rated_v: float = 0.0
    """Mains that the set is rated for [V]; 0 where the chassis does not say."""
    company: Literal["accompanied", "alone", "unknown"] = "unknown"
    power: Literal["on", "off", "unknown"] = "unknown"
    charged: bool = True
    """Whether picture tube and filters must be taken as charged."""
    cold_check_due: bool = True
    alarms: frozenset[str] = frozenset()
    mended: bool = False
    """Whether the set gets its first power after the cause of an alarm was mended."""
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

    @property
    def full_mains(self) -> bool:
        """Whether the set is known to get at least :data:`LEAST_SHARE` of its rated mains.

        Example:
            >>> SafetyState(supply_aid="variable", variable_v=110.0, rated_v=117.0).full_mains
            True
            >>> SafetyState(supply_aid="variable", rated_v=117.0).full_mains
            False
        """
        share = self.variable_v / self.rated_v if self.rated_v else 0.0
        return self.supply_aid == "full-mains" or (self.supply_aid == "variable" and share >= LEAST_SHARE)

    @property
    def overrun(self) -> bool:
        """Whether the set would get more than :data:`MOST_SHARE` of its rated mains, as far as it is known."""
        given_v = self.variable_v if self.supply_aid == "variable" else self.mains_now_v
        return given_v > MOST_SHARE * (self.rated_v or 230.0)


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
_AMOUNTS: Mapping[str, tuple[str, str]] = {
    "lamp-power": ("limiter_w", "W"),
    "variable-volts": ("variable_v", "V"),
    "mains-volts": ("mains_now_v", "V"),
}


def _after_one(state: SafetyState, event: Event) -> SafetyState:
    if event.kind == "said" and event.name in _SAID:
        if event.name == "supply-aid":
            state = replace(state, limiter_w=0.0, variable_v=0.0)
        return replace(state, **{_SAID[event.name]: event.value})  # type: ignore[arg-type]
    if event.kind == "said" and event.name in _AMOUNTS:
        field, unit = _AMOUNTS[event.name]
        return replace(state, **{field: _amount(event.value, unit)})  # type: ignore[arg-type]
    if event.kind == "said" and event.name == "condition":
        return replace(state, cold_check_due=event.value == "cold-check")
    if event.kind == "alarm":
        alarms = state.alarms | {event.name}
        return replace(state, alarms=alarms, proved=frozenset(), power="off", charged=True)
    if event.kind == "power":
        return _after_power(state, event)
    if event.kind == "discharged":
        return replace(state, charged=state.power != "off")
    if event.kind == "cold-check":
        return replace(state, cold_check_due=event.value != "passed")
    if event.kind == "proved":
        return _after_proof(state, event)
    if event.kind == "repaired":
        alarms = state.alarms if event.value == "not-cured" else frozenset()
        mended = state.mended or bool(state.alarms)
        return replace(state, alarms=alarms, proved=frozenset(), mended=mended)
    if event.kind == "tube-out":
        return replace(state, charged=True)
    return state


def _after_power(state: SafetyState, event: Event) -> SafetyState:
    """Return the state after switching; a step seen through with power on ends the first run after an alarm."""
    power: Literal["on", "off", "unknown"] = "unknown"
    if event.name in ("on", "off"):
        power = "on" if event.name == "on" else "off"
    mended = state.mended and not (power == "on" and event.value == "seen")
    return replace(state, power=power, charged=True, mended=mended)


def _amount(text: str, unit: str) -> float:
    """Return an amount as said, or 0 where it is none: unknown counts as the worst."""
    try:
        return max(parse(text, unit), 0.0)
    except BackporchError:
        return 0.0


def _after_proof(state: SafetyState, event: Event) -> SafetyState:
    """Return the state after a stage was read: found bad, or read through a limiter, it is not proved."""
    good = event.value != "bad" and state.full_mains
    return replace(state, proved=state.proved | {event.name} if good else state.proved - {event.name})
