# SPDX-License-Identifier: MIT
"""The one gate: may this step be offered now, and what must be done or said before it?

Planner, training, expected values and free-order advice all ask here.  Checks are small functions in
one list; the first that refuses wins, and every one that only warns adds its cautions.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from backporch.engine.safety.state import SafetyState

__all__ = ["CHECKS", "LAMP", "MOST_LAMP_W", "Needs", "PointClass", "Verdict", "cautions_of", "gate", "refusals"]

LAMP = "lamp-limiter"
MOST_LAMP_W = 200.0
"""Above this a lamp in series hardly limits; common practice, no source [W]."""

_INSIDE = ("meter", "scope", "exchange", "part-test", "repair")
_OPEN = frozenset({"chassis-open", "cage-open"})
_FROM_AFAR = ("look", "listen")
_NEAR_THE_TUBE = frozenset({"implosion", "high-voltage"})
_GROUNDED = frozenset({"oscilloscope", "signal-source", "player", "computer"})


@dataclass(frozen=True)
class PointClass:
    """Whether a point may be measured, up to what, and what to read in its place."""

    rating: Literal["open", "rated", "forbidden"]
    rated_v: float = 0.0
    substitute: str = ""
    because: str = ""


@dataclass(frozen=True)
class Needs:
    """What a step needs and what it endangers, as the knowledge base says."""

    name: str
    kind: str
    power: Literal["on", "off", "either"]
    hazards: frozenset[str] = frozenset()
    access: frozenset[str] = frozenset()
    instruments: frozenset[str] = frozenset()
    stage: str = ""
    point: PointClass | None = None
    instrument_max_v: float = 0.0
    tube_role: str = ""
    """"horizontal-output", "picture-tube" or "" for an exchange."""
    then_on: bool = False
    """Whether the set is switched on at the end of the step, to see what it did."""
    cold_check: bool = False
    """Whether the step belongs to the cold check itself, which comes before any other power."""

    @property
    def powers(self) -> bool:
        """Whether the set gets power in the course of the step."""
        return self.power == "on" or self.then_on


@dataclass(frozen=True)
class Verdict:
    """The gate's word on one step."""

    allowed: bool
    cautions: tuple[str, ...] = ()
    """Keys of cautions to read before the step, in a fixed order."""
    first: tuple[str, ...] = ()
    """Bench states to reach before it."""
    check: str = ""
    """Name of the check that refused."""
    because: str = ""
    instead: str = ""


@dataclass(frozen=True)
class _Refusal:
    because: str
    instead: str


Check = Callable[[Needs, SafetyState], _Refusal | None]


def _inside(step: Needs) -> bool:
    """Tell whether hands or clips go into the set: by its kind, its place, or because it needs the set open."""
    near = step.kind == "control" and "high-voltage" in step.hazards
    return step.kind in _INSIDE or near or bool(step.access & _OPEN)


def _mains_derived_anode(step: Needs, state: SafetyState) -> _Refusal | None:
    if state.high_voltage_source in ("mains", "unknown") and step.power == "on" and step.kind not in _FROM_AFAR:
        return _Refusal(
            "An anode supply made from the mains can kill at a touch; no live steps are given on it.",
            "Leave live work on this supply to a qualified person; look and listen from outside.",
        )
    return None


def _alarm(step: Needs, state: SafetyState) -> _Refusal | None:
    only_the_plate = state.alarms == {"red-plate"} and "output-screen-lifted" in step.access
    if state.alarms and step.powers and not only_the_plate:
        return _Refusal(
            "Smoke, arcing, a red plate, a violet haze or far too high a reading was reported.",
            "Off at the plug. Find the cause with the set off; after a red plate alone also by readings with the "
            "screen feed of the horizontal output tube lifted. When it is found and mended, say so: now mended.",
        )
    return None


def _cold_check_first(step: Needs, state: SafetyState) -> _Refusal | None:
    if state.cold_check_due and step.powers and not step.cold_check:
        return _Refusal(
            "The set has not been checked cold since it was stored or worked on.",
            "Do the cold check first: backporch cold-check.",
        )
    return None


def _live_chassis(step: Needs, state: SafetyState) -> _Refusal | None:
    if state.live_chassis and step.power == "on" and _inside(step):
        return _Refusal(
            "The chassis is, or may be, connected to the mains.",
            "Run the set from an isolating transformer of enough rating, and measure chassis to earth first; then "
            "say so (now isolated).",
        )
    return None


