# SPDX-License-Identifier: MIT
"""The first unsafe step: what the one gate says to what a learner is about to do.

Every step of a lesson is put to the gate as the learner has left the bench.  What the planner would reach on
its own way (plug out, discharged) must have been done by the learner's own word.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from backporch.engine.safety.gate import Needs, PointClass, Verdict, gate
from backporch.engine.safety.state import SafetyState
from backporch.engine.session.workbench import Workbench

__all__ = ["Unsafe", "forbidden_points", "judged", "needs_of_point"]

_PROBE_V = 5e3
"""Above this only a high-voltage probe reads a point [V]."""
_METER_V = 1e3
"""What an ordinary meter takes [V]."""
_USELESS_ONLY = "through-a-limiter"
"""The one refusal that protects the reasoning and not the person."""
_BREAKS = "an ordinary meter breaks down there, and its leads bring the voltage to your hand"
_THEN = {
    "forbidden-point": _BREAKS,
    "rated-point": _BREAKS,
    "live-chassis": "whoever touches it and anything earthed closes the circuit through the heart",
}
"""What would happen, by the check that refused, where the reason alone does not say it."""


@dataclass(frozen=True)
class Unsafe:
    """Why a step was unsafe: what was about to happen, why that is dangerous, what to do in its place."""

    check: str
    sentences: tuple[str, str, str]


def judged(needs: Needs, title: str, state: SafetyState) -> tuple[Verdict, Unsafe | None]:
    """Return the gate's word on a step, and why it is unsafe where it is.

    Args:
        needs: What the step needs and endangers.
        title: The step in words.
        state: The bench as the learner left it.
    """
    word = gate(needs, state)
    if not word.allowed:
        if word.check == _USELESS_ONLY:
            return word, None
        then = _THEN.get(word.check)
        because = f"{word.because.rstrip('.')}; {then}" if then else word.because
        return word, _unsafe(word.check, title, because, word.instead)
    if "set-off" in word.first:
        return word, _unsafe(
            "set-on",
            title,
            "The set still has power, and this step puts hands or tools inside it.",
            "First say: plug out; then: discharge",
        )
    if "set-off-discharged" in word.first:
        return word, _unsafe(
            "not-discharged",
            title,
            "Picture tube and filters keep a charge with the plug out, for days, and nobody has discharged them.",
            "First say: discharge; that is a resistor to the coating, hold, wait, repeat, and a proved meter",
        )
    return word, None


def _unsafe(check: str, title: str, because: str, instead: str) -> Unsafe:
    first = f"You were about to do this: {title[:1].lower() + title[1:]}."
    return Unsafe(check, (first, _one_sentence(because), _one_sentence(instead)))


def _one_sentence(text: str) -> str:
    """Return ``text`` as a single sentence.

    Example:
        >>> _one_sentence("Off at the plug. Find the cause")
        'Off at the plug; find the cause.'
    """
    parts = [part.strip().rstrip(".") for part in re.split(r"(?<=\.)\s+(?=[A-Z])", text.strip())]
    joined = "; ".join([parts[0], *(p if p[1:2].isupper() else p[:1].lower() + p[1:] for p in parts[1:])])
    return f"{joined}."


def forbidden_points(workbench: Workbench) -> dict[str, str]:
    """Return the points where an ordinary meter never belongs, each with the words by which it is asked for."""
    envelope = workbench.chassis.envelope
    return {
        name: f"Put the meter on the {_named(name)}"
        for name, point in workbench.library.points.items()
        if (point.rating == "forbidden" or point.rated_v > _PROBE_V)
        and (name != "metal-cone" or envelope == "metal-cone")
    }


def _named(point: str) -> str:
    return _SAID.get(point, point.replace("-", " "))


_SAID = {
    "vertical-output-plate": "plate of the vertical output tube",
    "horizontal-output-plate": "plate of the horizontal output tube (flyback end)",
    "damper-cathode": "cathode of the damper",
    "flyback-taps": "taps of the flyback transformer",
    "high-voltage-rectifier-heater": "heater of the high-voltage rectifier",
    "focus-bleeder": "focus bleeder",
    "metal-cone": "metal cone of the picture tube",
    "anode-voltage": "anode of the picture tube",
    "yoke-line-end": "hot end of the horizontal yoke",
}


def needs_of_point(workbench: Workbench, point: str) -> Needs:
    """Return what a meter on a forbidden point endangers, as the gate asks it."""
    rating = workbench.library.points[point]
    return Needs(
        name=f"read-{point}",
        kind="meter",
        power="on",
        hazards=frozenset({"high-voltage"}),
        access=frozenset({"chassis-open", "meter-out"}),
        instruments=frozenset({"meter"}),
        point=PointClass(rating.rating, rating.rated_v, rating.substitute, rating.because),
        instrument_max_v=_METER_V,
    )
