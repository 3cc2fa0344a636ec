# SPDX-License-Identifier: MIT
"""What a learner may do in a lesson."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

__all__ = ["ACT_KINDS", "Act", "ActKind"]

ActKind = Literal["test", "forbidden", "bench", "turn", "hint", "useless", "name", "give-up"]
ACT_KINDS: tuple[str, ...] = get_args(ActKind)
"""Every kind of act."""


@dataclass(frozen=True)
class Act:
    """One thing done in a lesson.

    ``key`` is an offer for a test, a point for what is forbidden, a part for a control turned or a fault named,
    the depth for a hint; ``value`` is where the control goes, or the stage named.
    """

    kind: ActKind
    key: str = ""
    value: str = ""
