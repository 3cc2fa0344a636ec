# SPDX-License-Identifier: MIT
"""What a learner may do in a lesson, as it is kept on the disk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from backporch.engine.errors import BadInput
from backporch.engine.session.entry import Entry

__all__ = ["Act", "act_of", "entry_of"]

ActKind = Literal["test", "forbidden", "bench", "turn", "hint", "useless", "name", "give-up"]
_KINDS = get_args(ActKind)


@dataclass(frozen=True)
class Act:
    """One thing done in a lesson.

    ``key`` is an offer for a test, a point for what is forbidden, a part for a control turned or a fault named,
    the depth for a hint; ``value`` is where the control goes, or the stage named.
    """

    kind: ActKind
    key: str = ""
    value: str = ""


def entry_of(act: Act, at: str = "") -> Entry:
    """Return the entry of the journal that an act is kept as."""
    return Entry("act", f"{act.kind}:{act.key}", act.value, at)


def act_of(entry: Entry) -> Act:
    """Return the act that an entry of the journal stands for.

    Raises:
        BadInput: it stands for none.

    Example:
        >>> act_of(entry_of(Act("name", "C26", "vertical-integrator")))
        Act(kind='name', key='C26', value='vertical-integrator')
    """
    kind, _, key = entry.key.partition(":")
    if entry.kind != "act" or kind not in _KINDS:
        raise BadInput(f"a lesson keeps acts out of {', '.join(_KINDS)}; got {entry.kind} {entry.key[:40]!r}")
    return Act(kind, key, entry.value)  # type: ignore[arg-type]
