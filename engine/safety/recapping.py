# SPDX-License-Identifier: MIT
"""Which capacitors of a chassis are replaced on sight, which on suspicion, and which never blindly.

The policy is common practice; mica, ceramic and film capacitors outside it are left alone.
"""

from __future__ import annotations

from dataclasses import dataclass

from backporch.engine.chassis.model import Chassis, Part
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import RecappingRule

__all__ = ["Recap", "recapping"]


@dataclass(frozen=True)
class Recap:
    """What the policy says of one part: on-sight, on-suspicion or never-blindly, and how."""

    part: str
    policy: str
    does: str
    value: str
    how: str


def recapping(chassis: Chassis, library: Library) -> tuple[Recap, ...]:
    """Return the parts that the policy speaks of, in the order of its lines and of the parts list.

    Example:
        >>> from backporch.engine.chassis.load import load_chassis
        >>> from backporch.engine.knowledge.library import shipped
        >>> found = recapping(load_chassis("plover-17", shipped()), shipped())
        >>> [recap.part for recap in found if recap.policy == "on-sight"]
        ['C1', 'C36', 'C40', 'C42', 'C43', 'C45']
    """
    found = []
    for name, part in chassis.parts.items():
        rule = next((r for r in library.recapping_parts.values() if _fits(r, part)), None)
        if rule is not None:
            found.append(Recap(name, rule.policy, part.does or part.role, part.value or "", rule.how))
    order = list(library.recapping)
    return tuple(sorted(found, key=lambda recap: order.index(recap.policy)))


def _fits(rule: RecappingRule, part: Part) -> bool:
    if "capacitor" not in part.kind and "electrolytic" not in part.kind:
        return False
    wanted = ((rule.stages, part.stage), (rule.roles, part.role))
    kind = not rule.kinds or any(part.kind.startswith(kind) for kind in rule.kinds)
    return kind and all(not words or word in words for words, word in wanted)