def _earthed_instrument(step: Needs, state: SafetyState) -> _Refusal | None:
    if state.live_chassis and step.instruments & _GROUNDED:
        return _Refusal(
            "An earthed instrument, player or computer on a live chassis shorts the mains through its lead.",
            "Isolating transformer for the set first; otherwise a battery or differential instrument.",
        )
    return None


def _live_signal_lead(step: Needs, state: SafetyState) -> _Refusal | None:
    if state.live_chassis and step.power == "on" and "signal-lead" in step.hazards:
        return _Refusal(
            "The signal lead of a live chassis may be at mains, and here it would be touched.",
            "Plug out, then measure from the input to the chassis and move or change the lead; isolating "
            "transformer for the set.",
        )
    return None


def _forbidden_point(step: Needs, state: SafetyState) -> _Refusal | None:  # noqa: ARG001
    if step.point is not None and step.point.rating == "forbidden":
        return _Refusal(step.point.because, step.point.substitute)
    return None


def _rated_point(step: Needs, state: SafetyState) -> _Refusal | None:  # noqa: ARG001
    if step.point is not None and step.point.rating == "rated" and step.instrument_max_v < step.point.rated_v:
        return _Refusal(
            f"This point may reach {step.point.rated_v:.0f} V, more than the instrument takes.",
            step.point.substitute or "Use a probe rated for it.",
        )
    return None


def _alone(step: Needs, state: SafetyState) -> _Refusal | None:
    dangerous = bool(step.hazards & {"high-voltage", "live-chassis"}) or state.live_chassis
    if state.company != "accompanied" and step.power == "on" and dangerous and _inside(step):
        return _Refusal(
            "Nobody is near who can pull the plug.",
            "Wait until somebody is and say so (now accompanied), or take a reading that needs no live "
            "high-voltage work.",
        )
    return None


def _metal_cone(step: Needs, state: SafetyState) -> _Refusal | None:
    near = step.hazards & _NEAR_THE_TUBE
    if state.envelope in ("metal-cone", "unknown") and near and step.power == "on" and step.kind not in _FROM_AFAR:
        return _Refusal(
            "The cone of a metal-cone tube carries the full anode voltage on its outside.",
            "Keep away from the tube with the set on; infer from boosted B+ and cathode current.",
        )
    return None


def _overrun(step: Needs, state: SafetyState) -> _Refusal | None:
    if state.overrun and step.powers:
        return _Refusal(
            "This is more mains than the set is rated for; anode voltage and X-rays rise.",
            "Plug out. Set a variable transformer to the rated mains or below and say what it gives (now "
            "variable), or feed the set by a transformer for its mains. Mend a wrong rating in the chassis file.",
        )
    return None


def _through_a_limiter(step: Needs, state: SafetyState) -> _Refusal | None:
    watches_the_lamp = LAMP in step.instruments
    if state.full_mains or not step.powers or watches_the_lamp:
        return None
    if state.supply_aid == "unknown":
        return _Refusal(
            "Nobody said what stands between the mains and the set; with less than full mains nothing seen or "
            "read tells of a stage.",
            "Say it: now full-mains, now lamp-limiter or now variable.",
        )
    return _Refusal(
        "Readings through a lamp or at low mains tell only whether there is a short; nor does what is seen there "
        "tell of a stage. Low mains can leave the horizontal output tube without drive, and it burns.",
        "When the lamp shows no short, go to full mains, say so (now full-mains) and go on then.",
    )


def _large_lamp(step: Needs, state: SafetyState) -> _Refusal | None:
    if LAMP not in step.instruments or 0 < state.limiter_w <= MOST_LAMP_W:
        return None
    if state.supply_aid == "lamp-limiter" or step.cold_check:
        return _Refusal(
            f"A lamp limits by its size: above {MOST_LAMP_W:.0f} W, or of unknown power, it may let a short burn.",
            "Plug out, take a lamp of about the power of the set, 40 W to 150 W, and say how many watts.",
        )
    return None


def _exchange_live(step: Needs, state: SafetyState) -> _Refusal | None:  # noqa: ARG001
    if step.kind == "exchange" and step.power == "on":
        return _Refusal(
            "A tube is never pulled or fitted with the set on.",
            "Off at the plug, cool, discharged; then exchange.",
        )
    return None


