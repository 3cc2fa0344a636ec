# SPDX-License-Identifier: MIT
"""A part was changed: what is asked then, and what of the earlier answers still holds.

Where a part was bad and something else is wrong too, the complaint is a new one.  Readings and looks
taken before hold only where the changed part could not reach them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from backporch.engine.errors import UnknownWord
from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import Option, Question
from backporch.engine.session.workbench import Workbench

__all__ = [
    "OPTIONS",
    "OUTCOMES",
    "ended_by",
    "pending",
    "reaches",
    "remaining",
    "remaining_symptoms",
    "repair_question",
    "repaired_part",
    "returned_question",
]

OPTIONS = (
    Option("cured", "Yes, the fault is gone"),
    Option("not-cured", "No, the fault is still there"),
    Option("partly", "The part was bad, but something else is wrong too"),
)
OUTCOMES = tuple(option.key for option in OPTIONS)
_REACHED = 0.25
"""By how much a fault of the part must change what a test shows, as a share of outcomes; our judgement."""
_SEEN_BEFORE = ("symptom", "symptoms-done", "trace")


def repair_question(part: str, *, done: bool) -> Question:
    """Return the question after a part was changed, or on the proposal to change it."""
    title = f"Change {part}, or prove it good out of circuit. Is the fault cured?"
    if done:
        title = f"{part} is changed. Run the set and look: is the fault cured?"
    return Question(part, "repair", title, OPTIONS)


def returned_question(part: str) -> Question:
    """Return what is asked where a session goes on that had ended with a cure."""
    options = (
        Option("not-cured", "The same fault is back"),
        Option("partly", "Something else is wrong now"),
        Option("cured", "It still works; I only wanted to look"),
    )
    return Question(part, "returned", f"This session ended: {part} cured the fault. How is the set now?", options)


def repaired_part(workbench: Workbench, text: str) -> str:
    """Return the part or tube that was repaired, as the chassis writes it.

    Raises:
        UnknownWord: the chassis has no such part.
    """
    chassis = workbench.chassis
    known = {name.lower(): name for name in (*chassis.parts, *chassis.tubes)}
    word = text.strip().strip(":.").lower()
    if word not in known:
        raise UnknownWord("part or tube on this chassis", text.strip()[:40], known.values())
    return known[word]


def pending(entries: Sequence[Entry]) -> str:
    """Return the part that was changed and of which nobody has said yet whether it cured the set, or ""."""
    last = next((e for e in reversed(entries) if e.kind == "repair"), None)
    return last.key if last is not None and last.value == "open" else ""


def ended_by(entries: Sequence[Entry]) -> str:
    """Return the part whose change cured the set, or ""."""
    return next((e.key for e in reversed(entries) if e.kind == "repair" and e.value == "cured"), "")


def remaining(workbench: Workbench, entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return what still holds after the last part that was bad and was changed; all where there is none."""
    last = max((n for n, e in enumerate(entries) if e.kind == "repair" and e.value == "partly"), default=-1)
    if last < 0:
        return tuple(entries)
    changed = [e.key for e in entries[: last + 1] if e.kind == "repair" and e.value == "partly"]
    kept = [e for e in entries[:last] if _holds(workbench, e, changed)]
    return (*kept, *entries[last:])


def remaining_symptoms(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return the symptoms named since the last part that was bad and was changed."""
    last = max((n for n, e in enumerate(entries) if e.kind == "repair" and e.value == "partly"), default=-1)
    return tuple(e for e in entries[last + 1 :] if e.kind == "symptom" and e.value != "no")


def _holds(workbench: Workbench, entry: Entry, changed: Sequence[str]) -> bool:
    if entry.kind in _SEEN_BEFORE:
        return False
    if entry.kind in ("answer", "skip", "cannot") and entry.key in workbench.faults.offers:
        return not any(reaches(workbench, part, entry.key) for part in changed)
    return True


def reaches(workbench: Workbench, part: str, offer: str) -> bool:
    """Tell whether a fault of ``part`` can change what a test shows.

    What most faults leave untouched is taken as what a healthy set shows.
    """
    _, table = workbench.faults.outcome_table(offer)
    mine = np.array([h.owner == part for h in workbench.faults.hypotheses])
    if not mine.any():
        return False
    usual = np.median(table, axis=1, keepdims=True)
    usual = usual / max(float(usual.sum()), 1e-9)
    return bool((0.5 * np.abs(table[:, mine] - usual).sum(axis=0)).max() > _REACHED)
