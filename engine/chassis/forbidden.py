# SPDX-License-Identifier: MIT
"""The points of one chassis that no meter may touch, each with its place and what to read instead.

Sources: kb/points.yaml, common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from backporch.engine.chassis.model import Chassis
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import PointRating

__all__ = ["NeverPoint", "never_points"]

_TUBES = {
    "horizontal-output-plate": ("plate", "horizontal-output", "output"),
    "damper-cathode": ("cathode", "damper-boost", "damper"),
    "high-voltage-rectifier-heater": ("every pin", "high-voltage", "rectifier"),
}
"""Electrode, stage and role of the tubes on which such a point lies."""

_PLACES = {
    "flyback-taps": ("flyback-transformer", "every tap of the flyback transformer"),
    "yoke-line-end": ("horizontal-yoke", "hot end of the horizontal yoke"),
    "focus-bleeder": ("picture-tube-supplies", "focus, where it comes from the anode voltage"),
}
"""Stage that must be there, and the place in words."""


@dataclass(frozen=True)
class NeverPoint:
    """A point that must not be measured."""

    point: str
    stage: str
    at: str
    tube: str
    """The tube that it lies on, or ""."""
    electrode: str
    instead: str
    because: str


def never_points(library: Library, chassis: Chassis) -> Mapping[str, NeverPoint]:
    """Return the points of a chassis that must not be measured, by name; those of its file come first.

    Args:
        library: The knowledge base.
        chassis: The chassis.
    """
    found: dict[str, NeverPoint] = {}
    for point, rating in library.points.items():
        if rating.rating == "forbidden":
            one = _on_this(point, rating, chassis)
            if one is not None:
                found[point] = one
    return dict(sorted(found.items(), key=lambda item: item[0] not in chassis.test_points))


def _on_this(point: str, rating: PointRating, chassis: Chassis) -> NeverPoint | None:
    def made(stage: str, at: str, tube: str = "", electrode: str = "") -> NeverPoint:
        return NeverPoint(point, stage, at, tube, electrode, rating.substitute, rating.because)

    if point in chassis.test_points:
        stage = next((s for s in sorted(chassis.stages, key=len, reverse=True) if point.startswith(s)), "")
        return made(stage, chassis.test_points[point].at)
    if point in _TUBES:
        electrode, stage, role = _TUBES[point]
        tube = next(
            (
                n
                for n, t in chassis.tubes.items()
                if any((s.stage, s.role) == (stage, role) for s in t.sections.values())
            ),
            "",
        )
        return made(stage, f"{electrode} of {tube}", tube, electrode) if tube else None
    if point in _PLACES:
        stage, at = _PLACES[point]
        return made(stage, at) if stage in chassis.stages else None
    if point == "metal-cone" and chassis.envelope == "metal-cone":
        return made("picture-tube", f"cone of {chassis.picture_tube}", chassis.picture_tube, "cone")
    return None


def _tube_in(chassis: Chassis, stage: str, role: str) -> str:
    for name, tube in chassis.tubes.items():
        if any((section.stage, section.role) == (stage, role) for section in tube.sections.values()):
            return name
    return ""