def _output_tube_without_drive(step: Needs, state: SafetyState) -> _Refusal | None:
    if (
        step.kind == "exchange"
        and step.tube_role == "horizontal-output"
        and "horizontal-drive" not in state.proved
    ):
        return _Refusal(
            "An output tube whose stage has no drive is destroyed within a minute.",
            "Prove the drive and the grid bias first, with the screen feed lifted.",
        )
    return None


def _picture_tube_as_a_test(step: Needs, state: SafetyState) -> _Refusal | None:  # noqa: ARG001
    if step.kind == "exchange" and step.tube_role == "picture-tube" and not step.name.startswith("repair-"):
        return _Refusal(
            "A picture tube is not exchanged to see: it implodes when handled wrongly, and keeps its charge.",
            "Read its heater, cathode, grid and first anode against the computed values first.",
        )
    return None


CHECKS: Mapping[str, Check] = {
    "mains-derived-anode": _mains_derived_anode,
    "alarm": _alarm,
    "cold-check-first": _cold_check_first,
    "forbidden-point": _forbidden_point,
    "rated-point": _rated_point,
    "earthed-instrument": _earthed_instrument,
    "live-signal-lead": _live_signal_lead,
    "live-chassis": _live_chassis,
    "metal-cone": _metal_cone,
    "alone": _alone,
    "overrun": _overrun,
    "large-lamp": _large_lamp,
    "through-a-limiter": _through_a_limiter,
    "exchange-live": _exchange_live,
    "picture-tube-as-a-test": _picture_tube_as_a_test,
    "output-tube-without-drive": _output_tube_without_drive,
}
"""Every check by name, in the order in which they are asked."""


def gate(step: Needs, state: SafetyState) -> Verdict:
    """Return whether ``step`` may be offered in ``state``, with what to read and do before it.

    Example:
        >>> gate(Needs("read-plate", "meter", "on"), SafetyState()).allowed
        False
    """
    refused = next(refusals(step, state), None)
    if refused is not None:
        return refused
    return Verdict(True, cautions=cautions_of(step, state), first=tuple(_first(step, state)))


def cautions_of(step: Needs, state: SafetyState) -> tuple[str, ...]:
    """Return the keys of the cautions on ``step``, each once and in a fixed order, allowed or not."""
    return tuple(dict.fromkeys(_cautions(step, state)))


def refusals(step: Needs, state: SafetyState) -> Iterator[Verdict]:
    """Give every reason for which ``step`` may not be offered in ``state``, the first of them first."""
    for name, check in CHECKS.items():
        refusal = check(step, state)
        if refusal is not None:
            yield Verdict(False, check=name, because=refusal.because, instead=refusal.instead)


def _cautions(step: Needs, state: SafetyState) -> Iterator[str]:
    if (step.kind in _INSIDE or step.access) and (
        step.hazards & {"high-voltage", "stored-charge"} or step.power == "off"
    ):
        yield "charged-tube"
    yield from _of_the_mains(step, state)
    if step.power == "on" and step.kind in _INSIDE:
        yield "one-hand"
        if state.company != "accompanied":
            yield "second-person"
        if state.chassis_return != "isolated":
            yield "isolated-is-not-harmless"
    if (state.alarms and step.name.startswith("repair-")) or (state.mended and step.powers):
        yield "first-run-after-alarm"
    if state.envelope != "glass" and step.hazards & _NEAR_THE_TUBE:
        yield "metal-cone"
    yield from sorted(step.hazards - {"signal-lead"})
    if state.rig and step.hazards & {"high-voltage", "stored-charge"}:
        yield "two-tubes"


def _of_the_mains(step: Needs, state: SafetyState) -> Iterator[str]:
    """Give the cautions on what stands between mains, set and signal source while the set has power."""
    if not state.full_mains and step.kind == "repair":
        yield "limited-mains"
    if not step.powers:
        return
    if state.live_chassis and state.source not in ("nothing", ""):
        yield "signal-lead"
    if state.live_chassis and step.kind in ("control", "look", "exchange"):
        yield "live-shafts"
    if not state.full_mains and state.supply_aid != "unknown":
        yield "limited-mains"


def _first(step: Needs, state: SafetyState) -> Iterator[str]:
    if step.power == "off" and state.power != "off":
        yield "set-off"
    if step.power == "off" and state.charged and step.hazards & {"high-voltage", "stored-charge"}:
        yield "set-off-discharged"
