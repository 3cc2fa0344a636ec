# SPDX-License-Identifier: MIT
"""The path of a session, step by step: what was done, what was expected, what was found, what it meant.

Limits: a session is retold with the knowledge of today's program; odds may differ a little from those of its day.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from backporch.engine.circuits.formula import Step as Computation
from backporch.engine.session.assess import Assessment, assess
from backporch.engine.session.described import describe
from backporch.engine.session.entry import Entry
from backporch.engine.session.workbench import Workbench

__all__ = ["Told", "steps_of", "told_steps"]

_STEPS = ("symptoms-done", "answer", "trace", "repair", "search", "skip", "cannot", "check", "note")
_MOVES_ODDS = ("symptoms-done", "answer", "trace", "repair", "search")


@dataclass(frozen=True)
class Told:
    """One step as the page tells it."""

    entry: Entry
    did: str
    where: str
    expected: str
    found: str
    assessment: Assessment | None
    """Where the diagnosis stood after it, or None where it moved nothing."""
    computation: tuple[Computation, ...] = ()
    point: str = ""
    """Test point of a reading."""


def steps_of(entries: Sequence[Entry]) -> list[int]:
    """Return the places of the entries that are steps.

    Example:
        >>> steps_of([Entry("start", "chassis", "x"), Entry("symptom", "smoke"), Entry("symptoms-done", "")])
        [2]
    """
    return [n for n, entry in enumerate(entries) if entry.kind in _STEPS]


def told_steps(workbench: Workbench, entries: Sequence[Entry], places: Iterable[int]) -> Iterator[Told]:
    """Tell the steps at some places of a session.

    Args:
        workbench: What the session works with.
        entries: The standing entries.
        places: From :func:`steps_of`, perhaps watched by a bar.
    """
    seen = next((n for n, e in enumerate(entries) if e.kind == "symptoms-done"), len(entries))
    for place in places:
        entry = entries[place]
        moved = entry.kind in _MOVES_ODDS and place >= seen
        yield _told(workbench, entry, assess(workbench, entries[: place + 1]) if moved else None)


def _told(workbench: Workbench, entry: Entry, assessment: Assessment | None) -> Told:
    words = describe(workbench.library, entry)
    if entry.kind == "symptoms-done":
        return Told(entry, "Said what is seen and heard", "", "", "", assessment)
    if entry.kind == "note":
        return Told(entry, "Note", "", "", entry.value, None)
    offer = workbench.faults.offers.get(entry.key) if entry.kind == "answer" else None
    if offer is None:
        did = f"Changed or tested {words.about}" if entry.kind == "repair" else words.about
        return Told(entry, did, "", "", words.said, assessment)
    expected = workbench.expected_of(offer) or offer.measurement.healthy
    return Told(
        entry,
        words.about,
        workbench.place_of(offer),
        expected,
        words.said,
        assessment,
        workbench.computation_of(offer) if offer.measurement.reading else (),
        offer.measurement.reading.point if offer.measurement.reading else "",
    )
