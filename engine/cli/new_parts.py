# SPDX-License-Identifier: MIT
"""Which parts of a set are new, as the command line says it: --recapped and --new."""

from __future__ import annotations

from collections.abc import Iterable

from backporch.engine.chassis.hypotheses import RECAPPED_KINDS
from backporch.engine.errors import UnknownWord
from backporch.engine.session.workbench import Workbench

__all__ = ["new_parts"]


def new_parts(workbench: Workbench, recapped: bool, named: Iterable[str]) -> frozenset[str]:
    """Return parts, tubes and kinds of part that are new.

    Raises:
        UnknownWord: a name is neither a part nor a tube of the chassis nor a kind of part.
    """
    chassis, kinds = workbench.chassis, workbench.library.part_kinds
    known = {name.lower(): name for name in (*chassis.parts, *chassis.tubes, *kinds)}
    found = set(RECAPPED_KINDS) if recapped else set()
    for name in named:
        if name.strip().lower() not in known:
            raise UnknownWord("part or kind of part", name, known.values())
        found.add(known[name.strip().lower()])
    return frozenset(found)
