# SPDX-License-Identifier: MIT
"""What a substitute tube and yoke change on a chassis: refused, to be done first, or only looking different.

The chassis is computed twice, with its own yoke and with that of the rig; tube, coating, heater and
leads are then added in closed form.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.rig_advice import (
    SEEN_RIPPLE,
    SEEN_SIZE,
    Difference,
    coating_differences,
    first_steps,
    heater_differences,
    lead_differences,
    refusals,
    size_differences,
    tube_differences,
    yoke_degrees,
)
from backporch.engine.chassis.rig_figures import (
    foil_wanted_m2,
    picture_tube_of,
    ripple_share_of,
    scan_of,
    sizes_of,
    with_yokes,
)
from backporch.engine.errors import UnknownWord
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.rigs import Rig
from backporch.engine.knowledge.tube_tables import PictureTube

__all__ = ["Difference", "RigReport", "rig_report"]


@dataclass(frozen=True)
class RigReport:
    """Whether a rig will do on a chassis, and what will look different."""

    refused: tuple[str, ...]
    """Reasons for which the chassis must not be run on it; empty where it will do."""
    first: tuple[str, ...]
    """What is to be done before it is switched on."""
    differences: tuple[Difference, ...]
    anode_open_v: float
    ripple_share: float
    width: float
    height: float
    traits: tuple[tuple[str, str], ...]
    """What rules read, by name."""

    @property
    def will_do(self) -> bool:
        """Whether nothing forbids it."""
        return not self.refused

    @property
    def explains(self) -> frozenset[str]:
        """All symptoms that the rig accounts for."""
        return frozenset(s for difference in self.differences for s in difference.explains)


def rig_report(chassis: Chassis, rig: Rig, library: Library) -> RigReport:
    """Return whether ``rig`` will do on ``chassis``, and what will look different.

    Raises:
        UnknownWord: the tube of the rig is in no table.
    Example: a small tube that stands less than the chassis gives is refused.
        >>> from backporch.engine.chassis.load import load_chassis
        >>> from backporch.engine.knowledge.library import shipped
        >>> library = shipped()
        >>> report = rig_report(load_chassis("dunlin-24", library), Rig(tube="10BP4A"), library)
        >>> report.will_do, "unloaded" in report.refused[0]
        (False, True)
    """
    own, tube = _tube(chassis.tubes[picture_tube_of(chassis)].type, library), _tube(rig.tube, library)
    before, after = scan_of(chassis), scan_of(with_yokes(chassis, rig))
    width, height = sizes_of(chassis, rig, own, tube, before, after)
    ripple = ripple_share_of(chassis, rig, tube, after)
    differences = (
        *size_differences(rig, width, height, after, before),
        *tube_differences(rig, own, tube),
        *coating_differences(rig, ripple, foil_wanted_m2(chassis, rig, tube, after, SEEN_RIPPLE / 2)),
        *lead_differences(chassis, rig),
        *heater_differences(chassis, rig, tube),
    )
    return RigReport(
        refused=tuple(refusals(chassis, rig, tube, after)),
        first=tuple(first_steps(chassis, rig, own, tube, after)),
        differences=differences,
        anode_open_v=after.anode_open_v,
        ripple_share=ripple,
        width=width,
        height=height,
        traits=tuple(_traits(rig, own, tube, width, height)),
    )


def _tube(name: str, library: Library) -> PictureTube:
    if name not in library.picture_tubes:
        raise UnknownWord("picture tube", name, library.picture_tubes)
    return library.picture_tubes[name]


def _traits(
    rig: Rig, own: PictureTube, tube: PictureTube, width: float, height: float
) -> Iterator[tuple[str, str]]:
    yield "rig", "substitute-tube"
    yield "rig-coating", "bonded" if rig.coating == "bonded" or rig.foil > 0 else rig.coating
    yield (
        "rig-adapter",
        "checked" if rig.adapter == "checked" else "none" if rig.adapter == "none" else "unchecked",
    )
    yield "rig-yoke", "other" if rig.horizontal_yoke or rig.vertical_yoke else "own"
    yield "rig-lead", "long" if rig.lead >= 0.3 else "short"
    yield "rig-heater", rig.heater
    yoke = yoke_degrees(rig, own)
    yield "rig-angle", "unknown" if yoke is None else "less" if tube.angle_degrees > yoke + 5 else "enough"
    yield "rig-magnet", tube.ion_trap
    if max(abs(width - 1), abs(height - 1)) > SEEN_SIZE:
        yield "rig-size", "other"
